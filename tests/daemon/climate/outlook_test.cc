#include "daemon/climate/outlook.h"

#include <array>
#include <cmath>
#include <filesystem>
#include <iterator>
#include <span>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "daemon/climate/verification.h"
#include "tests/daemon/climate/outlook_replay.h"
#include "tests/support/shared_folder.h"

namespace rimeward {
namespace {

using std::chrono::hours;
using std::chrono::minutes;

constexpr Position kHochfeld{48.41, 9.52};
constexpr Position kSouth{-33.45, -70.66};  // an invented garden, see the data's script

std::filesystem::path data(const char* name) {
  return std::filesystem::path{RIMEWARD_SOURCE_DIR} / "tests" / "data" / name;
}

std::vector<Row> hochfeld_readings() {
  return read_readings(data("outlook_readings.csv"), "hochfeld");
}

// An invented calm spring: 15 degrees at 15:00 UTC, 3 degrees at 03:00. REQUIRES: `start`
// at midnight UTC.
std::vector<Row> calm_days(Instant start, int days) {
  std::vector<Row> rows;
  for (int hour = 0; hour < days * 24; ++hour) {
    const double angle = (hour - 15) / 24.0 * 2.0 * 3.14159265358979;
    rows.push_back({start + hours{hour}, 9.0 + 6.0 * std::cos(angle), 60.0});
  }
  return rows;
}

using Expected = std::map<std::string, std::string>;

double infinite_if_none(std::optional<Celsius> temperature) {
  return temperature ? temperature->degrees : HUGE_VAL;
}

// Counts the rows that differ, so that one fault does not print thousands of lines.
bool same(const Came& came, const Expected& row) {
  const Outlook& outlook = came.outlook;
  const auto close = [&row](double value, const char* column, double tolerance) {
    const double expected = number_from(row.at(column));
    return value == expected || std::abs(value - expected) <= tolerance;
  };
  const double issue_hours = outlook.issued_at.time_since_epoch().count() / 3600.0;
  return std::to_string(outlook.solar_day) == row.at("day") &&
         name_of(outlook.moment) == row.at("slot") &&
         close(issue_hours, "issue_h_utc", 1e-5) &&
         close(outlook.air.degrees, "T0", 0.00501) &&
         close(infinite_if_none(outlook.running_low), "runmin", 0.00501) &&
         close(outlook.low.degrees, "forecast", 0.001) &&
         close(outlook.low10.degrees, "lo10", 0.001) &&
         close(outlook.low90.degrees, "hi90", 0.001) &&
         close(odds_below(outlook, {0.0}).value, "p_le_0", 0.0005) &&
         close(outlook.leverage, "leverage", 0.0005) &&
         close(came.low.degrees, "observed", 0.00501);
}

void check_all(std::span<const Came> outlooks, std::span<const Expected> rows) {
  REQUIRE(outlooks.size() == rows.size());
  int differ = 0;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    if (same(outlooks[i], rows[i])) continue;
    ++differ;
    const auto at = "row " + std::to_string(i) + ", day " + rows[i].at("day") + " " +
                    rows[i].at("slot") + ": forecast " +
                    std::to_string(outlooks[i].outlook.low.degrees) + ", expected " +
                    rows[i].at("forecast");
    if (differ <= 5) MESSAGE(at);
  }
  CHECK(differ == 0);
}

std::vector<Expected> expected_rows(const std::string& series) {
  std::vector<Expected> rows;
  for (auto& row : read_table(data("outlook_expected.csv"))) {
    if (row["series"] == series) rows.push_back(row);
  }
  return rows;
}

// As the method's specification has it: the check values' pace of the ranges.
Prior published(Prior prior) {
  for (MomentPrior& moment : prior.moments)
    moment.pace = kPublishedPace;
  return prior;
}

}  // namespace

// The check values come from the executable specification of the method
// (tests/data/make_outlook_data.py), an independent implementation.
TEST_CASE("every outlook of a spring with gaps equals the specification's") {
  const NightOutlook engine(kHochfeld, published(open_air_prior()));
  const auto rows = expected_rows("hochfeld");
  CHECK(rows.size() == 186);
  check_all(verified(replay(engine, hochfeld_readings())), rows);
}

