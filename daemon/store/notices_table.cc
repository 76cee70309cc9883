#include "daemon/store/notices_table.h"

#include <cstdlib>
#include <string>
#include <string_view>

#include <fmt/format.h>

namespace rimeward {
namespace {

// States are stored as words, for whoever looks at the file with SQLite's own tools. The
// schema's partial indexes name them too.
std::string_view word(OutboxState state) {
  switch (state) {
    case OutboxState::kWaiting:
      return "waiting";
    case OutboxState::kDelivered:
      return "delivered";
    case OutboxState::kGivenUp:
      return "given up";
  }
  std::abort();
}

NoticeState notice_state(const Database& database, std::string_view text) {
  for (const NoticeState state :
       {NoticeState::kRaised, NoticeState::kDelivered, NoticeState::kDone,
        NoticeState::kOvertaken, NoticeState::kLapsed, NoticeState::kTold}) {
    if (name_of(state) == text) return state;
  }
  throw database.error(fmt::format(
      "a notice is in the unknown state \"{}\"; restore a backup, the file was left as "
      "it is",
      text));
}

NoticeRow notice_row(const Database& database, const Query& query) {
  NoticeRow row;
  std::string state;
  query.read(row.id, row.kind, row.subject, row.place, state, row.raised_at, row.spoke_at,
             row.deadline, row.ends_at, row.closed_at, row.reminded_at, row.leaves_at,
             row.delivered_at, row.revision, row.urgency, row.layers, row.failures,
             row.title, row.body);
  row.state = notice_state(database, state);
  return row;
}

std::vector<NoticeRow> notice_rows(const Database& database, Query& query) {
  std::vector<NoticeRow> rows;
  while (query.next())
    rows.push_back(notice_row(database, query));
  return rows;
}

std::int64_t number(Query& query) {
  std::optional<std::int64_t> value;
  if (query.next()) query.read(value);
  return value.value_or(0);
}

}  // namespace

void NoticesTable::put(const NoticeRow& row) {
  run(database_,
      "INSERT OR REPLACE INTO notice (id, kind, subject, place, state, raised_at, "
      "spoke_at, deadline, ends_at, closed_at, reminded_at, leaves_at, delivered_at, "
      "revision, urgency, layers, failures, title, body) "
      "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
      row.id, row.kind, row.subject, row.place, name_of(row.state), row.raised_at,
      row.spoke_at, row.deadline, row.ends_at, row.closed_at, row.reminded_at,
      row.leaves_at, row.delivered_at, row.revision, row.urgency, row.layers,
      row.failures, row.title, row.body);
}

void NoticesTable::put(const MatterRow& row) {
  run(database_,
      "INSERT OR REPLACE INTO matter (kind, subject, holds_since, gone_since, notice, "
      "settled_urgency) VALUES (?, ?, ?, ?, ?, ?)",
      row.kind, row.subject, row.holds_since, row.gone_since, row.notice,
      row.settled_urgency);
}

void NoticesTable::put(const OutboxRow& row) {
  run(database_,
      "INSERT OR REPLACE INTO outbox (id, notice, revision, route, event, state, due_at, "
      "ends_at, attempts, delivered_at, trouble) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, "
      "?)",
      row.id, row.notice, row.revision, row.route, row.event, word(row.state), row.due_at,
      row.ends_at, row.attempts, row.delivered_at, row.trouble);
}

void NoticesTable::put(const RouteRow& row) {
  run(database_,
      "INSERT OR REPLACE INTO route (name, failing_since, delivered_at, trouble) "
      "VALUES (?, ?, ?, ?)",
      row.name, row.failing_since, row.delivered_at, row.trouble);
}

void NoticesTable::put(const MuteRow& row) {
  run(database_, "INSERT OR REPLACE INTO mute (kind, place, until) VALUES (?, ?, ?)",
      row.kind, row.place, row.until);
}

std::vector<NoticeRow> NoticesTable::open_notices() const {
  Query query(
      database_,
      "SELECT id, kind, subject, place, state, raised_at, spoke_at, deadline, "
      "ends_at, closed_at, reminded_at, leaves_at, delivered_at, revision, urgency, "
      "layers, failures, title, body "
      "FROM notice WHERE state IN ('raised', 'delivered') ORDER BY id");
  return notice_rows(database_, query);
}

std::vector<NoticeRow> NoticesTable::latest_notices(std::size_t count) const {
  Query query(
      database_,
      "SELECT id, kind, subject, place, state, raised_at, spoke_at, deadline, "
      "ends_at, closed_at, reminded_at, leaves_at, delivered_at, revision, urgency, "
      "layers, failures, title, body "
      "FROM notice ORDER BY id DESC LIMIT ?",
      static_cast<std::int64_t>(count));
  return notice_rows(database_, query);
}

std::optional<NoticeRow> NoticesTable::notice(NoticeId id) const {
  Query query(
      database_,
      "SELECT id, kind, subject, place, state, raised_at, spoke_at, deadline, "
      "ends_at, closed_at, reminded_at, leaves_at, delivered_at, revision, urgency, "
      "layers, failures, title, body "
      "FROM notice WHERE id = ?",
      id);
  if (!query.next()) return std::nullopt;
  return notice_row(database_, query);
}

NoticeId NoticesTable::last_notice_id() const {
  Query query(database_, "SELECT max(id) FROM notice");
  return number(query);
}

std::vector<MatterRow> NoticesTable::matters() const {
  Query query(database_,
              "SELECT kind, subject, holds_since, gone_since, notice, settled_urgency "
              "FROM matter ORDER BY kind, subject");
  std::vector<MatterRow> rows;
  while (query.next()) {
    MatterRow& row = rows.emplace_back();
    query.read(row.kind, row.subject, row.holds_since, row.gone_since, row.notice,
               row.settled_urgency);
  }
  return rows;
}

std::vector<OutboxRow> NoticesTable::waiting_outbox() const {
  Query query(database_,
              "SELECT id, notice, revision, route, event, due_at, ends_at, attempts, "
              "delivered_at, trouble FROM outbox WHERE state = 'waiting' ORDER BY id");
  std::vector<OutboxRow> rows;
  while (query.next()) {
    OutboxRow& row = rows.emplace_back();
    query.read(row.id, row.notice, row.revision, row.route, row.event, row.due_at,
               row.ends_at, row.attempts, row.delivered_at, row.trouble);
  }
  return rows;
}

std::vector<RouteRow> NoticesTable::routes() const {
  Query query(database_,
              "SELECT name, failing_since, delivered_at, trouble FROM route "
              "ORDER BY name");
  std::vector<RouteRow> rows;
  while (query.next()) {
    RouteRow& row = rows.emplace_back();
    query.read(row.name, row.failing_since, row.delivered_at, row.trouble);
  }
  return rows;
}

std::vector<MuteRow> NoticesTable::mutes() const {
  Query query(database_, "SELECT kind, place, until FROM mute ORDER BY kind, place");
  std::vector<MuteRow> rows;
  while (query.next()) {
    MuteRow& row = rows.emplace_back();
    query.read(row.kind, row.place, row.until);
  }
  return rows;
}

std::int64_t NoticesTable::last_outbox_id() const {
  Query query(database_, "SELECT max(id) FROM outbox");
  return number(query);
}

}  // namespace rimeward
