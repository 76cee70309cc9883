#include "daemon/climate/mornings.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <iterator>
#include <numeric>
#include <span>

#include <nlohmann/json.hpp>

#include "daemon/climate/saved_json.h"
#include "daemon/climate/trend.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Json = nlohmann::json;
using Hours = std::chrono::duration<double, std::ratio<3600>>;

constexpr int kVersion = 1;  // of the saved text; restore() refuses another

constexpr auto kMorningEnds = 3h;  // after solar noon
constexpr auto kLongestGap = 100min;
// A morning that is three weeks old still weighs a quarter of the newest.
constexpr double kLeastNews = 0.07;
constexpr int kMorningsThatMatter = 13;  // 1 / (13 + 2) < kLeastNews
// A rise that is smaller says no more of the next morning than that it was dull.
constexpr double kSmallestRise = 3.0;

// What the simulated places came to: the shape is their mean, the rise too.
constexpr UsualMorning kFirst{
    .gain = {0.0, 0.2,  0.4, 0.95, 1.5, 2.15, 2.8, 3.45, 4.1, 4.75,
             5.4, 5.95, 6.5, 6.9,  7.3, 7.7,  8.1, 8.25, 8.4, 8.45,
             8.5, 8.45, 8.4, 8.3,  8.2, 8.15, 8.1, 8.05, 8.0},
    .rise = 10.0,
    .high = std::nullopt,
    .mornings = 0};

// The trend: a line through so much, or where readings are sparse through so much more.
constexpr auto kTrend = 45min;
constexpr auto kSparseTrend = 75min;
constexpr auto kShortestTrend = 20min;
constexpr auto kFresh = 75min;
constexpr auto kRhythmSpan = 3h;     // from which the step between readings is told
constexpr double kDenseStep = 0.25;  // hours; the two that were measured
constexpr double kSparseStep = 1.0;
// Of the time from sunrise to noon: later than this nothing is forecast.
constexpr double kLatest = 1.35;

constexpr std::size_t kWeighed = 8;
using Weights = std::array<double, kWeighed>;

// The further gain by `ahead` hours that is exceeded as often as not, as weights of what
// weighed() gives; in usual rises.
struct Gain {
  double ahead;
  Weights weights;
};

// When to say that a crossing is coming: the log of the odds is (gain - gap) / spread,
// with spread = base + by_gap * gap, all in usual rises.
struct Warning {
  Gain gain;
  double base;
  double by_gap;
  double log_odds;
};

// By logistic regression on whether simulated places came to thresholds drawn at random:
// 32 years of quarter-hours, over a year each of eight open hourly records (New York,
// Seoul, Ireland and Beijing) under four films each. Air and soil are two stores of heat;
// the sun of a clear sky (Kasten & Czeplak 1980, from memory) shines through cloud that
// comes and goes within the day, with a share by Hargreaves; in half of the places it
// comes round a corner in the morning; half are opened when warm.
constexpr std::array<Gain, 3> kGains{{
    {0.5, {0.029, 0.499, -0.031, 0.243, 0.012, 0.058, -0.070, -0.055}},
    {1.0, {0.059, 0.583, -0.112, 0.370, 0.032, 0.118, -0.169, -0.107}},
    {2.0, {0.092, 0.638, -0.185, 0.495, 0.061, 0.115, -0.306, -0.152}},
}};

// The odds were chosen there too: at 18 % (log odds -1.516) of crossing in half an hour
// the most mornings are warned 15 to 120 minutes ahead with half of the false calls of a
// straight line.
constexpr Warning kDense{
    .gain = kGains.front(), .base = 0.035, .by_gap = 0.072, .log_odds = -1.516};
// For hourly readings: from those places by the hour and from the open records as they
// are. At 30 % ten to twenty more mornings in a hundred are well warned than by a line
// through two readings, with a little over half of its false calls.
constexpr Warning kSparse{
    .gain = {1.0, {0.028, 0.544, -0.173, 0.565, 0.037, 0.109, -0.127, -0.073}},
    .base = 0.067,
    .by_gap = 0.039,
    .log_odds = -0.847};

struct Line {
  Instant at;  // of the newest reading
  double air;
  double per_hour;
  double step;  // between readings, hours
};

double hours_between(SunTime from, SunTime to) {
  return Hours(to - from).count();
}

// The readings of a span up to the newest, the span's beginning included.
std::span<const TimedValue> last(const Series& air, Instant newest,
                                 std::chrono::seconds span) {
  return air.between(newest - span - 1s, newest);
}

bool is_long(std::span<const TimedValue> readings) {
  return readings.back().at - readings.front().at >= kShortestTrend;
}