TEST_CASE("every outlook of a southern and western winter equals the specification's") {
  const NightOutlook engine(kSouth, published(covered_prior()));
  const auto rows = expected_rows("south");
  CHECK(rows.size() == 100);
  const auto readings = read_readings(data("outlook_readings.csv"), "south");
  check_all(verified(replay(engine, readings)), rows);
}

TEST_CASE("every outlook on real records equals the specification's") {
  const auto shared = shared_folder();
  if (!shared) {
    MESSAGE("skipped: no folder of real weather, see tests/support/shared_folder.h");
    return;
  }
  struct Site {
    const char* name;
    Position position;
  };
  const std::array sites{Site{"ie_oak_park", {52.861, -6.915}},
                         Site{"nyc_jfk", {40.6398, -73.7789}},
                         Site{"seoul", {37.571, 126.966}}};
  for (const Site& site : sites) {
    CAPTURE(site.name);
    const std::string name = site.name;
    const auto readings = read_readings(*shared / "data" / (name + ".csv"));
    const auto rows = read_table(*shared / "forecast" / ("vectors_" + name + ".csv"));
    const NightOutlook engine(site.position, published(open_air_prior()));
    check_all(verified(replay(engine, readings)), rows);
  }
}

// The column "port check" of the method's description: mean absolute error with the
// shipped priors, of the nights from the fortnight after the first outlook on.
TEST_CASE("the scores on nine real records are those the method was published with") {
  const auto shared = shared_folder();
  if (!shared) {
    MESSAGE("skipped: no folder of real weather, see tests/support/shared_folder.h");
    return;
  }
  struct Site {
    const char* name;
    Position position;
    std::array<double, 4> errors;  // by moment
  };
  const std::array sites{
      Site{"nyc_jfk", {40.6398, -73.7789}, {1.5953, 1.5057, 1.2942, 1.0019}},
      Site{"nyc_ewr", {40.6925, -74.1687}, {1.7703, 1.6252, 1.3762, 1.1614}},
      Site{"seoul", {37.571, 126.966}, {1.6863, 1.6166, 1.2872, 1.0981}},
      Site{"ie_oak_park", {52.861, -6.915}, {2.0704, 1.9486, 1.4756, 1.2876}},
      Site{"ie_markree", {54.175, -8.456}, {2.2295, 2.1331, 1.5289, 1.2977}},
      Site{"ie_casement", {53.306, -6.439}, {2.0085, 1.8682, 1.4439, 1.2428}},
      Site{"bj_huairou", {40.36, 116.63}, {1.8356, 1.8244, 1.4265, 1.2149}},
      Site{"belgium_t6", {50.47, 4.45}, {1.9860, 1.8606, 1.1890, 0.9889}},
      Site{"tunnel_it1", {45.4, 11.6}, {1.8857, 1.7686, 1.2810, 1.0880}}};
  for (const Site& site : sites) {
    CAPTURE(site.name);
    const bool covered = std::string_view{site.name} == "tunnel_it1";
    const NightOutlook engine(site.position,
                              published(covered ? covered_prior() : open_air_prior()));
    const auto readings =
        read_readings(*shared / "data" / (std::string{site.name} + ".csv"));
    const auto all = verified(replay(engine, readings));
    REQUIRE(!all.empty());
    const auto first_day = all.front().outlook.solar_day;
    for (const Moment moment : kMoments) {
      CAPTURE(name_of(moment));
      std::vector<VerifiedOutlook> judged;
      for (const auto& [outlook, low] : all) {
        if (outlook.moment != moment || outlook.solar_day < first_day + 14) continue;
        judged.push_back(
            {outlook.low, outlook.low10, outlook.low90, odds_below(outlook, {0.0}), low});
      }
      const OutlookScores scores = scores_of(judged, {0.0}, {0.2});
      REQUIRE(scores.mean_absolute_error);
      CHECK(std::abs(scores.mean_absolute_error->degrees -
                     site.errors.at(index_of(moment))) < 0.005);
      // Every file of 300 nights or more holds 77 to 83 % of its lows.
      if (scores.nights >= 300) {
        CHECK(*scores.share_in_range > 0.77);
        CHECK(*scores.share_in_range < 0.83);
      }
    }
  }
}

