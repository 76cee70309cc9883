// Sums of readings: what a span of each series came to, put together from readings and
// from spans already summed. Pure.

#pragma once

#include <map>

#include "daemon/store/rows.h"

namespace rimeward {

Extremes extremes_of(const ReadingRow& reading);

// Puts `other` to `into`, whichever is earlier. Counts an hour that both hold part of
// twice.
void merge(Extremes& into, const Extremes& other);

// REQUIRES: each series is given in order of time, and a UTC clock hour either whole, by
// add_hour, or reading by reading.
class Tally {
 public:
  void add(const ReadingRow& reading);
  void add_hour(SeriesId series, Instant hour, const Extremes& extremes);

  bool empty() const { return entries_.empty(); }
  // In order of series.
  std::vector<std::pair<SeriesId, Extremes>> result() const;

 private:
  struct Entry {
    Extremes extremes;
    Instant last_hour;
  };
  void put(SeriesId series, Instant hour, const Extremes& extremes);

  std::map<SeriesId, Entry> entries_;
};

}  // namespace rimeward
