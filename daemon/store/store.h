// The store: everything that must outlive a restart, in one SQLite file.
//
// One writer (the daemon's loop thread) and any number of readers in other processes,
// which write only what is said below. Not thread-safe: one Store a thread. Readings lie
// loose, a row each, until their day is over and pack_some() packs it; queries see the
// loose and the packed as one. Hourly and daily summaries are kept beside them, so that
// highs and lows never scan readings; they cover all hours before summarised_until(), and
// what is later is summed from the readings themselves.
//
// Throws StoreError for a broken machine: disk full, read-only medium, corrupt file, a
// file from a newer version. Nothing stored before is harmed by that, and a commit that
// threw may be tried again with the same Changes.

#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/zone.h"
#include "daemon/store/rows.h"
#include "daemon/store/store_error.h"

namespace rimeward {

class Store {
 public:
  enum class Access { kReadWrite, kReadOnly };

  // Opens the file, making and migrating it as needed when kReadWrite. kReadOnly never
  // writes, and works on a read-only medium too.
  static Store open(const std::filesystem::path& file, Access access);
  // A store that lives in memory, for rehearsals and tests.
  static Store in_memory();
  // A store in memory that goes on from what can still be read of `file`, for a garden
  // whose medium fails: all but the readings and hours from before `since`. What cannot
  // be read is left out; nothing is written to the file.
  static Store standing_in(const std::filesystem::path& file, Instant since);

  Store(Store&&) noexcept;
  Store& operator=(Store&&) noexcept;
  ~Store();

  // How days are cut. Daily summaries made under another rule are made anew from the
  // hourly ones and the readings. Called once after opening, by the writer.
  void set_days(const DayGrid& days);

  // Writes all of `changes` in one transaction and brings the summaries up to
  // `changes.now`. A reading that is already stored (same series and second) with the
  // same value is dropped and counted; with another value it is kept as doubtful. Late
  // readings, and readings withdrawn, bring the hours and days that they fall into up to
  // date.
  void commit(const Changes& changes);

  // --- the care of what is old, by the writer; each call is one short transaction
  // Packs the oldest loose readings, of one UTC day that was over at `at`, late ones of a
  // packed day too. False: there was nothing to pack. What queries answer stays the same.
  bool pack_some(Instant at);
  // Drops the readings of the oldest UTC day that was over before `keep_from`, for good;
  // summaries stay. False: there were none.
  bool drop_a_day(Instant keep_from);
  // Adds to what the daemon wrote to its medium on that UTC day.
  void add_written(std::chrono::sys_days day, std::int64_t bytes);

  // Lets go of the memory that is held only to be faster.
  void give_back_memory();

  // --- what a second process writes: records, and what the gardener said
  // As set_days(), but daily summaries made under another rule are left to the writer.
  void follow_days(const DayGrid& days);
  // Puts records beside what is stored, all or nothing: what is there stays, whether the
  // same or another, and is neither counted nor kept as doubtful. Nothing at all is
  // written where nothing is new; else `with_new` is, too. Answers for each in its order.
  std::vector<RecordOutcome> add_records(const Records& records,
                                         const std::optional<ActionRow>& with_new = {});
  // The same of noted days; a low and a high of one date complete each other.
  std::vector<RecordOutcome> add_records(std::span<const NotedDayRow> days,
                                         const std::optional<ActionRow>& with_new = {});
  std::int64_t add_action(const ActionRow& action);
  std::vector<ActionRow> actions_after(std::int64_t id) const;