TEST_CASE("an engine restored after every event goes on to the last bit") {
  const auto readings = hochfeld_readings();
  const auto unbroken = replay(NightOutlook(kHochfeld, open_air_prior()), readings);

  NightOutlook engine(kHochfeld, open_air_prior());
  Recents recents;
  std::vector<OutlookEvent> events;
  int restarts = 0;
  for (const Row& row : readings) {
    tell(engine, recents, row, events, [&restarts](NightOutlook& running) {
      const std::string saved = running.save();
      auto restored = NightOutlook::restore(kHochfeld, open_air_prior(), saved);
      REQUIRE(restored);
      REQUIRE(restored->save() == saved);
      REQUIRE(restored->current() == running.current());
      REQUIRE(restored->next_due() == running.next_due());
      running = *std::move(restored);
      ++restarts;
    });
  }
  CHECK(restarts > 300);
  CHECK(events == unbroken);
}

TEST_CASE("no outlook changes with what is read after it") {
  const auto readings = hochfeld_readings();
  const NightOutlook engine(kHochfeld, open_air_prior());
  const auto events = replay(engine, readings);
  std::vector<Outlook> issued;
  for (const OutlookEvent& event : events) {
    if (const auto* one = std::get_if<Issued>(&event)) issued.push_back(one->outlook);
  }
  REQUIRE(issued.size() > 180);
  for (std::size_t i = 3; i < issued.size(); i += 29) {
    CAPTURE(i);
    auto changed = readings;
    for (Row& row : changed) {
      if (row.at <= issued[i].issued_at) continue;
      row.air = -20.0;
      row.humidity = 1.0;
    }
    const auto after = replay(engine, changed);
    std::size_t same = 0;
    for (const OutlookEvent& event : after) {
      const auto* one = std::get_if<Issued>(&event);
      if (one == nullptr) continue;
      if (one->outlook != issued[same]) break;
      ++same;
    }
    CHECK(same == i + 1);
  }
}

TEST_CASE("readings told out of order within an event's reach change nothing") {
  const auto readings = hochfeld_readings();
  const NightOutlook in_order(kHochfeld, open_air_prior());
  NightOutlook engine = in_order;
  Recents recents;
  std::vector<OutlookEvent> events;
  const std::span<const Row> few = std::span{readings}.first(400);
  for (std::size_t i = 0; i + 1 < few.size(); i += 2) {
    // Both of a pair come at the time of the later one, the later first.
    engine.start(few[i].at);
    while (engine.next_due() && *engine.next_due() < few[i].at) {
      if (auto event = engine.run_next(recents)) events.push_back(*std::move(event));
    }
    Recents trial = recents;
    tell(engine, trial, few[i], events, [](const NightOutlook&) {});
    // No event is due between the two: they may swap.
    if (*engine.next_due() >= few[i + 1].at) {
      tell(engine, recents, few[i + 1], events, [](const NightOutlook&) {});
      CHECK(recents.air.insert(few[i].at, few[i].air));
      if (few[i].humidity) recents.humidity.insert(few[i].at, *few[i].humidity);
    } else {
      recents = trial;
      tell(engine, recents, few[i + 1], events, [](const NightOutlook&) {});
    }
  }
  CHECK(events == replay(in_order, few));
}

