#include "tools/cli/chart/draw_run.h"

#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>

#include <doctest/doctest.h>

#include "tests/support/scratch_folder.h"
#include "tools/draw/chart_json.h"

namespace rimeward {
namespace {

Chart some_chart() {
  Chart chart;
  chart.title = "Hochfeld school garden";
  chart.unit = "°C";
  chart.span = {Instant{}, Instant{std::chrono::hours{48}}};
  chart.lines.push_back({.place = "Yard"});
  // More than a pipe holds.
  for (int i = 0; i < 20'000; ++i) {
    chart.lines.front().pieces.push_back({{Instant{std::chrono::seconds{i}}, 1, 2}});
  }
  return chart;
}

// A program of the shell's.
std::string program(const std::filesystem::path& folder, const std::string& lines) {
  const std::filesystem::path file = folder / "draw";
  std::ofstream(file) << "#!/bin/sh\n" << lines << "\n";
  std::filesystem::permissions(file, std::filesystem::perms::owner_all);
  return file.string();
}

TEST_CASE("the program gets the kind, the file, and the chart on its standard input") {
  const ScratchFolder folder;
  const std::string out = (folder.path() / "a picture.svg").string();
  const Chart chart = some_chart();
  CHECK_FALSE(draw_picture(program(folder.path(), "{ echo $1; cat; } > \"$2\""), "svg",
                           out, chart)
                  .has_value());
  std::ifstream stream(out);
  std::ostringstream text;
  text << stream.rdbuf();
  CHECK(text.str() == "svg\n" + chart_json(chart));
}

TEST_CASE("a program that fails is told with its first line, and one that says nothing") {
  const ScratchFolder folder;
  CHECK(draw_picture(program(folder.path(), "echo no room on the disk >&2; exit 1"),
                     "png", "a.png",
                     some_chart()) == "no picture a.png: no room on the disk");
  CHECK(draw_picture(program(folder.path(), "echo rimeward-draw: full >&2; exit 1"),
                     "png", "a.png", some_chart()) == "no picture a.png: full");
  CHECK(draw_picture(program(folder.path(), "exit 1"), "png", "a.png", some_chart()) ==
        "no picture a.png: rimeward-draw broke off");
  CHECK(draw_picture(program(folder.path(), "kill -9 $$"), "png", "a.png",
                     some_chart()) == "no picture a.png: rimeward-draw broke off");
}

TEST_CASE("a missing program is told with what to do") {
  const ScratchFolder folder;
  const auto trouble =
      draw_picture((folder.path() / "none").string(), "svg", "a.svg", some_chart());
  REQUIRE(trouble.has_value());
  CHECK(trouble->find("rimeward-draw is missing") != std::string::npos);
}

}  // namespace
}  // namespace rimeward
