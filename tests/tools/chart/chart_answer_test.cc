#include "tools/cli/chart/chart_answer.h"

#include <chrono>
#include <cmath>
#include <functional>
#include <limits>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sensors/iso_time.h"
#include "tests/support/sample_store.h"
#include "tools/cli/chart/chart_ticks.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::days;

constexpr SeriesId kNorth = 1;
constexpr SeriesId kSecond = 2;

Instant utc(const char* text) {
  return parse_instant(text).value();
}

double invented_air(Instant at) {
  const auto hours =
      std::chrono::duration<double, std::ratio<3600>>(at.time_since_epoch());
  return std::round((8 + 7 * std::sin(hours.count() / 24 * 6.283)) * 10) / 10;
}

// The Hochfeld garden with what a test puts into its store, asked about the north frame.
class Charted {
 public:
  explicit Charted(Instant now = utc("2026-04-12T16:40:00Z")) : now_(now) {
    store_.set_days(DayGrid(zone_, garden_.day_starts));
    Changes changes;
    changes.now = now;
    changes.series = {{kNorth, "north-probe", "north-frame", Channel::kAirTemperature},
                      {kSecond, "gone-probe", "north-frame", Channel::kAirTemperature}};
    store_.commit(changes);
    question_.places = {&garden_.places[1]};
    question_.span = {now - days{2}, now};
  }

  using Value = std::function<double(Instant)>;
  void readings(Instant from, Instant to, std::chrono::seconds every,
                const Value& value = invented_air, SeriesId series = kNorth) {
    Changes changes;
    changes.now = now_;
    for (Instant at = from; at <= to; at += every)
      changes.readings.push_back({at, series, to_milli(value(at))});
    store_.commit(changes);
  }

  void commit(Changes changes) {
    changes.now = now_;
    store_.commit(changes);
  }

  ChartAnswer answer(TemperatureUnit unit = TemperatureUnit::kCelsius) {
    around_.system_now = now_;
    const Context context{.around = around_,
                          .garden = garden_,
                          .zone = zone_,
                          .store = store_,
                          .now = now_,
                          .clock_from_readings = false};
    return answer_chart(context, question_, unit);
  }

  void ask(Instant from, Instant to) { question_.span = {from, to}; }
  Garden& garden() { return garden_; }
  Instant now() const { return now_; }

 private:
  Instant now_;
  Zone zone_ = sample_zone();
  Garden garden_ = sample_garden();
  Store store_ = Store::in_memory();
  Surroundings around_;
  ChartQuestion question_;
};

std::size_t points_of(const ChartCurve& curve) {
  std::size_t count = 0;
  for (const auto& piece : curve.pieces)
    count += piece.size();
  return count;
}

TEST_CASE("readings that come as usual are one piece, from the first to the last") {
  Charted garden;
  garden.readings(garden.now() - days{2}, garden.now(), 10min);
  const ChartCurve curve = garden.answer().curves.front();
  REQUIRE(curve.pieces.size() == 1);
  CHECK(curve.gaps.empty());
  CHECK(points_of(curve) == 2 * 144 + 1);
  CHECK(curve.pieces.front().front().at == garden.now() - days{2});
  CHECK(curve.pieces.front().back().at == garden.now());
}

TEST_CASE("missing readings end a piece, and are told from the last to the next one") {
  Charted garden;
  const Instant begin = garden.now() - days{2};
  garden.readings(begin, begin + 20h, 10min);
  garden.readings(begin + 22h + 30min, garden.now() - 3h, 10min);
  const ChartCurve curve = garden.answer().curves.front();
  CHECK(curve.pieces.size() == 2);
  CHECK(curve.gaps == std::vector<Chart::Span>{{begin + 20h, begin + 22h + 30min},
                                               {garden.now() - 3h, garden.now()}});
}

