// Real weather with an outside opinion, and with another place standing in: that both are
// worth having, and their odds honest. The starting points never saw the climate. The
// opinions' constants were chosen on Seoul, Newark and Markree; none of these are scored.

#include <array>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <fstream>
#include <map>
#include <optional>
#include <random>
#include <sstream>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "daemon/climate/differences.h"
#include "daemon/climate/opinion.h"
#include "daemon/climate/verification.h"
#include "tests/daemon/climate/outlook_replay.h"
#include "tests/support/shared_folder.h"

namespace rimeward {
namespace {

constexpr Celsius kFrost{0.0};
constexpr Odds kCall{0.2};
constexpr int kNightsBefore = 14;  // that are not scored

using Lows = std::map<std::chrono::sys_days, Celsius>;
using Scores = std::array<OutlookScores, kMoments.size()>;
using Verified = std::array<std::vector<VerifiedOutlook>, kMoments.size()>;

struct Station {
  const char* file;
  Position position;
  const char* prior;  // that never saw its climate
};
constexpr Station kOakPark{"ie_oak_park", {52.861, -6.915}, "no_ireland"};
constexpr Station kDunsany{"ie_dunsany", {53.516, -6.66}, "no_ireland"};
constexpr Station kCasement{"ie_casement", {53.306, -6.439}, "no_ireland"};
constexpr Station kKennedy{"nyc_jfk", {40.6398, -73.7789}, "no_nyc"};
constexpr Station kNewark{"nyc_ewr", {40.6925, -74.1687}, "no_nyc"};

Prior prior_of(const std::filesystem::path& shared, const char* name) {
  std::ifstream file(shared / "forecast" / "priors" / fmt::format("{}.json", name));
  std::stringstream text;
  text << file.rdbuf();
  const auto prior = prior_from_json(text.str());
  REQUIRE(prior);
  return *prior;
}

// All its valid nights.
std::vector<NightEnded> nights_of(const std::filesystem::path& shared,
                                  const Station& station) {
  const auto rows = read_readings(shared / "data" / fmt::format("{}.csv", station.file));
  std::vector<NightEnded> nights;
  for (const OutlookEvent& event :
       replay(NightOutlook(station.position, prior_of(shared, station.prior)), rows)) {
    const auto* ended = std::get_if<NightEnded>(&event);
    if (ended != nullptr && ended->low) nights.push_back(*ended);
  }
  return nights;
}

Lows lows_of(const std::vector<NightEnded>& nights) {
  Lows lows;
  for (const NightEnded& night : nights)
    lows[night.night] = *night.low;
  return lows;
}

// Off by two degrees, and by so much more at random: normal within a hundredth (the sum
// of twelve even numbers), the same with every library.
Lows opinion_from(Lows lows, double error) {
  std::mt19937 random(7);
  for (auto& [night, low] : lows) {
    double sum = -6.0;
    for (int i = 0; i < 12; ++i)
      sum += static_cast<double>(random()) / 4294967296.0;
    low = {low.degrees + 2.0 + error * sum};
  }
  return lows;
}

void add(Verified& verified, const Outlook& outlook, Celsius came) {
  verified.at(index_of(outlook.moment))
      .push_back(
          {outlook.low, outlook.low10, outlook.low90, odds_below(outlook, kFrost), came});
}

Scores scores_of_all(const Verified& verified) {
  Scores scores;
  for (const Moment moment : kMoments) {
    scores.at(index_of(moment)) = scores_of(verified.at(index_of(moment)), kFrost, kCall);
  }
  return scores;
}

struct Compared {
  Scores own;
  Scores with;
};

Compared with_opinion(const std::vector<NightEnded>& nights, const Lows& said) {
  Opinion opinion;
  Verified own;
  Verified with;
  int seen = 0;
  for (const NightEnded& night : nights) {
    const auto word = said.find(night.night);
    if (word == said.end()) continue;
    const bool counts = ++seen > kNightsBefore;
    for (const Outlook& outlook : night.outlooks) {
      if (counts) add(own, outlook, *night.low);
      if (counts) add(with, opinion.blended(outlook, word->second), *night.low);
      opinion.learn(outlook, word->second, *night.low);
    }
  }
  return {scores_of_all(own), scores_of_all(with)};
}

// The own outlook's nights, and the other station in its stead, from the sixth night on.
Compared with_stand_in(const std::vector<NightEnded>& nights,
                       const std::vector<NightEnded>& others) {
  std::map<std::chrono::sys_days, const NightEnded*> there;
  for (const NightEnded& night : others)
    there[night.night] = &night;
  Differences differences;
  Verified own;
  Verified with;
  for (const NightEnded& night : nights) {
    const auto other = there.find(night.night);
    if (other == there.end()) continue;
    if (const auto difference = differences.to("there")) {
      for (const Outlook& outlook : night.outlooks)
        add(own, outlook, *night.low);
      for (const Outlook& outlook : other->second->outlooks)
        add(with, stand_in(outlook, *difference), *night.low);
    }
    differences.learn("there", *night.low - *other->second->low);
  }
  return {scores_of_all(own), scores_of_all(with)};
}

double error(const OutlookScores& scores) {
  return scores.mean_absolute_error.value().degrees;
}

std::string table(const Compared& compared) {
  std::string text;
  for (const Moment moment : kMoments) {
    const OutlookScores& own = compared.own.at(index_of(moment));
    const OutlookScores& with = compared.with.at(index_of(moment));
    text += fmt::format(
        "\n{:<9}  error {:.2f} > {:.2f}  held {:.2f} > {:.2f}  Brier {:.3f} > {:.3f}",
        name_of(moment), error(own), error(with), own.share_in_range.value(),
        with.share_in_range.value(), own.brier.value(), with.brier.value());
  }
  return text;
}

// Of every moment.
template <class Check>
void check_each(const Compared& compared, Check check) {
  for (const Moment moment : kMoments) {
    CAPTURE(name_of(moment));
    check(compared.own.at(index_of(moment)), compared.with.at(index_of(moment)));
  }
}

std::optional<std::filesystem::path> shared_weather() {
  auto shared = shared_folder();
  if (!shared) MESSAGE("no shared folder: real weather is not tried");
  return shared;
}

TEST_CASE(
    "a neighbour's low, shifted and noisy, makes Oak Park's outlook a good deal better") {
  const auto shared = shared_weather();
  if (!shared) return;
  const auto nights = nights_of(*shared, kOakPark);
  const Lows neighbour = lows_of(nights_of(*shared, kDunsany));
  struct Row {
    double noise;
    double at_most;  // of the own error, at dusk
  };
  for (const Row& row : {Row{0.0, 0.55}, Row{1.0, 0.70}, Row{2.0, 0.85}}) {
    const Compared compared = with_opinion(nights, opinion_from(neighbour, row.noise));
    CAPTURE(row.noise);
    INFO(table(compared));
    CHECK(error(compared.with[1]) < row.at_most * error(compared.own[1]));
    check_each(compared, [](const OutlookScores& own, const OutlookScores& with) {
      CHECK(error(with) < error(own));
      CHECK(with.brier.value() < own.brier.value());
      CHECK(with.share_in_range.value() > 0.77);
      CHECK(with.share_in_range.value() < 0.84);
      CHECK(with.mean_range.value() < own.mean_range.value());
    });
  }
}

TEST_CASE("an opinion that is worth nothing costs real outlooks less than one percent") {
  const auto shared = shared_weather();
  if (!shared) return;
  const auto nights = nights_of(*shared, kOakPark);
  const Lows lows = lows_of(nights);
  Lows constant;
  Lows half_a_year_late;
  Lows of_the_night_before;
  Celsius before{5.0};
  for (const auto& [night, low] : lows) {
    constant[night] = {5.0};
    const auto there = lows.lower_bound(night + std::chrono::days{182});
    half_a_year_late[night] = there == lows.end() ? lows.begin()->second : there->second;
    of_the_night_before[night] = before;
    before = low;
  }
  const Lows of_another_climate = lows_of(nights_of(*shared, kKennedy));
  Lows elsewhere;  // 2013's nights, brought to 2017
  for (const auto& [night, low] : of_another_climate)
    elsewhere[night + std::chrono::days{1461}] = low;
  for (const Lows& said : {constant, half_a_year_late, of_the_night_before, elsewhere,
                           opinion_from(constant, 5.0)}) {
    const Compared compared = with_opinion(nights, said);
    INFO(table(compared));
    check_each(compared, [](const OutlookScores& own, const OutlookScores& with) {
      CHECK(own.nights > 300);
      CHECK(error(with) < 1.01 * error(own));
      CHECK(with.brier.value() < 1.02 * own.brier.value());
      CHECK(with.share_in_range.value() > 0.77);
    });
  }
}

TEST_CASE("with an opinion frost comes as often as its odds say") {
  const auto shared = shared_weather();
  if (!shared) return;
  double expected = 0.0;
  double variance = 0.0;
  int came = 0;
  double low_expected = 0.0;  // among odds under one half
  int low_came = 0;
  for (const auto& [here, there] :
       {std::pair{kOakPark, kDunsany}, {kDunsany, kCasement}, {kKennedy, kNewark}}) {
    const auto nights = nights_of(*shared, here);
    const Lows said = opinion_from(lows_of(nights_of(*shared, there)), 1.0);
    Opinion opinion;
    for (const NightEnded& night : nights) {
      const auto word = said.find(night.night);
      if (word == said.end()) continue;
      for (const Outlook& outlook : night.outlooks) {
        const double odds =
            odds_below(opinion.blended(outlook, word->second), kFrost).value;
        const bool froze = *night.low <= kFrost;
        expected += odds;
        variance += odds * (1.0 - odds);
        came += froze ? 1 : 0;
        if (odds < 0.5) {
          low_expected += odds;
          low_came += froze ? 1 : 0;
        }
        opinion.learn(outlook, word->second, *night.low);
      }
    }
  }
  CAPTURE(expected);
  CAPTURE(came);
  CAPTURE(low_expected);
  CAPTURE(low_came);
  // The four outlooks of a night err together: twice the error of independent ones.
  const double sure = 2.0 * 2.0 * std::sqrt(variance);
  CHECK(std::abs(came - expected) < sure);
  CHECK(std::abs(low_came - low_expected) < sure);
}

TEST_CASE("a neighbour stands in honestly, and mostly better than the moment before") {
  const auto shared = shared_weather();
  if (!shared) return;
  struct Row {
    Station here;
    Station there;
    double at_most;  // of the own error
    // An outlook of the moment before is what else there is of a sensor that has just
    // fallen silent.
    bool beats_moment_before;
  };
  for (const Row& row :
       {Row{kOakPark, kDunsany, 1.06, true}, Row{kDunsany, kOakPark, 1.15, true},
        Row{kDunsany, kCasement, 1.15, true}, Row{kCasement, kDunsany, 1.03, true},
        Row{kKennedy, kNewark, 1.35, true},
        // In the town, with the sea's edge to stand in.
        Row{kNewark, kKennedy, 1.40, false}}) {
    const Compared compared =
        with_stand_in(nights_of(*shared, row.here), nights_of(*shared, row.there));
    INFO(row.here.file, " by ", row.there.file, table(compared));
    check_each(compared, [&row](const OutlookScores& own, const OutlookScores& with) {
      CHECK(with.nights > 300);
      CHECK(error(with) < row.at_most * error(own));
      CHECK(with.share_in_range.value() > 0.73);
      CHECK(with.share_in_range.value() < 0.93);
    });
    if (!row.beats_moment_before) continue;
    for (const std::size_t moment : {std::size_t{2}, std::size_t{3}}) {
      CHECK(error(compared.with.at(moment)) < error(compared.own.at(moment - 1)));
    }
  }
}

}  // namespace
}  // namespace rimeward
