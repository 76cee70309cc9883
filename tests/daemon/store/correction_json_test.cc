#include "daemon/store/correction_json.h"

#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sensors/iso_time.h"

namespace rimeward {
namespace {

CorrectionRow sample() {
  return {.id = 0,
          .sensor = "north-probe",
          .channel = Channel::kAirTemperature,
          .since = parse_instant("2026-04-12T16:40:00Z").value(),
          .until = {},
          .gain = 1.0,
          .offset = -0.43,
          .uncertainty = 0.12,
          .method = "ice",
          .points = "[[0.43,0.0]]"};
}

TEST_CASE("a correction comes back from JSON as it went in") {
  const auto read = correction_from_json(correction_json(sample()));
  REQUIRE(read);
  CHECK(*read == sample());
}

TEST_CASE("a correction as JSON names every member that the daemon needs") {
  CHECK(correction_json(sample()) ==
        R"({"sensor":"north-probe","channel":"temperature",)"
        R"("since":"2026-04-12T16:40:00Z","gain":1.0,"offset":-0.43,)"
        R"("uncertainty":0.12,"method":"ice","points":[[0.43,0.0]]})");
}

TEST_CASE("text that is no correction is refused") {
  const std::string good = correction_json(sample());
  const auto with = [&good](const std::string& was, const std::string& is) {
    std::string text = good;
    return text.replace(text.find(was), was.size(), is);
  };
  const std::vector<std::string> bad{"",
                                     "[]",
                                     "null",
                                     good.substr(0, good.size() - 1),
                                     with("north-probe", ""),
                                     with("\"temperature\"", "\"warmth\""),
                                     with("\"temperature\"", "7"),
                                     with("2026-04-12T16:40:00Z", "yesterday"),
                                     with("\"gain\":1.0", "\"gain\":0"),
                                     with("\"gain\":1.0", "\"gain\":-1"),
                                     with("\"gain\":1.0", "\"gain\":1e999"),
                                     with("\"gain\":1.0", "\"gain\":\"1\""),
                                     with("-0.43", "null"),
                                     with("0.12", "-0.12"),
                                     with("\"ice\"", "\"\"")};
  for (const std::string& text : bad) {
    CAPTURE(text);
    CHECK_FALSE(correction_from_json(text));
  }
}

TEST_CASE("points that are no pairs of numbers count as none") {
  const std::vector<SaidAndTrue> points{{36.0, 33.07}, {80.1, 75.48}};
  CHECK(points_from_json(points_json(points)) == points);
  for (const char* text : {"", "[", "{}", "[1]", "[[1]]", "[[1,2,3]]", "[[1,\"2\"]]"}) {
    CAPTURE(text);
    CHECK(points_from_json(text).empty());
  }
  CorrectionRow row = sample();
  row.points = "\xff nonsense";
  CHECK(correction_from_json(correction_json(row))->points == "[]");
}

}  // namespace
}  // namespace rimeward
