#include "daemon/climate/differences.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/climate/saved_json.h"

namespace rimeward {
namespace {

using Json = nlohmann::json;

constexpr int kVersion = 1;  // of the saved text; restore() refuses another

constexpr int kFewestNights = 5;
constexpr int kMostNights = 1'000'000;  // beyond all gardens' lives
constexpr double kLeastNews = 0.04;     // weight of the newest night
// So many nights count in the end: with these weights a mean is as sure as that of so
// many which count alike.
constexpr double kMostCounted = 2.0 / kLeastNews - 1.0;
// As if so many nights more had differed by 1.5 K: the spread of a few nights alike is no
// proof, and it stays above 0.3 K for ever.
constexpr double kPriorNights = 2.0;
constexpr double kPriorVariance = 2.25;
// A night further off than so many spreads counts as this far: a sensor that fails may
// say anything before it falls silent.
constexpr double kOutlier = 4.0;

Kelvins together(Kelvins one, Kelvins other) {
  return {std::hypot(one.degrees, other.degrees)};
}

}  // namespace

Outlook stand_in(const Outlook& others, const Difference& difference) {
  Outlook outlook = others;
  outlook.low = others.low + difference.mean;
  outlook.air = others.air + difference.mean;
  outlook.spread_below = together(others.spread_below, difference.spread);
  outlook.spread_above = together(others.spread_above, difference.spread);
  outlook.low10 = outlook.low - range_side(outlook.spread_below);
  outlook.low90 = outlook.low + range_side(outlook.spread_above);
  outlook.running_low.reset();
  outlook.dew_point.reset();
  outlook.last_low.reset();
  outlook.leverage = 0.0;
  outlook.humidity_known = false;
  outlook.features = {};
  return outlook;
}

Difference Differences::expected(const Seen& seen) {
  const double counted = std::min<double>(seen.nights, kMostCounted);
  const double variance = (counted * seen.variance + kPriorNights * kPriorVariance) /
                          (counted - 1.0 + kPriorNights);
  const double spread = std::sqrt(variance * (1.0 + 1.0 / counted));
  return {{seen.mean}, {spread}, seen.nights};
}

void Differences::learn(std::string_view other, Kelvins difference) {
  auto place = places_.find(other);
  if (place == places_.end()) place = places_.emplace(std::string{other}, Seen{}).first;
  Seen& seen = place->second;
  double off = difference.degrees - seen.mean;
  if (seen.nights >= kFewestNights) {
    const double most = kOutlier * expected(seen).spread.degrees;
    off = std::clamp(off, -most, most);
  }
  seen.nights += 1;
  const double news = std::max(1.0 / seen.nights, kLeastNews);
  seen.mean += news * off;
  seen.variance = (1.0 - news) * (seen.variance + news * off * off);
}

std::optional<Difference> Differences::to(std::string_view other) const {
  const auto place = places_.find(other);
  if (place == places_.end() || place->second.nights < kFewestNights) return std::nullopt;
  return expected(place->second);
}

std::string Differences::save() const {
  Json json{{"version", kVersion}, {"places", Json::object()}};
  for (const auto& [place, seen] : places_) {
    json["places"][place] = {
        {"nights", seen.nights}, {"mean", seen.mean}, {"variance", seen.variance}};
  }
  return json.dump();
}

Result<Differences> Differences::restore(std::string_view text) {
  return read_saved("differences", kVersion, text, [](const Json& json) {
    Differences differences;
    for (const auto& [place, its] : json.at("places").items()) {
      const Seen seen{.nights = its.at("nights").get<int>(),
                      .mean = its.at("mean").get<double>(),
                      .variance = its.at("variance").get<double>()};
      if (seen.nights < 1 || seen.nights > kMostNights || !std::isfinite(seen.mean) ||
          !std::isfinite(seen.variance) || seen.variance < 0.0) {
        unsound(fmt::format("those to {} are not sound", place));
      }
      differences.places_[place] = seen;
    }
    return differences;
  });
}

}  // namespace rimeward
