// Notices, the matters that they are about, the messages that carry them, how the routes
// did, and what is muted. Not thread-safe.

#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

#include "daemon/store/database.h"
#include "daemon/store/rows.h"

namespace rimeward {

class NoticesTable {
 public:
  // REQUIRES: `database` outlives this and holds the current schema.
  explicit NoticesTable(Database& database) : database_(database) {}

  void put(const NoticeRow& row);
  void put(const MatterRow& row);
  void put(const OutboxRow& row);
  void put(const RouteRow& row);
  void put(const MuteRow& row);

  std::vector<NoticeRow> open_notices() const;                     // oldest first
  std::vector<NoticeRow> latest_notices(std::size_t count) const;  // newest first
  std::optional<NoticeRow> notice(NoticeId id) const;
  NoticeId last_notice_id() const;                // 0: none yet
  std::vector<MatterRow> matters() const;         // by kind, then subject
  std::vector<OutboxRow> waiting_outbox() const;  // oldest first
  std::int64_t last_outbox_id() const;            // 0: none yet
  std::vector<RouteRow> routes() const;           // by name
  std::vector<MuteRow> mutes() const;             // by kind, then place; past ones too

 private:
  Database& database_;
};

}  // namespace rimeward
