#include "daemon/place_climate.h"

#include <algorithm>
#include <utility>

#include "daemon/store/outlook_rows.h"

namespace rimeward {
namespace {

CoverHistory covers_of(const Place& place, const Store& store,
                       std::optional<Instant> now) {
  if (!now) return {};
  return history_of(store.covers(place.id, *now - kRecentSpan));
}

void take_lower(std::optional<TimedValue>& lowest, const TimedValue& reading) {
  if (!lowest || reading.value < lowest->value) lowest = reading;
}

}  // namespace

PlaceClimate::PlaceClimate(const Garden& garden, const Place& place, const Prior& prior,
                           const Store& store, std::optional<Instant> now)
    : place_(&place),
      outlook_(garden, place, prior, store),
      covers_(covers_of(place, store, now)) {}

void PlaceClimate::adopt_series(SeriesId series, Channel channel, std::size_t rank) {
  const auto adopt = [&](std::optional<Voice>& voice, Series& readings) {
    if (voice && voice->rank <= rank) return;
    voice = Voice{series, rank};
    readings = Series{};
    since_sunset_.reset();
  };
  if (channel == Channel::kAirTemperature) adopt(air_, recents_.air);
  if (channel == Channel::kHumidity) adopt(humidity_, recents_.humidity);
  if (channel == Channel::kPressure) adopt(pressure_, recents_.pressure);
  if (channel == Channel::kForecastLow) adopt(forecast_low_, recents_.forecast_low);
}

Series* PlaceClimate::series_of(SeriesId series) {
  return const_cast<Series*>(std::as_const(*this).readings_of(series));
}

const Series* PlaceClimate::readings_of(SeriesId series) const {
  if (air_ && air_->series == series) return &recents_.air;
  if (humidity_ && humidity_->series == series) return &recents_.humidity;
  if (pressure_ && pressure_->series == series) return &recents_.pressure;
  if (forecast_low_ && forecast_low_->series == series) return &recents_.forecast_low;
  return nullptr;
}

bool PlaceClimate::take(const ReadingRow& reading) {
  Series* series = series_of(reading.series);
  if (series == nullptr || !series->insert(reading.time, from_milli(reading.value))) {
    return false;
  }
  if (series == &recents_.air) {
    outlook_.start(reading.time);
    if (since_sunset_ && reading.time <= since_sunset_->until) since_sunset_.reset();
  }
  return true;
}

void PlaceClimate::withdraw(SeriesId series, Instant time) {
  if (Series* readings = series_of(series)) readings->erase(time);
  since_sunset_.reset();
}

void PlaceClimate::set_cover(int layers, Instant since, Changes& changes) {
  // What is said later holds later, whatever the clock that dated it.
  if (!covers_.empty()) since = std::max(since, covers_.back().since);
  std::erase_if(covers_, [since](const CoverChange& one) { return one.since == since; });
  covers_.push_back({.since = since, .layers = layers});
  changes.covers.push_back({.place = place_->id, .since = since, .layers = layers});
  since_sunset_.reset();
}

const PlaceClimate::SinceSunset& PlaceClimate::since_sunset(const OutlookRow& row,
                                                            Instant now) const {
  if (!since_sunset_ || since_sunset_->sunset != row.sunset) {
    since_sunset_ =
        SinceSunset{.sunset = row.sunset, .until = row.sunset - std::chrono::seconds{1}};
  }
  SinceSunset& since = *since_sunset_;
  for (const TimedValue& reading : recents_.air.between(since.until, now)) {
    take_lower(since.measured, reading);
    const Kelvins lift = lift_at(covers_, outlook_.lifts(), night_of(row), reading.at);
    take_lower(since.uncovered, {reading.at, reading.value - lift.degrees});
  }
  since.until = std::max(since.until, now);
  return since;
}

std::optional<TimedValue> PlaceClimate::lowest_since_sunset(Instant now) const {
  if (outlook_.tonight().empty()) return std::nullopt;
  return since_sunset(outlook_.tonight().back(), now).measured;
}

std::optional<NightCourse> PlaceClimate::course(Instant now) const {
  if (outlook_.tonight().empty()) return std::nullopt;
  const OutlookRow& row = outlook_.tonight().back();
  const auto newest = recents_.air.newest_at_or_before(now, kRecentSpan);
  if (!newest || newest->at <= row.issued_at) {
    return course_of(row, std::nullopt);
  }
  const auto lift = lift_at(covers_, outlook_.lifts(), night_of(row), newest->at);
  const auto& lowest = since_sunset(row, now).uncovered;
  ReadSince read{.at = newest->at,
                 .air = Celsius{newest->value} - lift,
                 .lowest = {},
                 .lowest_at = {}};
  if (lowest) {
    read.lowest = Celsius{lowest->value};
    read.lowest_at = lowest->at;
  }
  return course_of(row, read);
}

void PlaceClimate::forget_before(Instant oldest) {
  recents_.forget_before(oldest);
  // The cover that was on then is still to be known.
  while (covers_.size() > 1 && covers_[1].since <= oldest)
    covers_.erase(covers_.begin());
}

}  // namespace rimeward