std::optional<Line> line_through(const Series& air, TimedValue newest) {
  auto readings = last(air, newest.at, kTrend);
  if (!is_long(readings)) readings = last(air, newest.at, kSparseTrend);
  if (!is_long(readings)) return std::nullopt;
  const auto rhythm = last(air, newest.at, kRhythmSpan);
  const double step = hours_between(rhythm.front().at, newest.at) /
                      static_cast<double>(rhythm.size() - 1);
  return Line{newest.at, newest.value, slope_per_hour(readings).degrees, step};
}

// By a share of the time from sunrise to noon.
double usual_gain_at(const UsualMorning& usual, double share) {
  const double place = std::clamp(share * UsualMorning::kPointsToNoon, 0.0,
                                  static_cast<double>(UsualMorning::kPoints - 1));
  const auto before =
      std::min(static_cast<std::size_t>(place), UsualMorning::kPoints - 2);
  return std::lerp(usual.gain.at(before), usual.gain.at(before + 1),
                   place - static_cast<double>(before));
}

// The most that a usual morning still gains between two shares.
double usual_further_gain(const UsualMorning& usual, double from, double to) {
  double most = usual_gain_at(usual, to);
  for (std::size_t i = 0; i < UsualMorning::kPoints; ++i) {
    const double share = static_cast<double>(i) / UsualMorning::kPointsToNoon;
    if (share > from && share <= to) most = std::max(most, usual.gain.at(i));
  }
  return std::max(most - usual_gain_at(usual, from), 0.0);
}

// One look at a morning under way.
class Look {
 public:
  Look(const UsualMorning& usual, const Line& line, SunTime sunrise, SunTime noon)
      : usual_(usual),
        line_(line),
        to_noon_(hours_between(sunrise, noon)),
        share_(std::max(hours_between(sunrise, line.at) / to_noon_, 0.0)),
        rise_(std::max(usual.rise, kSmallestRise)) {}

  double share() const { return share_; }

  // The further gain, in kelvins, that is exceeded as often as not.
  double gain(const Gain& gain) const {
    const Weights weighed = weighed_for(gain.ahead);
    return rise_ *
           std::inner_product(weighed.begin(), weighed.end(), gain.weights.begin(), 0.0);
  }

  bool is_likely(const Warning& warning, double gap) const {
    const double spread = warning.base * rise_ + warning.by_gap * gap;
    return gain(warning.gain) - gap >= warning.log_odds * spread;
  }

 private:
  Weights weighed_for(double ahead) const {
    const double slope = line_.per_hour / rise_;
    const double rising = std::max(slope, 0.0);
    const double morning_left = std::clamp(1.1 - share_, 0.0, 1.0);
    // Before the first morning the usual course stands for the high.
    const double below_high = usual_.high ? usual_.high->degrees - line_.air
                                          : usual_.rise - usual_gain_at(usual_, share_);
    return {1.0,
            usual_further_gain(usual_, share_, share_ + ahead / to_noon_) / rise_,
            slope,
            slope * morning_left,
            below_high / rise_,
            rising * rising,
            std::clamp(share_ - 1.0, -0.25, 1.0),
            morning_left};
  }

  const UsualMorning& usual_;
  Line line_;
  double to_noon_;  // from sunrise, hours
  double share_;    // of it that has passed
  double rise_;     // in which everything is weighed
};

Warning between(const Warning& dense, const Warning& sparse, double share) {
  Warning warning{.gain = {std::lerp(dense.gain.ahead, sparse.gain.ahead, share), {}},
                  .base = std::lerp(dense.base, sparse.base, share),
                  .by_gap = std::lerp(dense.by_gap, sparse.by_gap, share),
                  .log_odds = std::lerp(dense.log_odds, sparse.log_odds, share)};
  for (std::size_t i = 0; i < kWeighed; ++i) {
    warning.gain.weights.at(i) =
        std::lerp(dense.gain.weights.at(i), sparse.gain.weights.at(i), share);
  }
  return warning;
}

// For the rhythm of a sensor between the two that were measured.
Warning warning_for(double step) {
  const double share = (step - kDenseStep) / (kSparseStep - kDenseStep);
  return between(kDense, kSparse, std::clamp(share, 0.0, 1.0));
}

// When the expected gain has come to `gap`: along the straight lines between the gains.
Hours time_to_gain(const Look& look, double gap) {
  double hours = 0;
  double gained = 0;
  for (const Gain& gain : kGains) {
    const double then = std::max(look.gain(gain), gained);
    if (then >= gap) {
      return Hours{std::lerp(hours, gain.ahead, (gap - gained) / (then - gained))};
    }
    hours = gain.ahead;
    gained = then;
  }
  return Hours{hours};
}

