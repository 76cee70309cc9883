#include "tools/recorded.h"

#include <fstream>

#include <doctest/doctest.h>

#include "tests/support/hochfeld.h"
#include "tests/support/scratch_folder.h"

using namespace rimeward;
using namespace rimeward::testing;

namespace {

struct Recorded {
  ScratchFolder folder;
  std::filesystem::path file = folder / "data.csv";
  explicit Recorded(const std::string& text) { std::ofstream(file) << text; }
};

}  // namespace

TEST_CASE("columns are found by name, in any order, and others passed over") {
  const Recorded recorded(
      "pressure,humidity,time,place,temperature\r\n"
      "1013.2,81,2026-04-12T18:00:00Z,yard,3.10\r\n"
      "1013.2,,2026-04-12T21:00:00+02:00,\"north, frame\",-0.5\r\n");
  auto file = RecordedFile::open(recorded.file);
  REQUIRE(file);
  const auto first = file->next();
  REQUIRE(first);
  REQUIRE(*first);
  CHECK((*first)->time == at("2026-04-12T18:00:00Z"));
  CHECK((*first)->place == "yard");
  CHECK(payload_of(**first) ==
        R"({"time":"2026-04-12T18:00:00Z","temperature":3.10,"humidity":81})");
  const auto second = file->next();
  REQUIRE(second);
  CHECK((*second)->place == "north, frame");
  CHECK(payload_of(**second) == R"({"time":"2026-04-12T19:00:00Z","temperature":-0.5})");
  CHECK_FALSE(file->next().value().has_value());
}

TEST_CASE("a line without a temperature is passed over, a bad one named and got over") {
  const Recorded recorded(
      "time,temperature\n"
      "2026-04-12T18:00:00Z,\n"
      "2026-04-12T18:00:00,3\n"
      "2026-04-12T18:10:00Z,warm\n"
      "2026-04-12T18:20:00Z\n"
      "2026-04-12T18:30:00Z,4\n");
  auto file = RecordedFile::open(recorded.file);
  REQUIRE(file);
  const std::string name = recorded.file.string();
  CHECK(file->next().error().message ==
        name +
            ":3: time: expected one such as 2026-04-12T18:03:20Z, got "
            "\"2026-04-12T18:00:00\"");
  CHECK(file->next().error().message ==
        name + ":4: temperature: expected a number, got \"warm\"");
  CHECK(file->next().error().message == name + ":5: expected 2 fields, got 1");
  CHECK(file->next().value()->temperature == "4");
}

TEST_CASE("a file without the needed columns, or none at all, is refused") {
  const Recorded recorded("when,warmth\n");
  CHECK(RecordedFile::open(recorded.file).error().message ==
        recorded.file.string() +
            ":1: the first line must name the columns time and temperature; got "
            "\"when,warmth\"");
  CHECK_FALSE(RecordedFile::open(recorded.folder / "missing.csv"));
}
