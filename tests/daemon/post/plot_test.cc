#include "daemon/post/plot.h"

#include <doctest/doctest.h>

namespace rimeward {
namespace {

TEST_CASE("a step is the smallest round one of which few enough lie in the span") {
  CHECK(round_step(7, 1, 7) == 1);
  CHECK(round_step(7.1, 1, 7) == 2);
  CHECK(round_step(14, 1, 7) == 2);
  CHECK(round_step(35, 1, 7) == 5);
  CHECK(round_step(36, 1, 7) == 10);
  CHECK(round_step(400, 1, 7) == 100);
  CHECK(round_step(0.3, 0.01, 7) == doctest::Approx(0.05));
}

TEST_CASE("a step is never less than the least, whatever the span") {
  CHECK(round_step(0, 0.5, 7) == 0.5);
  CHECK(round_step(-3, 0.5, 7) == 0.5);
  CHECK(round_step(3, 0.5, 7) == 0.5);
}

TEST_CASE("names stand where they belong, or as near as their neighbours let them") {
  const auto near = placed_apart({50, 10, 52}, 0, 100, 16);
  REQUIRE(near.size() == 3);
  CHECK(near[0].index == 1);
  CHECK(near[0].at == 10);
  CHECK(near[1].index == 0);
  CHECK(near[1].at == 36);
  CHECK(near[2].index == 2);
  CHECK(near[2].at == 52);
}

TEST_CASE("names begin at the start, and those without room lie beyond the end") {
  const auto crowded = placed_apart({90, 95, 99, -5}, 0, 40, 16);
  REQUIRE(crowded.size() == 4);
  CHECK(crowded[0].index == 3);
  for (std::size_t i = 0; i < crowded.size(); ++i)
    CHECK(crowded[i].at == 16.0 * static_cast<double>(i));
  CHECK(placed_apart({}, 0, 40, 16).empty());
}

}  // namespace
}  // namespace rimeward
