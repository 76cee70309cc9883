// The loose and the packed readings as one: what was stored last lies loose, a row each;
// days that are over are packed; what comes late for a packed day lies loose until it is
// packed as well. A reading is in one of the two, never in both. Not thread-safe.

#pragma once

#include "daemon/store/chunk_tier.h"
#include "daemon/store/database.h"
#include "daemon/store/mark_table.h"
#include "daemon/store/reading_tier.h"
#include "daemon/store/recent_tier.h"

namespace rimeward {

class Readings final : public ReadingTier {
 public:
  // REQUIRES: `database` outlives this and holds the current schema.
  explicit Readings(Database& database)
      : database_(database), loose_(database), packed_(database), marks_(database) {}

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

  // Packs the oldest loose readings, of one UTC day that was over at `at`: about
  // kPackedAtOnce of them at most, in one transaction. False: there were none.
  // REQUIRES: no transaction is open.
  bool pack_some(Instant at);
  // Drops the readings of the oldest UTC day that was over at `keep_from`, and answers
  // how many. REQUIRES: a Transaction is open.
  std::int64_t drop_a_day(Instant keep_from);
  // All from before it were dropped, and none is to be stored again: nothing could tell
  // whether it was there already. Nothing: all are kept.
  std::optional<Instant> kept_from() const;
  PackingState packing() const;

 private:
  static constexpr std::int64_t kPackedAtOnce = 100'000;

  std::vector<ReadingRow> loose_of(const ReadingSpan& span) const;
  std::vector<Instant> packed_times(SeriesId series, ChunkTier::Day day,
                                    Instant from) const;
  SeriesId last_series_at_once(ChunkTier::Day day) const;

  Database& database_;
  RecentTier loose_;
  ChunkTier packed_;
  MarkTable marks_;
};

}  // namespace rimeward