TEST_CASE("two readings left out are no gap, nor is a quarter of an hour of many") {
  Charted garden;
  const Instant begin = garden.now() - days{2};
  garden.readings(begin, begin + 20h, 10min);
  garden.readings(begin + 20h + 30min, garden.now(), 10min);
  CHECK(garden.answer().curves.front().pieces.size() == 1);
  Charted often;
  often.readings(begin, begin + 20h, 1min);
  often.readings(begin + 20h + 15min, often.now(), 1min);
  CHECK(often.answer().curves.front().pieces.size() == 1);
}

TEST_CASE("a sensor that speaks only of changes is not torn to pieces on quiet nights") {
  Charted slow;
  const Instant begin = slow.now() - days{2};
  slow.readings(begin, begin + 2h, 1min);
  slow.readings(begin + 2h, slow.now(), 50min);
  CHECK(slow.answer().curves.front().pieces.size() == 1);
}

TEST_CASE("a place without readings has no pieces, no extremes and no gaps") {
  Charted garden;
  const ChartAnswer answer = garden.answer();
  CHECK_FALSE(has_readings(answer));
  REQUIRE(answer.chart.lines.size() == 1);
  CHECK(answer.chart.lines.front().pieces.empty());
  CHECK_FALSE(answer.curves.front().low.has_value());
  CHECK(answer.curves.front().gaps.empty());
}

TEST_CASE("close readings share a point that keeps their lowest and highest") {
  Charted garden;
  garden.readings(garden.now() - days{2}, garden.now(), 10s);
  const ChartCurve curve = garden.answer().curves.front();
  CHECK(points_of(curve) <= 601);
  CHECK(points_of(curve) > 500);
  double low = std::numeric_limits<double>::infinity();
  for (const Chart::Point& point : curve.pieces.front()) {
    CHECK(point.low <= point.high);
    low = std::min(low, point.low);
  }
  CHECK(low == curve.low->value);
}

TEST_CASE("readings, hours and days agree on the low, the high and their times") {
  const Instant now = utc("2026-04-12T07:00:00Z");  // 09:00 there: a day is over
  Charted garden(now);
  garden.readings(now - days{70}, now, 30min);
  std::vector<ChartAnswer> answers;
  for (const int length : {3, 60, 63}) {
    garden.ask(now - days{length}, now);
    answers.push_back(garden.answer());
  }
  CHECK(answers[0].step == ChartStep::kReadings);
  CHECK(answers[1].step == ChartStep::kHours);
  CHECK(answers[2].step == ChartStep::kDays);
  for (std::size_t i = 1; i < answers.size(); ++i) {
    CAPTURE(i);
    double low = std::numeric_limits<double>::infinity();
    double high = -low;
    for (const Chart::Point& point : answers[i].curves.front().pieces.back()) {
      if (point.at < now - days{3}) continue;
      low = std::min(low, point.low);
      high = std::max(high, point.high);
    }
    CHECK(low == answers[0].curves.front().low->value);
    CHECK(high == answers[0].curves.front().high->value);
  }
}

TEST_CASE("an hour without a reading ends a piece of hours") {
  Charted garden;
  const Instant begin = utc("2026-04-03T00:00:00Z");
  garden.readings(begin, begin + 50h, 30min);
  garden.readings(begin + 55h, garden.now(), 30min);
  garden.ask(begin, garden.now());
  const ChartAnswer answer = garden.answer();
  CHECK(answer.step == ChartStep::kHours);
  const ChartCurve& curve = answer.curves.front();
  CHECK(curve.pieces.size() == 2);
  CHECK(curve.gaps == std::vector<Chart::Span>{{begin + 51h, begin + 55h}});
}

