#include "daemon/climate/lift.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <cstdint>

#include <nlohmann/json.hpp>

#include "daemon/climate/saved_json.h"

namespace rimeward {
namespace {

using Json = nlohmann::json;

constexpr int kVersion = 1;  // of the text; restore() refuses another

// Where every place begins.
constexpr double kOneLayer = 1.0;  // kelvins; see the header
constexpr double kMostPublished = 6.0;
constexpr double kOneLayerSpread = 1.0;
// Of the lifts of numbers of layers that differ by one. With a spread that grows as the
// root of the layers: where one layer adds 0.3 K, two are believed to add 1.1 and not 2.
constexpr double kCorrelation = 0.9;

// From one night to the next under the same cover, by cloud and wind: a share of the
// lift, and what remains where there is next to none. This project's own, from its
// simulation of a covered place (tests/support/covered_place.h).
constexpr double kNightlyShare = 0.5;
constexpr double kNightlyLeast = 0.2;

// Of what was learned of the lifts, the share that is left after a night; what was
// learned longer ago than some thirty covered nights hardly counts.
constexpr double kKept = 0.999;

// In standard errors: what is farther off is taken for this far.
constexpr double kWildly = 2.5;

// Beyond all fleece: what is restored is refused from here on.
constexpr double kBeyondAll = 100.0;
constexpr std::int64_t kMostNights = 1'000'000;

constexpr std::size_t position(std::size_t row, std::size_t column) {
  return row >= column ? row * (row + 1) / 2 + column : position(column, row);
}

std::size_t index_of(int layers) {
  assert(1 <= layers && layers <= kMostLayers);
  return static_cast<std::size_t>(layers) - 1;
}

double published(std::size_t index) {
  return std::min(kOneLayer * static_cast<double>(index + 1), kMostPublished);
}

double published_covariance(std::size_t row, std::size_t column) {
  const auto spread = [](std::size_t index) {
    return kOneLayerSpread * std::sqrt(static_cast<double>(index + 1));
  };
  const double apart = static_cast<double>(row) - static_cast<double>(column);
  return spread(row) * spread(column) * std::pow(kCorrelation, std::abs(apart));
}

template <std::size_t kSize>
void read(const Json& json, std::array<double, kSize>& into) {
  if (!json.is_array() || json.size() != kSize) unsound("a list has the wrong length");
  for (std::size_t i = 0; i < kSize; ++i)
    into.at(i) = json[i].get<double>();
}

template <std::size_t kSize>
void read_counts(const Json& json, std::array<int, kSize>& into) {
  if (!json.is_array() || json.size() != kSize) unsound("a list has the wrong length");
  for (std::size_t i = 0; i < kSize; ++i) {
    const auto count = json[i].get<std::int64_t>();
    if (count < 0 || count > kMostNights) unsound("no count of nights");
    into.at(i) = static_cast<int>(count);
  }
}

// Of the lift of one night about its mean.
double nightly_variance(double added) {
  const double spread = std::hypot(kNightlyShare * added, kNightlyLeast);
  return spread * spread;
}

}  // namespace

Lifts::Lifts() {
  for (std::size_t row = 0; row < kCounts; ++row) {
    added_.at(row) = published(row);
    for (std::size_t column = 0; column <= row; ++column)
      covariance_.at(position(row, column)) = published_covariance(row, column);
  }
}

Lift Lifts::of(int layers) const {
  if (layers == 0) return {};
  const std::size_t index = index_of(layers);
  const double added = added_.at(index);
  const double variance =
      covariance_.at(position(index, index)) + nightly_variance(added);
  return {{added}, {std::sqrt(variance)}, nights_.at(index)};
}

// The belief is that of a lift which strays from what is published and is drawn back to
// it, night by night: left alone, it would come to be what it was at first.
void Lifts::fall_back() {
  for (std::size_t row = 0; row < kCounts; ++row) {
    added_.at(row) = published(row) + kKept * (added_.at(row) - published(row));
    for (std::size_t column = 0; column <= row; ++column) {
      double& covariance = covariance_.at(position(row, column));
      covariance = kKept * kKept * covariance +
                   (1.0 - kKept * kKept) * published_covariance(row, column);
    }
  }
}

void Lifts::learn(int layers, Kelvins added, Kelvins error) {
  assert(error.degrees > 0.0);
  const std::size_t seen = index_of(layers);
  fall_back();
  std::array<double, kCounts> with_seen{};  // covariances with the lift that was seen
  for (std::size_t i = 0; i < kCounts; ++i)
    with_seen.at(i) = covariance_.at(position(i, seen));
  const double variance = with_seen.at(seen) + nightly_variance(added_.at(seen)) +
                          error.degrees * error.degrees;
  const double most = kWildly * std::sqrt(variance);
  const double surprise = std::clamp(added.degrees - added_.at(seen), -most, most);
  for (std::size_t row = 0; row < kCounts; ++row) {
    added_.at(row) += with_seen.at(row) / variance * surprise;
    for (std::size_t column = 0; column <= row; ++column) {
      covariance_.at(position(row, column)) -=
          with_seen.at(row) * with_seen.at(column) / variance;
    }
  }
  if (nights_.at(seen) < kMostNights) ++nights_.at(seen);
}

std::string Lifts::save() const {
  return Json{{"version", kVersion},
              {"added", added_},
              {"covariance", covariance_},
              {"nights", nights_}}
      .dump();
}

// Finite numbers, and a matrix that some belief can have.
bool Lifts::is_sound() const {
  const auto plausible = [](double number) { return std::abs(number) < kBeyondAll; };
  if (!std::ranges::all_of(added_, plausible)) return false;
  if (!std::ranges::all_of(covariance_, plausible)) return false;
  // By Cholesky's method, which comes upon no root of a negative number.
  Triangle root{};
  for (std::size_t row = 0; row < kCounts; ++row) {
    for (std::size_t column = 0; column <= row; ++column) {
      double left = covariance_.at(position(row, column));
      for (std::size_t i = 0; i < column; ++i)
        left -= root.at(position(row, i)) * root.at(position(column, i));
      if (row == column && left <= 0.0) return false;
      root.at(position(row, column)) =
          row == column ? std::sqrt(left) : left / root.at(position(column, column));
    }
  }
  return true;
}

Result<Lifts> Lifts::restore(std::string_view text) {
  return read_saved("lifts", kVersion, text, [](const Json& json) {
    Lifts lifts;
    read(json.at("added"), lifts.added_);
    read(json.at("covariance"), lifts.covariance_);
    read_counts(json.at("nights"), lifts.nights_);
    if (!lifts.is_sound()) unsound("no belief of lifts");
    return lifts;
  });
}

}  // namespace rimeward