TEST_CASE("the first night's outlooks are unsure, and the second knows the first's low") {
  const Instant start = instant_from("2024-04-10T00:00:00Z");
  const auto events =
      replay(NightOutlook(kHochfeld, open_air_prior()), calm_days(start, 3));
  REQUIRE(events.size() == 14);  // the third evening's four come last
  const auto& first = std::get<NightEnded>(events[4]);
  CHECK(first.night == instant_from("2024-04-11T00:00:00Z"));
  for (std::size_t i = 0; i < 4; ++i) {
    CAPTURE(i);
    const auto& unsure = std::get<Issued>(events[i]).outlook;
    const auto& issued = std::get<Issued>(events[5 + i]).outlook;
    CHECK_FALSE(unsure.lows_known);
    CHECK_FALSE(unsure.last_low);
    CHECK(date_of_night(unsure.solar_day) == first.night);
    // The same calm evening, and before dark much less sure of it.
    if (i < 2) CHECK(unsure.leverage > 1.0);  // before dark, doubled
    CHECK(issued.lows_known);
    CHECK(issued.moment == kMoments.at(i));
    CHECK(issued.humidity_known);
    CHECK(issued.last_low == first.low);
    CHECK(date_of_night(issued.solar_day) == instant_from("2024-04-12T00:00:00Z"));
  }
  const auto& second = std::get<NightEnded>(events[9]);
  CHECK(second.outlooks.size() == 4);
  CHECK(second.low == Celsius{3.0});
  CHECK(second.low_at == instant_from("2024-04-12T03:00:00Z"));
}

TEST_CASE("nothing is learned from a first night, nor from one that is passed over") {
  const Instant start = instant_from("2024-04-10T00:00:00Z");
  const auto rows = calm_days(start, 3);
  const auto learned_after = [&](int nights, NightOutlook::Lesson lesson) {
    NightOutlook engine(kHochfeld, open_air_prior());
    Recents recents;
    int ended = 0;
    for (const Row& row : rows) {
      engine.start(row.at);
      while (ended < nights && engine.next_due() && *engine.next_due() < row.at) {
        ended += engine.next_moment() ? 0 : 1;
        engine.run_next(recents, lesson);
      }
      recents.air.insert(row.at, row.air);
    }
    const std::string saved = engine.save();
    const auto from = saved.find("\"learned\"");
    return saved.substr(from, saved.find("\"next_event\"") - from);
  };
  using enum NightOutlook::Lesson;
  const std::string nothing = learned_after(0, kLearn);
  CHECK(learned_after(1, kLearn) == nothing);
  CHECK(learned_after(2, kPassOver) == nothing);
  CHECK(learned_after(2, kLearn) != nothing);
}

TEST_CASE("the current outlook goes when its night ends") {
  const auto rows = calm_days(instant_from("2024-04-10T00:00:00Z"), 3);
  NightOutlook engine(kHochfeld, open_air_prior());
  CHECK_FALSE(engine.next_due());
  Recents recents;
  std::vector<OutlookEvent> events;
  bool seen = false;
  for (const Row& row : rows) {
    tell(engine, recents, row, events, [&](const NightOutlook& running) {
      if (events.empty()) return;
      if (const auto* issued = std::get_if<Issued>(&events.back())) {
        CHECK(running.current() == issued->outlook);
        seen = true;
      } else {
        CHECK_FALSE(running.current());
      }
    });
  }
  CHECK(seen);
}

TEST_CASE("a night with three hours unread teaches nothing and has no low") {
  const Instant start = instant_from("2024-04-10T00:00:00Z");
  auto rows = calm_days(start, 3);
  const auto lost = [](const Row& row) {
    return row.at > instant_from("2024-04-11T22:00:00Z") &&
           row.at < instant_from("2024-04-12T01:00:00Z");
  };
  std::erase_if(rows, lost);
  const auto events = replay(NightOutlook(kHochfeld, open_air_prior()), rows);
  const auto& ended = std::get<NightEnded>(events.at(9));
  CHECK_FALSE(ended.low);
  CHECK_FALSE(ended.low_at);
  CHECK(!ended.outlooks.empty());
}

TEST_CASE("an outlook without humidity says so") {
  auto rows = calm_days(instant_from("2024-04-10T00:00:00Z"), 3);
  for (Row& row : rows)
    row.humidity.reset();
  const auto events = replay(NightOutlook(kHochfeld, open_air_prior()), rows);
  const auto& outlook = std::get<Issued>(events.at(1)).outlook;
  CHECK_FALSE(outlook.humidity_known);
  CHECK_FALSE(outlook.dew_point);
  CHECK(outlook.features[3] ==
        open_air_prior().moments[index_of(outlook.moment)].fill[3]);
}

