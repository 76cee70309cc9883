// Where readings lie, in some form: the loose rows (daemon/store/recent_tier.h), or these
// and the packed days as one (daemon/store/readings.h). The summaries and the store ask
// for readings only through this. Not thread-safe.

#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

#include "daemon/store/rows.h"

namespace rimeward {

// Readings with from <= time < to, of one series or of all.
struct ReadingSpan {
  Instant from;
  Instant to;
  std::optional<SeriesId> series;
};

class ReadingTier {
 public:
  ReadingTier() = default;
  ReadingTier(const ReadingTier&) = delete;
  ReadingTier& operator=(const ReadingTier&) = delete;
  virtual ~ReadingTier() = default;

  // Stores a reading, unless one of that series and second is there: then nothing is
  // changed, and the value that is there comes back.
  virtual std::optional<Milli> insert(const ReadingRow& reading) = 0;

  // Takes a reading out; false when there is none.
  virtual bool erase(SeriesId series, Instant time) = 0;

  // In order of time, then series.
  virtual void each(const ReadingSpan& span,
                    const std::function<void(const ReadingRow&)>& visit) const = 0;

  // The newest of a series, not before `from`.
  virtual std::optional<Latest> latest(SeriesId series, Instant from) const = 0;

  // The newest `count` times of a series, newest first, not before `from`.
  virtual std::vector<Instant> latest_times(SeriesId series, std::size_t count,
                                            Instant from) const = 0;

  // The time of the oldest reading of any series that is not before `from`.
  virtual std::optional<Instant> next(Instant from) const = 0;

  // The time of the newest reading of any series.
  virtual std::optional<Instant> newest() const = 0;

  // How many readings are not before `from`, by counting them.
  virtual std::int64_t count(Instant from) const = 0;
};

}  // namespace rimeward
