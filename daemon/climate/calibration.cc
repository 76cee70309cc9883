#include "daemon/climate/calibration.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include <fmt/format.h>

namespace rimeward {
namespace {

constexpr double kIceUncertainty = 0.05;  // degrees C
// 6 % of the reading for a degree between sensor and salt (the same rule as a humidity
// table: saturation pressure changes by that much), and the degrees allowed for.
constexpr double kPerDegree = 0.06;
constexpr double kLeastGradient = 0.1;
// Two points nearer than this tell more of their own errors than of a slope.
constexpr double kLeastApart = 5.0;
constexpr double kSmallestStep = 1e-6;  // below it two values are the same one

constexpr std::array kSalts{
    Salt{"lithium-chloride",
         "lithium chloride",
         {11.2323, 0.00824245, -0.000214890, 0},
         50,
         0.27},
    Salt{"magnesium-chloride",
         "magnesium chloride",
         {33.6686, -0.00797397, -0.00108988, 0},
         50,
         0.16},
    Salt{"potassium-carbonate",
         "potassium carbonate",
         {43.1315, 0.00147523, 0, 0},
         30,
         0.39},
    Salt{"sodium-chloride",
         "sodium chloride (table salt)",
         {75.5164, 0.0398321, -0.00265459, 0.0000284800},
         50,
         0.12},
    Salt{"potassium-chloride",
         "potassium chloride",
         {88.6190, -0.193340, 0.000899706, 0},
         50,
         0.26},
    Salt{"potassium-sulfate", "potassium sulfate", {98.7792, -0.0590502, 0, 0}, 50, 0.45},
};

// Of what is uniformly spread over `width`: GUM section 4.3.7.
double uniform(double width) {
  return width / std::sqrt(12.0);
}

double resolution_of(std::span<const TimedValue> readings, double coarsest) {
  std::vector<double> values;
  for (const TimedValue& reading : readings)
    values.push_back(reading.value);
  std::ranges::sort(values);
  double step = coarsest;
  for (std::size_t i = 1; i < values.size(); ++i) {
    const double between = values[i] - values[i - 1];
    if (between > kSmallestStep) step = std::min(step, between);
  }
  return step;
}

// The fewest of the newest readings that are enough and span enough; all when none do.
std::span<const TimedValue> newest(std::span<const TimedValue> readings,
                                   std::chrono::seconds span) {
  for (std::size_t count = kSteadyReadings; count <= readings.size(); ++count) {
    const auto last = readings.last(count);
    if (last.back().at - last.front().at >= span) return last;
  }
  return readings;
}

struct Line {
  double mean = 0;
  double drift = 0;    // from the first reading's time to the last's
  double scatter = 0;  // about the line
};

// Least squares. REQUIRES: at least three readings, not all at one time.
Line line_of(std::span<const TimedValue> readings) {
  const auto seconds = [&](const TimedValue& reading) {
    return static_cast<double>((reading.at - readings.front().at).count());
  };
  const auto count = static_cast<double>(readings.size());
  double mean_time = 0;
  Line line;
  for (const TimedValue& reading : readings) {
    mean_time += seconds(reading) / count;
    line.mean += reading.value / count;
  }
  double across = 0;
  double along = 0;
  double square = 0;
  for (const TimedValue& reading : readings) {
    const double at = seconds(reading) - mean_time;
    const double off = reading.value - line.mean;
    across += at * off;
    along += at * at;
    square += off * off;
  }
  line.drift = across / along * seconds(readings.back());
  const double left = std::max(0.0, square - across * across / along);
  line.scatter = std::sqrt(left / (count - 2));
  return line;
}

}  // namespace

tl::expected<SteadyValue, NotSteady> steady(std::span<const TimedValue> readings,
                                            const SteadyLimits& limits) {
  if (readings.size() < kSteadyReadings) {
    return tl::unexpected(
        NotSteady{.why = NotSteady::Why::kTooFew, .readings = readings.size()});
  }
  const auto window = newest(readings, limits.span);
  const auto span = window.back().at - window.front().at;
  if (span < limits.span) {
    return tl::unexpected(NotSteady{
        .why = NotSteady::Why::kTooShort, .readings = readings.size(), .span = span});
  }
  const Line line = line_of(window);
  const double resolution = resolution_of(readings, limits.coarsest);
  const bool drifts = std::abs(line.drift) > std::max(limits.drift, resolution);
  const bool scatters = line.scatter > std::max(limits.scatter, resolution);
  if (drifts || scatters) {
    // A few values that jump about seem to drift, too.
    const bool is_drift = std::abs(line.drift) > 3 * line.scatter;
    return tl::unexpected(
        NotSteady{.why = is_drift ? NotSteady::Why::kDrifts : NotSteady::Why::kScatters,
                  .readings = window.size(),
                  .span = span,
                  .amount = is_drift ? line.drift : line.scatter});
  }
  const double of_mean = line.scatter / std::sqrt(static_cast<double>(window.size()));
  return SteadyValue{
      .mean = line.mean,
      .uncertainty = std::hypot(of_mean, uniform(line.drift), uniform(resolution)),
      .resolution = resolution,
      .readings = window.size(),
      .from = window.front().at,
      .to = window.back().at};
}

KnownValue ice_point() {
  return {.value = 0.0, .uncertainty = kIceUncertainty};
}

std::span<const Salt> all_salts() {
  return kSalts;
}

const Salt* find_salt(std::string_view name) {
  const auto* found = std::ranges::find(kSalts, name, &Salt::name);
  return found == kSalts.end() ? nullptr : &*found;
}

Result<KnownValue> salt_humidity(const Salt& salt, Celsius at, Kelvins swing) {
  const double t = at.degrees;
  if (!(t >= 0 && t <= salt.warmest)) {
    return refuse(
        fmt::format("what stands above {} is known from 0 to {:g} °C, not at {:.1f} °C",
                    salt.words, salt.warmest, t));
  }
  double humidity = 0;
  for (std::size_t i = salt.coefficient.size(); i > 0; --i) {
    humidity = humidity * t + salt.coefficient.at(i - 1);
  }
  const double gradient = std::max(kLeastGradient, uniform(swing.degrees));
  return KnownValue{.value = humidity,
                    .uncertainty = std::hypot(salt.published_uncertainty / 2,
                                              kPerDegree * humidity * gradient)};
}

CheckPoint check_point(const SteadyValue& said, const KnownValue& known) {
  return {.said = said.mean,
          .known = known.value,
          .uncertainty = std::hypot(said.uncertainty, known.uncertainty)};
}

CorrectionLine offset_through(const CheckPoint& point) {
  return {.gain = 1,
          .offset = point.known - point.said,
          .uncertainty95 = 2 * point.uncertainty};
}

Result<CorrectionLine> line_through(const CheckPoint& one, const CheckPoint& other,
                                    Channel channel) {
  if (std::abs(other.said - one.said) < kLeastApart ||
      std::abs(other.known - one.known) < kLeastApart) {
    return refuse(fmt::format("the two points must lie at least {:g} {} apart",
                              kLeastApart, traits(channel).unit));
  }
  CorrectionLine line;
  line.gain = (other.known - one.known) / (other.said - one.said);
  if (line.gain <= 0) return refuse("the two points run against each other");
  line.offset = one.known - line.gain * one.said;
  line.uncertainty95 = 2 * std::max(one.uncertainty, other.uncertainty);
  return line;
}

std::optional<double> largest_sound_offset(Channel channel, const SensorType* type) {
  switch (channel) {
    case Channel::kAirTemperature:
    case Channel::kSoilTemperature:
      return type == nullptr ? 1.0 : std::min(1.0, 2 * type->accuracy);
    case Channel::kHumidity:
      return 10.0;
    default:
      return std::nullopt;
  }
}

}  // namespace rimeward
