#include "daemon/store/store.h"

#include <algorithm>
#include <iterator>
#include <utility>

#include <fmt/format.h>

#include "daemon/store/database.h"
#include "daemon/store/gardener_table.h"
#include "daemon/store/mark_table.h"
#include "daemon/store/notices_table.h"
#include "daemon/store/outlooks_table.h"
#include "daemon/store/readings.h"
#include "daemon/store/records.h"
#include "daemon/store/schema.h"
#include "daemon/store/sensors_table.h"
#include "daemon/store/series_table.h"
#include "daemon/store/standing_in.h"
#include "daemon/store/summaries.h"

namespace rimeward {

using std::chrono::sys_days;

class Store::Impl {
 public:
  explicit Impl(std::unique_ptr<Database> opened) : database_(std::move(opened)) {}

  void write(const Changes& changes);
  bool drop_a_day(Instant keep_from);

 private:
  std::vector<ReadingRow> withdraw(const std::vector<DoubtfulRow>& rows,
                                   std::optional<Instant> summarised_until);
  std::vector<ReadingRow> write_readings(const std::vector<ReadingRow>& rows,
                                         std::optional<Instant> summarised_until);
  void count(const ReadingRow& row, Doubt doubt);
  void write_tables(const Changes& changes);

  // Its address is what the parts below hold on to.
  std::unique_ptr<Database> database_;

