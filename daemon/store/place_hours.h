// The hours and days of places as the store has them, whatever sensors spoke for a place
// over time.

#pragma once

#include <chrono>
#include <map>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/climate/hour_book.h"
#include "daemon/store/store.h"

namespace rimeward {

// The series that speaks for a place: that of its first sensor, in the order of the
// settings, which has one there. Nothing when none was ever stored.
std::optional<SeriesId> series_of(std::span<const SeriesRow> all, const Garden& garden,
                                  const Place& place, Channel channel);

// Of the sensors of the settings file the first speaks for an hour, then the others, then
// those no longer in it, the newest first. `from` and `to`: whole hours.
HourBook place_hours(const Store& store, const Garden& garden, const Place& place,
                     Instant from, Instant to);

// The same of every place of the garden, in its order, each from its own hour on, in one
// pass. REQUIRES: `from` has one for each.
std::vector<HourBook> all_place_hours(const Store& store, const Garden& garden,
                                      std::span<const Instant> from, Instant to);

// Of the air of `places` alone, in their order, all from the same hour on. REQUIRES: they
// are of the garden.
std::vector<HourBook> air_hours(const Store& store, const Garden& garden,
                                std::span<const Place* const> places, Instant from,
                                Instant to);

// By the date on which each began.
using DaysByDate = std::map<std::chrono::sys_days, Extremes>;

// The days of the air of every place of the garden, in its order: each that of the first
// sensor, in the same order, that has it whole; where none has, of the one that has most
// of it. REQUIRES: from <= to, both included.
std::vector<DaysByDate> all_place_days(const Store& store, const Garden& garden,
                                       std::chrono::sys_days from,
                                       std::chrono::sys_days to, const DayGrid& grid);

// The rank by which a sensor of the settings file speaks in an HourBook: its number
// there.
std::size_t hour_rank(const Garden& garden, std::string_view sensor);

// The same for a series; those of sensors that no longer speak for its place come after
// the others. `newest`: the largest id of all series.
std::size_t hour_rank(const Garden& garden, const SeriesRow& series, SeriesId newest);

}  // namespace rimeward
