// The tier of readings as they come: one row each, in order of time. Behind them, from
// kEndOfInstants on, stand marks: daemon/store/mark_table.h.

#pragma once

#include "daemon/store/database.h"
#include "daemon/store/reading_tier.h"

namespace rimeward {

class RecentTier final : public ReadingTier {
 public:
  // REQUIRES: `database` outlives this and holds the current schema.
  explicit RecentTier(Database& database) : database_(database) {}

  std::optional<Milli> insert(const ReadingRow& reading) override;
  bool erase(SeriesId series, Instant time) override;
  void each(const ReadingSpan& span,
            const std::function<void(const ReadingRow&)>& visit) const override;
  std::optional<Latest> latest(SeriesId series, Instant from) const override;
  std::vector<Instant> latest_times(SeriesId series, std::size_t count,
                                    Instant from) const override;
  std::optional<Instant> next(Instant from) const override;
  std::optional<Instant> newest() const override;
  std::int64_t count(Instant from) const override;

 private:
  Database& database_;
};

}  // namespace rimeward
