#include "daemon/place_climate.h"

#include <utility>
#include <variant>

#include "daemon/store/outlook_rows.h"
#include "daemon/store/store_error.h"

namespace rimeward {
namespace {

constexpr std::chrono::days kNightsKept{21};

NightOutlook engine_from(const Garden& garden, const Place& place, const Prior& prior,
                         const Store& store) {
  const auto saved = store.outlook_state(place.id);
  if (!saved) return NightOutlook(garden.position, prior);
  auto engine = NightOutlook::restore(garden.position, prior, *saved);
  if (!engine) {
    throw StoreError("the stored outlook of " + place.id + " cannot be read (" +
                     engine.error().message + "); restore a backup of the store");
  }
  return std::move(*engine);
}

}  // namespace

PlaceClimate::PlaceClimate(const Garden& garden, const Place& place, const Prior& prior,
                           const Store& store)
    : place_(&place), engine_(engine_from(garden, place, prior, store)) {
  if (const auto& outlook = engine_.current()) {
    const auto night = date_of_night(outlook->solar_day);
    tonight_ = store.outlooks(place.id, night, night);
  }
  if (const auto newest = store.latest_night(place.id)) {
    nights_ = store.nights(place.id, *newest - kNightsKept, *newest);
    forget_old_nights();
  }
}

void PlaceClimate::forget_old_nights() {
  if (nights_.empty()) return;
  const auto oldest = nights_.back().night - kNightsKept;
  std::erase_if(nights_, [oldest](const NightRow& row) { return row.night <= oldest; });
}

void PlaceClimate::adopt_series(SeriesId series, Channel channel, std::size_t rank) {
  const auto adopt = [&](std::optional<Voice>& voice, Series& readings) {
    if (voice && voice->rank <= rank) return;
    voice = Voice{series, rank};
    readings = Series{};
  };
  if (channel == Channel::kAirTemperature) adopt(air_, recents_.air);
  if (channel == Channel::kHumidity) adopt(humidity_, recents_.humidity);
}

Series* PlaceClimate::series_of(SeriesId series) {
  return const_cast<Series*>(std::as_const(*this).readings_of(series));
}

const Series* PlaceClimate::readings_of(SeriesId series) const {
  if (air_ && air_->series == series) return &recents_.air;
  if (humidity_ && humidity_->series == series) return &recents_.humidity;
  return nullptr;
}

bool PlaceClimate::take(const ReadingRow& reading) {
  Series* series = series_of(reading.series);
  if (series == nullptr || !series->insert(reading.time, from_milli(reading.value))) {
    return false;
  }
  if (series == &recents_.air) engine_.start(reading.time);
  return true;
}

void PlaceClimate::withdraw(SeriesId series, Instant time) {
  if (Series* readings = series_of(series)) readings->erase(time);
}

std::optional<OutlookEvent> PlaceClimate::run_next(Changes& changes) {
  auto event = engine_.run_next(recents_);
  if (!event) return event;
  if (const auto* issued = std::get_if<Issued>(&*event)) {
    OutlookRow row = row_of(issued->outlook, place_->id);
    if (!tonight_.empty() && tonight_.front().night != row.night) tonight_.clear();
    tonight_.push_back(row);
    changes.outlooks.push_back(std::move(row));
  } else if (const auto* ended = std::get_if<NightEnded>(&*event)) {
    tonight_.clear();
    nights_.push_back({.place = place_->id,
                       .night = ended->night,
                       .low = ended->low,
                       .low_at = ended->low_at});
    forget_old_nights();
    changes.nights.push_back(nights_.back());
  }
  return event;
}

void PlaceClimate::save_state(Changes& changes) const {
  changes.outlook_states[place_->id] = engine_.save();
}

}  // namespace rimeward
