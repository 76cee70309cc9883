#include "tools/cli/chart/chart_screen.h"

#include <cmath>
#include <string>
#include <vector>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

std::vector<std::string> labels_of(const ValueScale& scale) {
  std::vector<std::string> labels;
  for (std::size_t row = 0; row < scale.rows(); ++row) {
    if (const auto label = scale.label(row)) labels.push_back(*label);
  }
  return labels;
}

TEST_CASE("a scale holds what it is for, in few round steps on 10 to 20 rows") {
  struct Range {
    double low;
    double high;
  };
  for (const auto& [low, high] : {Range{-1.7, 15.8},
                                  {0, 0},
                                  {-60, 70},
                                  {20.03, 20.04},
                                  {998, 1013},
                                  {0, 118'000},
                                  {2.31, 2.94},
                                  {-11, -7},
                                  {5, 10},
                                  {99, 100},
                                  {-0.05, 0.05}}) {
    CAPTURE(low);
    CAPTURE(high);
    const ValueScale scale = scale_for(low, high, 0.5);
    CHECK(scale.holds(low));
    CHECK(scale.holds(high));
    CHECK(scale.rows() <= 20);
    CHECK(scale.rows() >= 10);
    CHECK(labels_of(scale).size() >= 2);
    CHECK(labels_of(scale).size() <= 8);
    CHECK(scale.row_of(low) < scale.rows());
    CHECK(scale.dot_of(high) >= 0);
    CHECK(scale.dot_of(low) < static_cast<int>(4 * scale.rows()));
  }
}

TEST_CASE("the ticks of a scale are round, and say no more digits than they need") {
  CHECK(labels_of(scale_for(-1.7, 15.8, 4)) ==
        std::vector<std::string>{"15", "10", "5", "0"});
  CHECK(labels_of(scale_for(2.4, 2.9, 0.5)) ==
        std::vector<std::string>{"2.9", "2.8", "2.7", "2.6", "2.5", "2.4"});
}

TEST_CASE("a tick lies on the row of its value, and dots are four to a row") {
  const ValueScale scale = scale_for(-1.7, 15.8, 4);
  for (const double value : {0.0, 5.0, 10.0, 15.0}) {
    CAPTURE(value);
    const auto label = scale.label(scale.row_of(value));
    REQUIRE(label.has_value());
    CHECK(std::stod(*label) == value);
    CHECK(scale.dot_of(value) / 4 == static_cast<int>(scale.row_of(value)));
  }
  CHECK(scale.dot_of(5) - scale.dot_of(10) == 4 * scale.rows_per_step);
}

TEST_CASE("a difference too small to be weather does not fill the rows") {
  const ValueScale scale = scale_for(20.03, 20.04, 4);
  CHECK(scale.holds(18.1));
  CHECK(scale.holds(21.9));
}

TEST_CASE("places are told apart by letters, their own where they can be") {
  CHECK(letters_for({"Glasshouse", "North frame", "South frame"}) ==
        std::vector<std::string>{"G", "N", "S"});
  CHECK(letters_for({"Bed", "Bed", "Bench", "äö"}) ==
        std::vector<std::string>{"B", "E", "N", "A"});
  CHECK(letters_for(std::vector<std::string>(37, "x")).back() == "?");
}

TEST_CASE("numbers are told to the digits that their unit is worth") {
  CHECK(chart_number(-0.04, "°C") == "0.0");
  CHECK(chart_number(64.6, "%") == "65");
  CHECK(chart_number(2.31, "V") == "2.31");
}

}  // namespace
}  // namespace rimeward