  // --- readings and summaries
  std::vector<SeriesRow> all_series() const;
  // In order of time, then series; from <= time < to.
  void each_reading(Instant from, Instant to,
                    const std::function<void(const ReadingRow&)>& visit) const;
  std::optional<Latest> latest(SeriesId series) const;
  // The newest `count` readings' times of a series, newest first, not before `from`.
  std::vector<Instant> latest_times(SeriesId series, std::size_t count,
                                    Instant from) const;
  // Nothing where the span holds no reading.
  std::optional<Extremes> extremes(SeriesId series, Instant from, Instant to) const;
  // Days with at least one reading, the one under way too; oldest first, then by series.
  // REQUIRES: from <= to, both included, are dates on which days begin.
  std::vector<DayRow> days(std::chrono::sys_days from, std::chrono::sys_days to,
                           const DayGrid& grid) const;
  // The hours that have a reading, the one under way too, by time, then series.
  // REQUIRES: from <= to, whole hours.
  void each_hour(
      Instant from, Instant to,
      const std::function<void(SeriesId series, const HourRow& row)>& visit) const;
  // The same of the series of one channel: of years that is much less to go through.
  void each_hour_of(
      Channel channel, Instant from, Instant to,
      const std::function<void(SeriesId series, const HourRow& row)>& visit) const;
  // The same of one series.
  std::vector<HourRow> hours(SeriesId series, Instant from, Instant to) const;
  std::vector<DoubtfulRow> doubtful(Instant from, Instant to) const;  // oldest first
  // The newest `count` of a series, newest first.
  std::vector<DoubtfulRow> latest_doubtful(SeriesId series, std::size_t count) const;
  std::int64_t reading_count() const;
  // The time of the oldest reading that is not before `from`.
  std::optional<Instant> next_reading(Instant from) const;

  PackingState packing() const;
  // Readings are kept from here on; nothing: all are.
  std::optional<Instant> readings_kept_from() const;
  std::vector<WrittenRow> written() const;  // by day

  // --- sensors
  std::vector<TallyRow> tallies() const;  // by sensor, channel, doubt; none of count 0
  std::vector<FactRow> facts() const;     // by sensor, name
  std::vector<HeardRow> heard() const;    // by topic
  std::vector<CorrectionRow> corrections() const;  // by id

  // --- outlooks
  // What was learned of a place, as the subject's class saved it: "outlook", "lift",
  // "differences", "surprises", "opinion", "mornings".
  std::optional<std::string> learned(std::string_view place,
                                     std::string_view subject) const;
  // Oldest first.
  std::vector<OutlookRow> outlooks(std::string_view place, std::chrono::sys_days from,
                                   std::chrono::sys_days to) const;
  std::vector<NightRow> nights(std::string_view place, std::chrono::sys_days from,
                               std::chrono::sys_days to) const;
  std::optional<std::chrono::sys_days> latest_night(std::string_view place) const;

  // --- notices
  std::vector<NoticeRow> open_notices() const;                     // oldest first
  std::vector<NoticeRow> latest_notices(std::size_t count) const;  // newest first
  std::optional<NoticeRow> notice(NoticeId id) const;
  std::vector<MatterRow> matters() const;
  std::vector<OutboxRow> waiting_outbox() const;  // oldest first
  NoticeId last_notice_id() const;                // 0: none yet
  std::int64_t last_outbox_id() const;
  std::vector<RouteRow> routes() const;  // by name
  std::vector<MuteRow> mutes() const;    // past ones too

  // --- what the gardener keeps and did
  // The cover of each place now; a place never covered is left out.
  std::vector<CoverRow> covers() const;
  // Of one place, oldest first: the cover that was on at `from`, where one was ever
  // written down by then, and all changes since.
  std::vector<CoverRow> covers(std::string_view place, Instant from) const;
  // Whether each place is open, as last written down; one never opened is left out.
  std::vector<OpeningRow> openings() const;
  // Finished ones too, by id.
  std::vector<BatchRow> batches() const;
  std::vector<StayRow> stays() const;  // by batch, oldest first
  // The newest of each place; a place never watered is left out.
  std::vector<WateringRow> waterings() const;
  // By date, then place; `from` and `to` included.
  std::vector<NotedDayRow> noted_days(std::chrono::sys_days from,
                                      std::chrono::sys_days to) const;

  std::optional<std::int64_t> mark(std::string_view name) const;

 private:
  class Impl;
  explicit Store(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace rimeward