// The value at a moment, on the straight line between the readings beside it; the nearer
// end outside of them. REQUIRES: readings.
double value_at(std::span<const TimedValue> readings, SunTime at) {
  const auto after = std::ranges::partition_point(
      readings, [at](const TimedValue& reading) { return reading.at < at; });
  if (after == readings.end()) return readings.back().value;
  if (after == readings.begin()) return after->value;
  const TimedValue& before = *std::prev(after);
  return std::lerp(before.value, after->value,
                   (at - before.at) / Hours(after->at - before.at));
}

bool has_gap(std::span<const TimedValue> readings, SunTime from, SunTime to) {
  SunTime before = from;
  for (const TimedValue& reading : readings) {
    if (reading.at - before > kLongestGap) return true;
    before = reading.at;
  }
  return to - before > kLongestGap;
}

// A number that readings can have led to.
double sound(const Json& json) {
  constexpr double kBeyondAllAir = 200;
  const double value = json.get<double>();
  if (!(std::abs(value) <= kBeyondAllAir)) unsound("beyond all air");
  return value;
}

UsualMorning usual_from(const Json& json) {
  const Json& gains = json.at("gain");
  if (!gains.is_array() || gains.size() != UsualMorning::kPoints) {
    unsound("a list has the wrong length");
  }
  UsualMorning usual;
  std::ranges::transform(gains, usual.gain.begin(), &sound);
  usual.rise = sound(json.at("rise"));
  if (!json.at("high").is_null()) usual.high = Celsius{sound(json.at("high"))};
  usual.mornings = json.at("mornings").get<int>();
  if (usual.mornings < 0 || usual.mornings > kMorningsThatMatter) {
    unsound("no such number of mornings");
  }
  if (usual.high.has_value() != (usual.mornings > 0)) {
    unsound("a high without a morning, or none with one");
  }
  return usual;
}

}  // namespace

Mornings::Mornings() : usual_(kFirst) {}

void Mornings::learn(const Series& air, SunTime sunrise, SunTime noon) {
  const SunTime end = noon + kMorningEnds;
  const auto morning = air.between(sunrise, end);
  if (morning.empty() || has_gap(morning, sunrise, end)) return;
  const auto around = air.between(sunrise - kLongestGap, end);
  const double start = value_at(around, sunrise);
  const double high = std::ranges::max(morning, {}, &TimedValue::value).value;
  const double news = std::max(1.0 / (usual_.mornings + 2), kLeastNews);
  for (std::size_t i = 0; i < UsualMorning::kPoints; ++i) {
    const double share = static_cast<double>(i) / UsualMorning::kPointsToNoon;
    const SunTime at = std::min(sunrise + share * (noon - sunrise), end);
    double& gain = usual_.gain.at(i);
    gain += news * (value_at(around, at) - start - gain);
  }
  usual_.rise += news * (high - start - usual_.rise);
  const double usual_high = usual_.high ? usual_.high->degrees : high;
  usual_.high = Celsius{usual_high + news * (high - usual_high)};
  usual_.mornings = std::min(usual_.mornings + 1, kMorningsThatMatter);
}

std::optional<Instant> Mornings::crossing(const Series& air, SunTime sunrise,
                                          SunTime noon, Instant now,
                                          Celsius threshold) const {
  const auto newest = air.newest_at_or_before(now, kFresh);
  if (!newest) return std::nullopt;
  const double gap = threshold.degrees - newest->value;
  if (gap <= 0) return now;
  if (now < sunrise) return std::nullopt;
  const auto line = line_through(air, *newest);
  if (!line) return std::nullopt;
  const Look look(usual_, *line, sunrise, noon);
  if (look.share() >= kLatest) return std::nullopt;
  if (!look.is_likely(warning_for(line->step), gap)) return std::nullopt;
  const auto ahead = std::chrono::floor<std::chrono::seconds>(time_to_gain(look, gap));
  return std::max(now, line->at + ahead);
}

std::string Mornings::save() const {
  const Json high = usual_.high ? Json(usual_.high->degrees) : Json(nullptr);
  return Json{{"version", kVersion},
              {"gain", usual_.gain},
              {"rise", usual_.rise},
              {"high", high},
              {"mornings", usual_.mornings}}
      .dump();
}

Result<Mornings> Mornings::restore(std::string_view text) {
  return read_saved("mornings", kVersion, text, [](const Json& json) {
    Mornings mornings;
    mornings.usual_ = usual_from(json);
    return mornings;
  });
}

}  // namespace rimeward
