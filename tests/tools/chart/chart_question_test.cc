#include "tools/cli/chart/chart_question.h"

#include <chrono>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sensors/iso_time.h"
#include "tests/support/sample_store.h"

namespace rimeward {
namespace {

using std::chrono::days;
using Words = std::vector<std::pair<std::string, std::string>>;

// The question of the sample garden at that time.
Result<ChartQuestion> asked(const Words& words, Instant now = sample_evening()) {
  static const Garden garden = sample_garden();
  static Store store = sample_store(sample_evening());
  static const Zone zone = sample_zone();
  Surroundings around;
  around.system_now = now;
  const Context context{.around = around,
                        .garden = garden,
                        .zone = zone,
                        .store = store,
                        .now = now,
                        .clock_from_readings = false};
  Arguments arguments;
  for (const auto& [name, value] : words)
    arguments.set(name, value);
  return chart_question(context, arguments);
}

std::string places_of(const Words& words) {
  const auto question = asked(words);
  if (!question) return question.error().message;
  std::string ids;
  for (const Place* place : question->places)
    ids += (ids.empty() ? "" : " ") + place->id;
  return ids;
}

std::string span_of(const Words& words, Instant now = sample_evening()) {
  const auto question = asked(words, now);
  if (!question) return question.error().message;
  return format_utc(question->span.from) + " " + format_utc(question->span.to);
}

TEST_CASE("places are named by id or name, names with spaces too, each once") {
  CHECK(places_of({{"PLACE", "yard north frame glasshouse North-Frame Yard"}}) ==
        "no place \"North-Frame\"; did you mean \"north-frame\"?; places: glasshouse, "
        "north-frame, south-frame, pea-bed, yard");
  CHECK(places_of({{"PLACE", "yard north frame glasshouse north-frame Yard"}}) ==
        "yard north-frame glasshouse");
  CHECK(places_of({{"PLACE", "south FRAME"}}) == "south-frame");
}

TEST_CASE("without a place all are shown that have the channel") {
  CHECK(places_of({}) == "glasshouse north-frame south-frame pea-bed yard");
  CHECK(places_of({{"--channel", "battery"}}) == "glasshouse");
  CHECK(places_of({{"--channel", "pressure"}}).empty());
}

TEST_CASE("a channel may be written with spaces, dashes and capitals") {
  for (const char* name : {"battery_voltage", "battery-voltage", "Battery voltage"}) {
    CAPTURE(name);
    const auto question = asked({{"--channel", name}});
    REQUIRE(question.has_value());
    CHECK(question->channel == Channel::kBatteryVoltage);
  }
  CHECK(asked({{"--channel", "air temperature"}})->channel == Channel::kAirTemperature);
  CHECK_FALSE(asked({{"--channel", "forecast_low"}}).has_value());
}

TEST_CASE("the last days begin at the same time of day by the clock on the wall") {
  CHECK(span_of({}) == "2026-04-10T16:40:00Z 2026-04-12T16:40:00Z");
  // Over the night of 29 March, an hour shorter.
  const Instant now = parse_instant("2026-03-30T10:00:00Z").value();
  CHECK(span_of({}, now) == "2026-03-28T11:00:00Z 2026-03-30T10:00:00Z");
}

TEST_CASE("dates run from midnight to midnight, and today until now") {
  CHECK(span_of({{"--from", "2026-04-01"}, {"--to", "2026-04-02"}}) ==
        "2026-03-31T22:00:00Z 2026-04-02T22:00:00Z");
  CHECK(span_of({{"--from", "2026-04-11"}}) ==
        "2026-04-10T22:00:00Z 2026-04-12T16:40:00Z");
  CHECK(span_of({{"--to", "2026-04-02"}, {"--days", "3"}}) ==
        "2026-03-30T22:00:00Z 2026-04-02T22:00:00Z");
  CHECK(span_of({{"--from", "2026-04-01"}, {"--days", "1"}}) ==
        "2026-03-31T22:00:00Z 2026-04-01T22:00:00Z");
  CHECK(span_of({{"--to", "today"}, {"--from", "today"}}) ==
        "2026-04-11T22:00:00Z 2026-04-12T16:40:00Z");
}

TEST_CASE("a chart that has just begun is an hour wide") {
  const Instant midnight = parse_instant("2026-04-11T22:00:00Z").value();
  CHECK(span_of({{"--from", "today"}}, midnight) ==
        "2026-04-11T22:00:00Z 2026-04-11T23:00:00Z");
}

TEST_CASE("spans that are none are refused, with what is wrong") {
  CHECK(span_of({{"--from", "2026-04-12"}, {"--to", "2026-04-10"}}) ==
        "--from 2026-04-12 is after --to 2026-04-10");
  CHECK(span_of({{"--from", "2026-04-13"}}) ==
        "--from 2026-04-13 is still to come; today is 2026-04-12");
  CHECK(span_of({{"--from", "2026-04-01"}, {"--to", "2026-04-02"}, {"--days", "2"}}) ==
        "--days with both --from and --to: leave one of the three out");
  CHECK(span_of({{"--from", "1800-01-01"}}) ==
        "--from 1800-01-01 --to 2026-04-12: more than 40000 days");
  for (const char* count : {"0", "-1", "40001", "2.5", "", "99999999999"}) {
    CAPTURE(count);
    CHECK_FALSE(asked({{"--days", count}}).has_value());
  }
}

}  // namespace
}  // namespace rimeward