TEST_CASE("a day without a reading ends a piece of days") {
  Charted garden;
  const Instant begin = utc("2026-01-20T08:00:00Z");  // 09:00 there
  garden.readings(begin, begin + days{20} - 1h, 1h);
  garden.readings(begin + days{23}, garden.now(), 1h);
  garden.ask(begin, garden.now());
  const ChartAnswer answer = garden.answer();
  CHECK(answer.step == ChartStep::kDays);
  CHECK(answer.curves.front().pieces.size() == 2);
  CHECK(answer.curves.front().gaps ==
        std::vector<Chart::Span>{{begin + days{20}, begin + days{23}}});
}

TEST_CASE("the sensor of the settings speaks, another one where that has nothing") {
  Charted garden;
  const Instant begin = utc("2026-04-11T00:00:00Z");
  const auto warm = [](Instant) { return 30.0; };
  garden.readings(begin, begin + 12h - 10min, 10min);
  garden.readings(begin, begin + 24h, 10min, warm, kSecond);
  garden.ask(begin, begin + 24h - 1s);
  const ChartAnswer answer = garden.answer();
  for (const Chart::Point& point : answer.curves.front().pieces.front()) {
    CAPTURE(format_utc(point.at));
    CHECK((point.high == 30.0) == (point.at >= begin + 12h));
  }
}

TEST_CASE("temperatures are told on the scale asked for, keep-above with them") {
  Charted garden;
  garden.readings(garden.now() - days{2}, garden.now(), 10min,
                  [](Instant) { return -10.0; });
  const ChartAnswer answer = garden.answer(TemperatureUnit::kFahrenheit);
  CHECK(answer.chart.unit == "°F");
  CHECK(answer.curves.front().low->value == doctest::Approx(14.0));
  REQUIRE(answer.chart.lines.front().keep_above.has_value());
  CHECK(*answer.chart.lines.front().keep_above == doctest::Approx(33.8));
}

TEST_CASE("covers are cut to the span, the one that was on before it included") {
  Charted garden;
  const Instant begin = garden.now() - days{2};
  Changes changes;
  changes.covers = {{"north-frame", begin - 5h, 2},
                    {"north-frame", begin + 9h, 0},
                    {"north-frame", begin + 20h, 1},
                    {"north-frame", begin + 30h, 2},
                    {"yard", begin + 1h, 1}};
  garden.commit(changes);
  CHECK(garden.answer().chart.lines.front().covers ==
        std::vector<Chart::Cover>{{{begin, begin + 9h}, 2},
                                  {{begin + 20h, begin + 30h}, 1},
                                  {{begin + 30h, garden.now()}, 2}});
}

TEST_CASE("notices told in the span are marked, of the places shown and of the garden") {
  Charted garden;
  const Instant begin = garden.now() - days{2};
  Changes changes;
  const auto tell = [&changes](NoticeId id, std::string kind, std::string place,
                               Instant at, std::optional<Instant> deadline) {
    NoticeRow row;
    row.id = id;
    row.kind = std::move(kind);
    row.subject = row.place = std::move(place);
    row.raised_at = row.spoke_at = at;
    row.deadline = deadline;
    row.title = "Told";
    changes.notices[id] = row;
  };
  tell(1, "cover", "north-frame", begin - 1h, {});
  tell(2, "cover", "north-frame", begin + 1h, begin + 3h);
  tell(3, "cover", "yard", begin + 2h, {});
  tell(4, "morning", "", begin + 3h, {});
  tell(5, "silent", "", begin + 4h, {});
  garden.commit(changes);
  const ChartAnswer answer = garden.answer();
  REQUIRE(answer.chart.marks.size() == 2);
  CHECK(answer.chart.marks[0] == Chart::Mark{begin + 1h, "2  Told, by 21:40"});
  CHECK(answer.chart.marks[1] == Chart::Mark{begin + 4h, "5  Told"});
  CHECK(answer.notices[1].id == 5);
}

