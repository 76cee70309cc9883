#include "daemon/corrections.h"

#include <algorithm>
#include <ranges>

namespace rimeward {
namespace {

bool is_in_force(const CorrectionRow& row, Instant at) {
  return row.since <= at && (!row.until || at < *row.until);
}

}  // namespace

Corrections::Corrections(const Store& store) {
  for (CorrectionRow& row : store.corrections()) {
    last_id_ = std::max(last_id_, row.id);
    rows_[{row.sensor, row.channel}].push_back(std::move(row));
  }
}

double Corrections::corrected(const std::string& sensor, Channel channel, Instant at,
                              double said) const {
  const auto found = rows_.find({sensor, channel});
  if (found == rows_.end()) return said;
  for (const CorrectionRow& row : found->second | std::views::reverse) {
    if (is_in_force(row, at)) return row.gain * said + row.offset;
  }
  return said;
}

void Corrections::add(CorrectionRow row, Instant now, Changes& changes) {
  for (CorrectionRow& before : rows_[{row.sensor, row.channel}]) {
    if (before.until) continue;
    before.until = now;
    changes.corrections[before.id] = before;
  }
  row.id = ++last_id_;
  row.since = now;
  row.until.reset();
  row.undone = false;
  put(row, changes);
}

bool Corrections::undo(CorrectionId id, Instant now, Changes& changes) {
  for (auto& [key, rows] : rows_) {
    const auto undone = std::ranges::find(rows, id, &CorrectionRow::id);
    if (undone == rows.end()) continue;
    if (undone->until) return false;
    undone->until = now;
    undone->undone = true;
    changes.corrections[id] = *undone;
    const auto replaced = std::ranges::find_if(rows, [&](const CorrectionRow& row) {
      return row.until == undone->since && !row.undone;
    });
    if (replaced == rows.end()) return true;
    add(*replaced, now, changes);
    return true;
  }
  return false;
}

void Corrections::put(const CorrectionRow& row, Changes& changes) {
  rows_[{row.sensor, row.channel}].push_back(row);
  changes.corrections[row.id] = row;
}

}  // namespace rimeward
