#include "daemon/store/records.h"

#include <algorithm>
#include <map>
#include <optional>
#include <string>
#include <tuple>
#include <utility>

namespace rimeward {
namespace {

// The store's ids by the caller's own. Looked up within the transaction: another import
// may be at work.
class SeriesOfRecords {
 public:
  SeriesOfRecords(const std::vector<SeriesRow>& asked, SeriesTable& table)
      : table_(table) {
    for (const SeriesRow& row : table.all()) {
      stored_.try_emplace(key_of(row), row.id);
      lowest_ = std::min(lowest_, row.id);
    }
    for (const SeriesRow& row : asked)
      asked_[row.id] = &row;
  }

  // Makes the series where there is none.
  SeriesId id_of(SeriesId asked) {
    const SeriesRow& row = *asked_.at(asked);
    const auto [found, is_new] = stored_.try_emplace(key_of(row), lowest_ - 1);
    if (is_new) {
      lowest_ = found->second;
      SeriesRow made = row;
      made.id = found->second;
      table_.put(made);
    }
    return found->second;
  }

 private:
  using Key = std::tuple<std::string, std::string, Channel>;
  static Key key_of(const SeriesRow& row) { return {row.sensor, row.place, row.channel}; }

  SeriesTable& table_;
  std::map<Key, SeriesId> stored_;
  std::map<SeriesId, const SeriesRow*> asked_;
  SeriesId lowest_ = 0;
};

// `noted` goes into `stored` where that has a gap; a time goes with its temperature.
RecordOutcome complete(std::optional<Milli>& stored, std::optional<Instant>& stored_at,
                       const std::optional<Milli>& noted,
                       const std::optional<Instant>& noted_at) {
  if (!noted) return {};
  if (stored && *stored != *noted) return {.differs = true};
  if (stored_at && noted_at && *stored_at != *noted_at) return {.differs = true};
  const bool adds = !stored || (noted_at && !stored_at);
  stored = noted;
  if (noted_at) stored_at = noted_at;
  return {.is_new = adds};
}

RecordOutcome put(const NotedDayRow& day, GardenerTable& gardener) {
  NotedDayRow row = gardener.noted_day(day.date, day.place)
                        .value_or(NotedDayRow{.date = day.date, .place = day.place});
  const RecordOutcome low = complete(row.low, row.low_at, day.low, day.low_at);
  const RecordOutcome high = complete(row.high, row.high_at, day.high, day.high_at);
  const RecordOutcome kept{.is_new = low.is_new || high.is_new,
                           .differs = low.differs || high.differs};
  if (kept.is_new) gardener.put(row);
  return kept;
}

}  // namespace

std::vector<RecordOutcome> add_records(const Records& records, const RecordTables& tables,
                                       const std::optional<ActionRow>& with_new) {
  Transaction transaction(tables.database);
  const auto summarised_until = tables.summaries.summarised_until();
  SeriesOfRecords ids(records.series, tables.series);
  std::map<SeriesId, SeriesId> known;
  std::vector<RecordOutcome> answer;
  answer.reserve(records.readings.size());
  std::vector<ReadingRow> late;
  bool any_new = false;
  const auto kept_from = tables.readings.kept_from();
  for (ReadingRow row : records.readings) {
    const auto [id, is_first] = known.try_emplace(row.series);
    if (is_first) id->second = ids.id_of(row.series);
    row.series = id->second;
    if (kept_from && row.time < *kept_from) {
      answer.push_back({.is_too_old = true});
      continue;
    }
    const auto stored = tables.readings.insert(row);
    answer.push_back({.is_new = !stored, .differs = stored && *stored != row.value});
    if (stored) continue;
    any_new = true;
    if (summarised_until && row.time < *summarised_until) late.push_back(row);
  }
  // Without a commit: that an hour has passed is for the daemon to find.
  if (!any_new) return answer;
  tables.summaries.advance(records.now, late, {});
  if (with_new) tables.gardener.add(*with_new);
  transaction.commit();
  return answer;
}

std::vector<RecordOutcome> add_records(std::span<const NotedDayRow> days,
                                       const RecordTables& tables,
                                       const std::optional<ActionRow>& with_new) {
  Transaction transaction(tables.database);
  std::vector<RecordOutcome> answer;
  answer.reserve(days.size());
  for (const NotedDayRow& day : days)
    answer.push_back(put(day, tables.gardener));
  if (std::ranges::none_of(answer, &RecordOutcome::is_new)) return answer;
  if (with_new) tables.gardener.add(*with_new);
  transaction.commit();
  return answer;
}

}  // namespace rimeward