// 78 degrees north: by the sun tables there the sun is down from late October to mid
// February.
TEST_CASE("the outlook takes up again when the polar night is over") {
  const Position north{78.2, 15.6};
  NightOutlook engine(north, open_air_prior());
  engine.start(instant_from("2023-12-01T12:00:00Z"));
  REQUIRE(engine.next_due());
  CHECK(*engine.next_due() > instant_from("2024-02-10T00:00:00Z"));
  CHECK(*engine.next_due() < instant_from("2024-02-25T00:00:00Z"));

  NightOutlook at_pole({90.0, 0.0}, open_air_prior());
  at_pole.start(instant_from("2023-12-01T12:00:00Z"));
  CHECK_FALSE(at_pole.next_due());
  CHECK_FALSE(at_pole.run_next({}));
}

TEST_CASE("damaged saved text is refused and says what it was") {
  const NightOutlook engine(kHochfeld, open_air_prior());
  const std::string sound = engine.save();
  const auto changed = [&sound](const std::string& from, const std::string& to) {
    std::string text = sound;
    const auto at = text.find(from);
    REQUIRE(at != std::string::npos);
    return text.replace(at, from.size(), to);
  };
  const std::array damaged{std::string{},
                           sound.substr(0, sound.size() / 2),
                           std::string{"[1,2]"},
                           changed("\"version\":1", "\"version\":2"),
                           changed("\"weight\":15.0", "\"weight\":null"),
                           changed("\"weight\":15.0", "\"weight\":-1"),
                           changed("\"stretch_below\":1.0", "\"stretch_below\":7"),
                           changed("\"precision\":[", "\"precision\":[-"),
                           changed("\"coefficients\":[", "\"coefficients\":[1,")};
  for (const std::string& text : damaged) {
    CAPTURE(text);
    const auto restored = NightOutlook::restore(kHochfeld, open_air_prior(), text);
    REQUIRE_FALSE(restored);
    CHECK(restored.error().message.starts_with("saved outlook: "));
  }
  CHECK(NightOutlook::restore(kHochfeld, open_air_prior(), sound));
}

// Standard normal probabilities: Abramowitz & Stegun (1964), table 26.1.
TEST_CASE("odds follow a normal curve with its own width on each side") {
  Outlook outlook;
  outlook.low = {1.0};
  outlook.spread_below = {2.0};
  outlook.spread_above = {4.0};
  CHECK(odds_below(outlook, {1.0}).value == doctest::Approx(0.5));
  CHECK(odds_below(outlook, {-1.0}).value == doctest::Approx(0.15866).epsilon(1e-4));
  CHECK(odds_below(outlook, {9.0}).value == doctest::Approx(0.97725).epsilon(1e-4));
}

TEST_CASE("a threshold that was met has odds of one") {
  Outlook outlook;
  outlook.low = {1.0};
  outlook.spread_below = outlook.spread_above = {1.0};
  outlook.running_low = Celsius{2.0};
  CHECK(odds_below(outlook, {2.0}).value == 1.0);
  CHECK(odds_below(outlook, {-1.0}).value < 0.03);
  CHECK(odds_below(outlook, {-1.0}, Celsius{-1.0}).value == 1.0);
}

TEST_CASE("a reading below the forecast becomes the low to show") {
  Outlook outlook;
  outlook.low = {1.0};
  outlook.spread_below = outlook.spread_above = {1.0};
  CHECK(low_so_far(outlook, std::nullopt) == Celsius{1.0});
  CHECK(low_so_far(outlook, Celsius{3.0}) == Celsius{1.0});
  CHECK(low_so_far(outlook, Celsius{-0.5}) == Celsius{-0.5});
  // The night has come nearer to the threshold than was forecast, and so have its odds.
  CHECK(odds_below(outlook, {-1.0}, Celsius{-0.5}).value >
        odds_below(outlook, {-1.0}).value);
}

}  // namespace rimeward
