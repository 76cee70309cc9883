// rimeward-draw: draws the chart on its standard input (tools/draw/chart_json.h) into a
// file. A program of its own, so that the terminal client needs no Cairo. The file is
// there whole or not at all: what goes wrong leaves an old picture as it was. Exit
// status: 0 drawn; 1 it could not, with one line on standard error; 2 misuse.

#include <cerrno>
#include <csignal>
#include <cstddef>
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <filesystem>
#include <string>
#include <string_view>
#include <system_error>
#include <vector>

#include <fmt/format.h>

#include "sensors/result.h"
#include "tools/cli/records/export_sink.h"
#include "tools/draw/chart_json.h"
#include "tools/draw/chart_picture.h"

namespace rimeward {
namespace {

namespace fs = std::filesystem;

constexpr int kCouldNot = 1;
constexpr int kMisuse = 2;
// Many times the largest chart that `rimeward chart` makes.
constexpr std::size_t kMostInput = 32U << 20U;

constexpr std::string_view kUsage = "usage: rimeward-draw svg|png FILE <CHART.json";
constexpr std::string_view kHelp =
    "{}\n"
    "\n"
    "Draws a chart as a picture into FILE; a picture that is there already is replaced\n"
    "once the new one is whole. `rimeward chart` asks it, and hands it the chart.\n"
    "\n"
    "  svg        drawn in lines: sharp at any size, for a page or to be printed large\n"
    "  png        drawn in dots, 960 across: for a message or a slide\n"
    "  --help     this text\n"
    "  --version  the version\n";

int say(int status, std::string_view line) {
  fmt::print(stderr, "rimeward-draw: {}\n", line);
  return status;
}

Result<std::string> standard_input() {
  std::string text(kMostInput + 1, '\0');
  text.resize(std::fread(text.data(), 1, text.size(), stdin));
  if (std::ferror(stdin)) {
    return refuse(fmt::format("standard input cannot be read ({}); give it the chart",
                              std::generic_category().message(errno)));
  }
  if (text.size() > kMostInput) {
    return refuse(
        fmt::format("the chart has more than {} MB; draw fewer days or places at a time",
                    kMostInput >> 20U));
  }
  return text;
}

Result<void> write_file(const fs::path& file, std::string_view bytes) {
  std::error_code ignored;
  if (fs::exists(file, ignored) && !fs::is_regular_file(file, ignored)) {
    return refuse(fmt::format("{}: no ordinary file; name another one", file.string()));
  }
  auto sink = FileSink::open(file, /*replace=*/true);
  if (!sink) {
    return refuse(sink.error().message + "; name a file in a folder that is yours");
  }
  try {
    (*sink)->put(bytes);
    (*sink)->finish();
    return {};
  } catch (const std::system_error& error) {
    return refuse(
        fmt::format("{}; make room there, or name a file elsewhere", error.what()));
  }
}

int draw(PictureFormat format, const fs::path& file) {
  const auto input = standard_input();
  if (!input) return say(kCouldNot, input.error().message);
  const auto chart = chart_from_json(*input);
  if (!chart) {
    return say(kCouldNot,
               fmt::format("{}: not drawn, for standard input holds no chart: {}",
                           file.string(), chart.error().message));
  }
  const auto picture = chart_picture(*chart, format);
  if (!picture) {
    return say(kCouldNot, fmt::format("{}: not drawn for want of memory; draw fewer days "
                                      "or places at a time",
                                      file.string()));
  }
  const auto written = write_file(file, *picture);
  return written ? EXIT_SUCCESS : say(kCouldNot, written.error().message);
}

int run(const std::vector<std::string_view>& words) {
  if (words.size() == 1 && words[0] == "--version") {
    fmt::print("{}\n", RIMEWARD_VERSION);
    return EXIT_SUCCESS;
  }
  if (words.size() == 1 && words[0] == "--help") {
    fmt::print(fmt::runtime(kHelp), kUsage);
    return EXIT_SUCCESS;
  }
  const bool knows_format = words.size() == 2 && (words[0] == "svg" || words[0] == "png");
  if (!knows_format || words[1].empty()) {
    fmt::print(stderr, "{}\n", kUsage);
    return kMisuse;
  }
  return draw(words[0] == "svg" ? PictureFormat::kSvg : PictureFormat::kPng, words[1]);
}

}  // namespace
}  // namespace rimeward

int main(int argc, char** argv) {
  // A file that may not grow is to be said, like a full disk.
  std::signal(SIGXFSZ, SIG_IGN);
  try {
    return rimeward::run({argv + 1, argv + argc});
  } catch (const std::exception& error) {
    return rimeward::say(rimeward::kCouldNot, error.what());
  }
}