TEST_CASE("the night of the change of clock has the marks of the clock on the wall") {
  const Zone berlin = sample_zone();
  // 29 March 2026: 02:00 becomes 03:00. Midnights are 23 hours apart.
  const Chart::Span spring{berlin.at(std::chrono::year{2026} / 3 / 29, 0h),
                           berlin.at(std::chrono::year{2026} / 3 / 30, 0h)};
  CHECK(spring.to - spring.from == 23h);
  const std::vector<Chart::Tick> ticks = chart_ticks(spring, berlin);
  REQUIRE(ticks.size() == 9);
  CHECK(ticks[0] == Chart::Tick{spring.from, "Sun 29 Mar", true});
  CHECK(ticks[1] == Chart::Tick{spring.from + 2h, "03", false});
  CHECK(ticks[2] == Chart::Tick{spring.from + 5h, "06", false});
  CHECK(ticks[8] == Chart::Tick{spring.to, "Mon 30 Mar", true});
}

TEST_CASE("an hour that the clock skips has no mark") {
  const Zone berlin = sample_zone();
  const Chart::Span night{berlin.at(std::chrono::year{2026} / 3 / 29, 0h),
                          berlin.at(std::chrono::year{2026} / 3 / 29, 6h)};
  std::string labels;
  for (const Chart::Tick& tick : chart_ticks(night, berlin))
    labels += tick.label + " ";
  CHECK(labels == "Sun 29 Mar 01 03 04 05 06 ");
}

TEST_CASE("the readings of a night with 25 hours are all there, in order") {
  const Instant now = utc("2026-10-25T11:00:00Z");  // clocks went back that night
  Charted garden(now);
  garden.readings(now - days{2}, now, 10min);
  const Zone berlin = sample_zone();
  garden.ask(berlin.at(std::chrono::year{2026} / 10 / 25, 0h), now);
  const ChartCurve curve = garden.answer().curves.front();
  REQUIRE(curve.pieces.size() == 1);
  CHECK(curve.gaps.empty());
  CHECK(now - curve.pieces.front().front().at == 13h);
}

TEST_CASE("longer spans are marked by days, Mondays, months and years") {
  const Zone berlin = sample_zone();
  const Instant now = utc("2026-04-12T16:40:00Z");
  const auto last = [&](int count) {
    return chart_ticks({now - days{count}, now}, berlin).back().label;
  };
  CHECK(last(9) == "Sun 12 Apr");
  CHECK(last(30) == "Mon 6 Apr");
  CHECK(last(200) == "Apr");
  CHECK(last(1000) == "Apr");
  CHECK(last(2000) == "2026");
  CHECK(chart_ticks({now - days{1000}, now}, berlin).size() == 11);
}

TEST_CASE("nights run from sunset to sunrise, cut to the span") {
  const Position hochfeld{48.41, 9.52};
  const Chart::Span span{utc("2026-04-10T16:40:00Z"), utc("2026-04-12T01:00:00Z")};
  const std::vector<Chart::Span> nights = chart_nights(span, hochfeld);
  REQUIRE(nights.size() == 2);
  // As daemon/climate/sun.h has them, to the minute.
  CHECK(nights[0].from > utc("2026-04-10T18:00:00Z"));
  CHECK(nights[0].from < utc("2026-04-10T18:15:00Z"));
  CHECK(nights[0].to > utc("2026-04-11T04:35:00Z"));
  CHECK(nights[0].to < utc("2026-04-11T04:50:00Z"));
  CHECK(nights[1].to == span.to);
}

TEST_CASE("the polar night is one night, and the midnight sun has none") {
  const Position north{70.0, 25.0};
  const Chart::Span winter{utc("2026-12-20T00:00:00Z"), utc("2026-12-24T00:00:00Z")};
  CHECK(chart_nights(winter, north) == std::vector<Chart::Span>{winter});
  const Chart::Span summer{utc("2026-06-20T00:00:00Z"), utc("2026-06-24T00:00:00Z")};
  CHECK(chart_nights(summer, north).empty());
}

}  // namespace
}  // namespace rimeward