 public:
  Database& database = *database_;
  Readings readings{database};
  Summaries summaries{database, readings};
  SeriesTable series{database};
  SensorsTable sensors{database};
  OutlooksTable outlooks{database};
  NoticesTable notices{database};
  GardenerTable gardener{database};
  MarkTable marks{database};
  RecordTables record_tables{database, readings, series, summaries, gardener};
};

void Store::Impl::write(const Changes& changes) {
  Transaction transaction(database);
  write_tables(changes);
  const auto until = summaries.summarised_until();
  const auto gone = withdraw(changes.withdrawn, until);
  std::vector<ReadingRow> late = write_readings(changes.readings, until);
  for (const ReadingRow& row : changes.believed_again)
    series.clear_jump(row.series, row.time);
  std::ranges::copy(write_readings(changes.believed_again, until),
                    std::back_inserter(late));
  summaries.advance(changes.now, late, gone);
  transaction.commit();
}

bool Store::Impl::drop_a_day(Instant keep_from) {
  Transaction transaction(database);
  const std::int64_t count = readings.drop_a_day(keep_from);
  if (count == 0) return false;
  summaries.forget(count);
  transaction.commit();
  return true;
}

// Answers those that were part of hours already summarised.
std::vector<ReadingRow> Store::Impl::withdraw(const std::vector<DoubtfulRow>& rows,
                                              std::optional<Instant> summarised_until) {
  std::vector<ReadingRow> gone;
  for (const DoubtfulRow& row : rows) {
    if (!readings.erase(row.series, row.time)) continue;
    series.put(row);
    if (summarised_until && row.time < *summarised_until) {
      gone.push_back({.time = row.time, .series = row.series});
    }
  }
  return gone;
}

// Answers those that came for hours already summarised.
std::vector<ReadingRow> Store::Impl::write_readings(
    const std::vector<ReadingRow>& rows, std::optional<Instant> summarised_until) {
  std::vector<ReadingRow> late;
  const auto oldest_kept = readings.kept_from();
  for (const ReadingRow& row : rows) {
    if (oldest_kept && row.time < *oldest_kept) {
      count(row, Doubt::kTooOld);
      continue;
    }
    const auto stored = readings.insert(row);
    if (!stored) {
      if (summarised_until && row.time < *summarised_until) late.push_back(row);
    } else if (*stored == row.value) {
      count(row, Doubt::kRepeat);
    } else {
      count(row, Doubt::kSameSecond);
      series.put(DoubtfulRow{
          .time = row.time,
          .series = row.series,
          .value = from_milli(row.value),
          .doubt = Doubt::kSameSecond,
          .reason = fmt::format("a second value for this second; {} came first",
                                from_milli(*stored))});
    }
  }
  return late;
}

void Store::Impl::count(const ReadingRow& row, Doubt doubt) {
  const auto of = series.find(row.series);
  if (!of) return;
  sensors.add({.sensor = of->sensor,
               .channel = of->channel,
               .doubt = doubt,
               .count = 1,
               .first_at = row.time,
               .last_at = row.time});
}

void Store::Impl::write_tables(const Changes& changes) {
  for (const auto& row : changes.series)
    series.put(row);
  for (const auto& row : changes.doubtful)
    series.put(row);
  for (const auto& row : changes.tallies)
    sensors.add(row);
  for (const auto& [key, row] : changes.facts)
    sensors.put(row);
  for (const auto& [id, row] : changes.corrections)
    sensors.put(row);
  for (const auto& [topic, row] : changes.heard) {
    if (row) {
      sensors.put(*row);
    } else {
      sensors.forget_heard(topic);
    }
  }
  for (const auto& row : changes.outlooks)
    outlooks.put(row);
  for (const auto& row : changes.nights)
    outlooks.put(row);
  for (const auto& row : changes.covers)
    gardener.put(row);
  for (const auto& row : changes.openings)
    gardener.put(row);
  for (const auto& [id, row] : changes.batches)
    gardener.put(row);
  for (const auto& row : changes.stays)
    gardener.put(row);
  for (const auto& row : changes.waterings)
    gardener.put(row);
  for (const auto& row : changes.noted_days)
    gardener.put(row);
  for (const auto& [key, state] : changes.learned) {
    outlooks.put_learned(key.first, key.second, state);
  }
  for (const auto& [kind_and_subject, row] : changes.matters)
    notices.put(row);
  for (const auto& [id, row] : changes.notices)
    notices.put(row);
  for (const auto& [id, row] : changes.outbox)
    notices.put(row);
  for (const auto& [name, row] : changes.routes)
    notices.put(row);
  for (const auto& [kind_and_place, row] : changes.mutes)
    notices.put(row);
  for (const auto& [name, value] : changes.marks)
    marks.put(name, value);
}

Store::Store(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
Store::Store(Store&&) noexcept = default;
Store& Store::operator=(Store&&) noexcept = default;
Store::~Store() = default;

Store Store::open(const std::filesystem::path& file, Access access) {
  const bool may_write = access == Access::kReadWrite;
  auto database = std::make_unique<Database>(
      file, may_write ? Database::Access::kReadWrite : Database::Access::kReadOnly);
  if (may_write) {
    bring_up_to_date(*database);
  } else {
    require_current(*database);
  }
  return Store(std::make_unique<Impl>(std::move(database)));
}

Store Store::in_memory() {
  auto database = std::make_unique<Database>();
  bring_up_to_date(*database);
  return Store(std::make_unique<Impl>(std::move(database)));
}

Store Store::standing_in(const std::filesystem::path& file, Instant since) {
  return Store(std::make_unique<Impl>(database_standing_in(file, since)));
}

void Store::set_days(const DayGrid& days) {
  impl_->summaries.set_days(days);
}

void Store::commit(const Changes& changes) {
  impl_->write(changes);
}

void Store::follow_days(const DayGrid& days) {
  impl_->summaries.follow_days(days);
}

std::vector<RecordOutcome> Store::add_records(const Records& records,
                                              const std::optional<ActionRow>& with_new) {
  return rimeward::add_records(records, impl_->record_tables, with_new);
}

std::vector<RecordOutcome> Store::add_records(std::span<const NotedDayRow> days,
                                              const std::optional<ActionRow>& with_new) {
  return rimeward::add_records(days, impl_->record_tables, with_new);
}

bool Store::pack_some(Instant at) {
  return impl_->readings.pack_some(at);
}

bool Store::drop_a_day(Instant keep_from) {
  return impl_->drop_a_day(keep_from);
}

void Store::add_written(sys_days day, std::int64_t bytes) {
  run(impl_->database,
      "INSERT INTO written (day, bytes) VALUES (?, ?) "
      "ON CONFLICT (day) DO UPDATE SET bytes = bytes + excluded.bytes",
      day, bytes);
}

void Store::give_back_memory() {
  impl_->database.give_back_memory();
}

PackingState Store::packing() const {
  return impl_->readings.packing();
}

std::optional<Instant> Store::readings_kept_from() const {
  return impl_->readings.kept_from();
}

std::vector<WrittenRow> Store::written() const {
  Query query(impl_->database, "SELECT day, bytes FROM written ORDER BY day");
  std::vector<WrittenRow> rows;
  while (query.next()) {
    WrittenRow& row = rows.emplace_back();
    query.read(row.day, row.bytes);
  }
  return rows;
}

std::int64_t Store::add_action(const ActionRow& action) {
  return impl_->gardener.add(action);
}

std::vector<ActionRow> Store::actions_after(std::int64_t id) const {
  return impl_->gardener.actions_after(id);
}

std::vector<SeriesRow> Store::all_series() const {
  return impl_->series.all();
}

void Store::each_reading(Instant from, Instant to,
                         const std::function<void(const ReadingRow&)>& visit) const {
  impl_->readings.each({from, to, std::nullopt}, visit);
}

std::optional<Latest> Store::latest(SeriesId series) const {
  return impl_->summaries.latest(series);
}

std::vector<Instant> Store::latest_times(SeriesId series, std::size_t count,
                                         Instant from) const {
  return impl_->readings.latest_times(series, count, from);
}

std::optional<Extremes> Store::extremes(SeriesId series, Instant from, Instant to) const {
  return impl_->summaries.extremes(series, from, to);
}

std::vector<DayRow> Store::days(sys_days from, sys_days to, const DayGrid& grid) const {
  return impl_->summaries.days(from, to, grid);
}

void Store::each_hour(
    Instant from, Instant to,
    const std::function<void(SeriesId series, const HourRow& row)>& visit) const {
  impl_->summaries.each_hour({from, to, std::nullopt}, visit);
}

void Store::each_hour_of(
    Channel channel, Instant from, Instant to,
    const std::function<void(SeriesId series, const HourRow& row)>& visit) const {
  impl_->summaries.each_hour_of(channel, from, to, visit);
}

std::vector<HourRow> Store::hours(SeriesId series, Instant from, Instant to) const {
  std::vector<HourRow> rows;
  impl_->summaries.each_hour(
      {from, to, series}, [&rows](SeriesId, const HourRow& row) { rows.push_back(row); });
  return rows;
}

std::vector<DoubtfulRow> Store::doubtful(Instant from, Instant to) const {
  return impl_->series.doubtful(from, to);
}

std::vector<DoubtfulRow> Store::latest_doubtful(SeriesId series,
                                                std::size_t count) const {
  return impl_->series.latest_doubtful(series, count);
}

std::vector<TallyRow> Store::tallies() const {
  return impl_->sensors.tallies();
}

std::vector<FactRow> Store::facts() const {
  return impl_->sensors.facts();
}

std::vector<HeardRow> Store::heard() const {
  return impl_->sensors.heard();
}

std::vector<CorrectionRow> Store::corrections() const {
  return impl_->sensors.corrections();
}

std::int64_t Store::reading_count() const {
  return impl_->summaries.reading_count();
}

std::optional<Instant> Store::next_reading(Instant from) const {
  return impl_->readings.next(from);
}

std::optional<std::string> Store::learned(std::string_view place,
                                          std::string_view subject) const {
  return impl_->outlooks.learned(place, subject);
}

std::vector<OutlookRow> Store::outlooks(std::string_view place, sys_days from,
                                        sys_days to) const {
  return impl_->outlooks.outlooks(place, from, to);
}

std::vector<NightRow> Store::nights(std::string_view place, sys_days from,
                                    sys_days to) const {
  return impl_->outlooks.nights(place, from, to);
}

std::optional<sys_days> Store::latest_night(std::string_view place) const {
  return impl_->outlooks.latest_night(place);
}

std::vector<NoticeRow> Store::open_notices() const {
  return impl_->notices.open_notices();
}

std::vector<NoticeRow> Store::latest_notices(std::size_t count) const {
  return impl_->notices.latest_notices(count);
}

std::optional<NoticeRow> Store::notice(NoticeId id) const {
  return impl_->notices.notice(id);
}

std::vector<MatterRow> Store::matters() const {
  return impl_->notices.matters();
}

std::vector<OutboxRow> Store::waiting_outbox() const {
  return impl_->notices.waiting_outbox();
}

NoticeId Store::last_notice_id() const {
  return impl_->notices.last_notice_id();
}

std::int64_t Store::last_outbox_id() const {
  return impl_->notices.last_outbox_id();
}

std::vector<RouteRow> Store::routes() const {
  return impl_->notices.routes();
}

std::vector<MuteRow> Store::mutes() const {
  return impl_->notices.mutes();
}

std::vector<OpeningRow> Store::openings() const {
  return impl_->gardener.openings();
}

std::vector<CoverRow> Store::covers() const {
  return impl_->gardener.covers();
}

std::vector<CoverRow> Store::covers(std::string_view place, Instant from) const {
  return impl_->gardener.covers(place, from);
}

std::vector<BatchRow> Store::batches() const {
  return impl_->gardener.batches();
}

std::vector<StayRow> Store::stays() const {
  return impl_->gardener.stays();
}

std::vector<WateringRow> Store::waterings() const {
  return impl_->gardener.waterings();
}

std::vector<NotedDayRow> Store::noted_days(sys_days from, sys_days to) const {
  return impl_->gardener.noted_days(from, to);
}

std::optional<std::int64_t> Store::mark(std::string_view name) const {
  return impl_->marks.find(name);
}

}  // namespace rimeward
