#include "tools/cli/progress.h"

#include <chrono>
#include <string>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

using namespace std::chrono_literals;

Screen wide(std::size_t width) {
  return {.width = width, .colour = true, .utf8 = true};
}

Progress halfway() {
  return {.doing = "checking april.csv", .done = 430, .total = 1000, .rows = 3'120'000};
}

TEST_CASE("progress says what is done, how far, how fast and how long still") {
  CHECK(
      progress_line(halfway(), 10s, wide(80)) ==
      "checking april.csv  ███████████▏··············  43 %  312,000 rows/s  14 s left");
  CHECK(
      progress_line(halfway(), 10s, {.width = 80, .colour = false, .utf8 = false}) ==
      "checking april.csv  [##########..............]  43 %  312,000 rows/s  14 s left");
}

TEST_CASE("progress is never wider than the screen less a column") {
  for (std::size_t width = 20; width <= 200; ++width) {
    for (const bool utf8 : {true, false}) {
      CAPTURE(width);
      const Screen screen{.width = width, .colour = false, .utf8 = utf8};
      CHECK(display_width(progress_line(halfway(), 10s, screen)) < width);
    }
  }
}

TEST_CASE("what does not fit is left out, the least needed first") {
  CHECK(progress_line(halfway(), 10s, wide(60)) ==
        "checking april.csv  43 %  312,000 rows/s  14 s left");
  CHECK(progress_line(halfway(), 10s, wide(40)) == "checking april.csv  43 %  14 s left");
  CHECK(progress_line(halfway(), 10s, wide(30)) == "checking april.csv  43 %");
  CHECK(progress_line(halfway(), 10s, wide(20)) == "checking apri  43 %");
}

TEST_CASE("without a total there is a rate and neither a bar nor a time left") {
  CHECK(progress_line({.doing = "importing standard input", .done = 9, .rows = 1234567},
                      1s, wide(80)) == "importing standard input  1,230,000 rows/s");
}

TEST_CASE("at the start neither rate nor time left is told") {
  CHECK(progress_line({.doing = "a", .done = 0, .total = 10, .rows = 0}, 0s, wide(20)) ==
        "a  ··········   0 %");
}

TEST_CASE("an end that is passed is the whole, and nothing to do is done") {
  CHECK(progress_line({.doing = "a", .done = 20, .total = 10}, 1s, wide(30)) ==
        "a  █████████  100 %  0 s left");
  CHECK(progress_line({.doing = "a", .done = 0, .total = 0}, 0s, wide(9)) == "a  100 %");
}

TEST_CASE("long times are told in minutes and hours") {
  const Progress early{.doing = "a", .done = 1, .total = 1000, .rows = 1};
  CHECK(progress_line(early, 1s, wide(32)) == "a   0 %  1 rows/s  17 min left");
  CHECK(progress_line(early, 60s, wide(30)).ends_with("17 h left"));
}

TEST_CASE("a file's name cannot steer the terminal through the progress") {
  CHECK(progress_line({.doing = "a\x1b[2J\r"}, 0s, wide(40)) == "a\\x1b[2J\\x0d");
}

}  // namespace
}  // namespace rimeward
