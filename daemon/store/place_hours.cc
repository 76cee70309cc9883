#include "daemon/store/place_hours.h"

#include <algorithm>

#include "daemon/climate/coverage.h"

namespace rimeward {
namespace {

// Where the hours of one series belong.
struct Voice {
  std::size_t place = 0;  // number in the garden
  Channel channel{};
  std::size_t rank = 0;
};

// Series that never spoke for a place of the garden are left out.
std::map<SeriesId, Voice> voices_of(const Store& store, const Garden& garden) {
  std::map<SeriesId, Voice> voices;
  const std::vector<SeriesRow> all = store.all_series();
  for (const SeriesRow& row : all) {
    const auto place = std::ranges::find(garden.places, row.place, &Place::id);
    if (place == garden.places.end()) continue;
    voices[row.id] = {static_cast<std::size_t>(place - garden.places.begin()),
                      row.channel, hour_rank(garden, row, all.back().id)};
  }
  return voices;
}

void put(HourBook& book, const Voice& voice, const HourRow& row) {
  book.put(voice.channel, voice.rank, row.hour, {row.extremes.sum, row.extremes.count});
}

// True where `one` tells better what the day came to: its hours make a day and the
// other's do not, or neither's do and it has more.
bool tells_better(const Extremes& one, const Extremes& other) {
  return std::min(one.hours, kWholeDay) > std::min(other.hours, kWholeDay);
}

}  // namespace

std::optional<SeriesId> series_of(std::span<const SeriesRow> all, const Garden& garden,
                                  const Place& place, Channel channel) {
  for (const Sensor& sensor : garden.sensors) {
    if (sensor.place != place.id) continue;
    const auto found = std::ranges::find_if(all, [&](const SeriesRow& row) {
      return row.sensor == sensor.id && row.place == place.id && row.channel == channel;
    });
    if (found != all.end()) return found->id;
  }
  return std::nullopt;
}

std::size_t hour_rank(const Garden& garden, std::string_view sensor) {
  const auto found = std::ranges::find(garden.sensors, sensor, &Sensor::id);
  return static_cast<std::size_t>(found - garden.sensors.begin());
}

std::size_t hour_rank(const Garden& garden, const SeriesRow& series, SeriesId newest) {
  const std::size_t number = hour_rank(garden, series.sensor);
  const std::size_t sensors = garden.sensors.size();
  const bool speaks = number < sensors && garden.sensors[number].place == series.place;
  return speaks ? number : sensors + static_cast<std::size_t>(newest - series.id);
}

std::vector<HourBook> all_place_hours(const Store& store, const Garden& garden,
                                      std::span<const Instant> from, Instant to) {
  std::vector<HourBook> books(garden.places.size());
  if (books.empty()) return books;
  const std::map<SeriesId, Voice> voices = voices_of(store, garden);
  store.each_hour(std::ranges::min(from), to, [&](SeriesId series, const HourRow& row) {
    const auto voice = voices.find(series);
    if (voice == voices.end() || row.hour < from[voice->second.place]) return;
    put(books[voice->second.place], voice->second, row);
  });
  return books;
}

std::vector<HourBook> air_hours(const Store& store, const Garden& garden,
                                std::span<const Place* const> places, Instant from,
                                Instant to) {
  std::vector<HourBook> books(places.size());
  if (books.empty()) return books;
  const std::map<SeriesId, Voice> voices = voices_of(store, garden);
  constexpr Channel kAir = Channel::kAirTemperature;
  store.each_hour_of(kAir, from, to, [&](SeriesId series, const HourRow& row) {
    const auto voice = voices.find(series);
    if (voice == voices.end()) return;
    const auto place = std::ranges::find(places, &garden.places[voice->second.place]);
    if (place == places.end()) return;
    put(books[static_cast<std::size_t>(place - places.begin())], voice->second, row);
  });
  return books;
}

HourBook place_hours(const Store& store, const Garden& garden, const Place& place,
                     Instant from, Instant to) {
  HourBook book;
  for (const auto& [series, voice] : voices_of(store, garden)) {
    if (&garden.places[voice.place] != &place) continue;
    for (const HourRow& row : store.hours(series, from, to))
      put(book, voice, row);
  }
  return book;
}

std::vector<DaysByDate> all_place_days(const Store& store, const Garden& garden,
                                       std::chrono::sys_days from,
                                       std::chrono::sys_days to, const DayGrid& grid) {
  const std::map<SeriesId, Voice> voices = voices_of(store, garden);
  std::vector<std::map<std::chrono::sys_days, std::map<std::size_t, Extremes>>> ranked(
      garden.places.size());
  for (const DayRow& row : store.days(from, to, grid)) {
    const auto voice = voices.find(row.series);
    if (voice == voices.end()) continue;
    if (voice->second.channel != Channel::kAirTemperature) continue;
    ranked[voice->second.place][row.date][voice->second.rank] = row.extremes;
  }
  std::vector<DaysByDate> result(garden.places.size());
  for (std::size_t place = 0; place < result.size(); ++place) {
    for (const auto& [date, by_rank] : ranked[place]) {
      const auto best = std::ranges::max_element(
          by_rank,
          [](const auto& a, const auto& b) { return tells_better(b.second, a.second); });
      result[place][date] = best->second;
    }
  }
  return result;
}

}  // namespace rimeward
