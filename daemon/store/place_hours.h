// The hours of places as the store has them, whatever sensors spoke for a place over
// time.

#pragma once

#include <string_view>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/climate/hour_book.h"
#include "daemon/store/store.h"

namespace rimeward {

// Of the sensors of the settings file the first speaks for an hour, then the others, then
// those no longer in it, the newest first. `from` and `to`: whole hours.
HourBook place_hours(const Store& store, const Garden& garden, const Place& place,
                     Instant from, Instant to);

// The same of every place of the garden, in its order, in one pass.
std::vector<HourBook> all_place_hours(const Store& store, const Garden& garden,
                                      Instant from, Instant to);

// The rank by which a sensor of the settings file speaks in an HourBook: its number
// there.
std::size_t hour_rank(const Garden& garden, std::string_view sensor);

// The same for a series; those of sensors that no longer speak for its place come after
// the others. `newest`: the largest id of all series.
std::size_t hour_rank(const Garden& garden, const SeriesRow& series, SeriesId newest);

}  // namespace rimeward
