#include "daemon/store/schema.h"

#include <array>
#include <cstdint>
#include <string_view>

#include <fmt/format.h>

namespace rimeward {
namespace {

// "Rime" in ASCII: tells a store from any other SQLite file.
constexpr std::int64_t kApplicationId = 0x52696d65;

// Times are seconds since 1970-01-01T00:00:00Z; `day` and `night` are local dates as days
// since 1970-01-01; milli is thousandths of the channel's unit.
//
// `recent` is keyed by time first: a commit then dirties one or two pages at the end,
// whatever the number of sensors, and keyed by series it dirties one a sensor.
constexpr std::string_view kVersion1 = R"sql(
CREATE TABLE series (
  id INTEGER PRIMARY KEY,
  sensor TEXT NOT NULL,
  place TEXT NOT NULL,
  channel INTEGER NOT NULL,
  last_at INTEGER,           -- of the hours that are summarised
  last_value_milli INTEGER
);
CREATE TABLE recent (
  time INTEGER NOT NULL,
  series INTEGER NOT NULL,
  value_milli INTEGER NOT NULL,
  PRIMARY KEY (time, series)
) WITHOUT ROWID;
CREATE TABLE doubtful (
  time INTEGER NOT NULL,
  series INTEGER NOT NULL,
  value REAL NOT NULL,       -- in the channel's unit
  reason TEXT NOT NULL,
  PRIMARY KEY (time, series, value)
) WITHOUT ROWID;
CREATE TABLE hourly (
  hour INTEGER NOT NULL,     -- when it began
  series INTEGER NOT NULL,
  low_milli INTEGER NOT NULL,
  low_at INTEGER NOT NULL,
  high_milli INTEGER NOT NULL,
  high_at INTEGER NOT NULL,
  sum_milli INTEGER NOT NULL,
  readings INTEGER NOT NULL,
  PRIMARY KEY (hour, series)
) WITHOUT ROWID;
CREATE TABLE daily (
  day INTEGER NOT NULL,      -- the local date on which it began
  series INTEGER NOT NULL,
  low_milli INTEGER NOT NULL,
  low_at INTEGER NOT NULL,
  high_milli INTEGER NOT NULL,
  high_at INTEGER NOT NULL,
  sum_milli INTEGER NOT NULL,
  readings INTEGER NOT NULL,
  hours INTEGER NOT NULL,    -- UTC clock hours with a reading
  PRIMARY KEY (day, series)
) WITHOUT ROWID;
CREATE TABLE summary_state ( -- one row
  id INTEGER PRIMARY KEY CHECK (id = 1),
  summarised_until INTEGER,
  readings_before INTEGER NOT NULL,  -- how many are earlier than that
  day_zone TEXT,                     -- how the days of `daily` were cut
  day_starts_minutes INTEGER
);
INSERT INTO summary_state (id, readings_before) VALUES (1, 0);
CREATE TABLE outlook (
  place TEXT NOT NULL,
  night INTEGER NOT NULL,    -- the date of the morning
  moment INTEGER NOT NULL,
  issued_at INTEGER NOT NULL,
  sunset INTEGER NOT NULL,
  sunrise INTEGER NOT NULL,
  low_celsius REAL NOT NULL,
  low10_celsius REAL NOT NULL,
  low90_celsius REAL NOT NULL,
  spread_below_kelvins REAL NOT NULL,
  spread_above_kelvins REAL NOT NULL,
  running_low_celsius REAL,
  humidity_known INTEGER NOT NULL,
  PRIMARY KEY (place, night, moment)
) WITHOUT ROWID;
CREATE TABLE night (
  place TEXT NOT NULL,
  night INTEGER NOT NULL,
  low_celsius REAL,
  low_at INTEGER,
  PRIMARY KEY (place, night)
) WITHOUT ROWID;
CREATE TABLE outlook_state (
  place TEXT PRIMARY KEY,
  state TEXT NOT NULL
) WITHOUT ROWID;
CREATE TABLE matter (
  kind TEXT NOT NULL,
  subject TEXT NOT NULL,
  holds_since INTEGER,
  gone_since INTEGER,
  notice INTEGER NOT NULL,
  settled_urgency REAL,
  PRIMARY KEY (kind, subject)
) WITHOUT ROWID;
CREATE TABLE notice (
  id INTEGER PRIMARY KEY,
  kind TEXT NOT NULL,
  subject TEXT NOT NULL,
  place TEXT NOT NULL,
  state TEXT NOT NULL,
  raised_at INTEGER NOT NULL,
  spoke_at INTEGER NOT NULL,
  deadline INTEGER,
  ends_at INTEGER,
  closed_at INTEGER,
  revision INTEGER NOT NULL,
  urgency REAL NOT NULL,
  layers INTEGER NOT NULL,
  failures INTEGER NOT NULL, -- attempts to deliver it that failed
  title TEXT NOT NULL,
  body TEXT NOT NULL
);
CREATE INDEX notice_open ON notice (id) WHERE state IN ('raised', 'delivered');
CREATE TABLE outbox (
  id INTEGER PRIMARY KEY,
  notice INTEGER NOT NULL,
  revision INTEGER NOT NULL,
  route TEXT NOT NULL,
  event TEXT NOT NULL,
  state TEXT NOT NULL,
  due_at INTEGER NOT NULL,
  ends_at INTEGER,
  attempts INTEGER NOT NULL,
  delivered_at INTEGER,
  trouble TEXT NOT NULL
);
CREATE INDEX outbox_waiting ON outbox (id) WHERE state = 'waiting';
CREATE TABLE cover (
  place TEXT NOT NULL,
  since INTEGER NOT NULL,
  layers INTEGER NOT NULL,
  PRIMARY KEY (place, since)
) WITHOUT ROWID;
CREATE TABLE action (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  said_at INTEGER NOT NULL,
  verb TEXT NOT NULL,
  place TEXT NOT NULL,
  layers INTEGER NOT NULL,
  notice INTEGER NOT NULL
);
CREATE TABLE mark (
  name TEXT PRIMARY KEY,
  value INTEGER NOT NULL
) WITHOUT ROWID;
)sql";

// What is known of sensors: doubts counted by kind, facts, topics of strangers, and
// corrections. Version 1 doubted for two reasons only.
constexpr std::string_view kVersion2 = R"sql(
ALTER TABLE doubtful ADD COLUMN doubt INTEGER NOT NULL DEFAULT 1; -- daemon/base/doubt.h
UPDATE doubtful SET doubt = 6 WHERE reason NOT LIKE 'outside %';
CREATE INDEX doubtful_of_series ON doubtful (series, time);
CREATE TABLE tally (
  sensor TEXT NOT NULL,
  channel INTEGER NOT NULL,  -- 0: of whole messages
  doubt INTEGER NOT NULL,
  count INTEGER NOT NULL,
  first_at INTEGER NOT NULL,
  last_at INTEGER NOT NULL,
  PRIMARY KEY (sensor, channel, doubt)
) WITHOUT ROWID;
INSERT INTO tally
SELECT sensor, channel, doubt, count(*), min(time), max(time)
FROM doubtful JOIN series ON series.id = doubtful.series GROUP BY sensor, channel, doubt;
CREATE TABLE fact (
  sensor TEXT NOT NULL,
  name TEXT NOT NULL,
  value TEXT NOT NULL,
  PRIMARY KEY (sensor, name)
) WITHOUT ROWID;
CREATE TABLE heard (
  topic TEXT PRIMARY KEY,
  first_at INTEGER NOT NULL,
  last_at INTEGER NOT NULL,
  messages INTEGER NOT NULL,
  payload TEXT NOT NULL      -- any bytes
) WITHOUT ROWID;
CREATE TABLE correction (
  id INTEGER PRIMARY KEY,
  sensor TEXT NOT NULL,
  channel INTEGER NOT NULL,
  since INTEGER NOT NULL,
  until INTEGER,
  undone INTEGER NOT NULL,
  gain REAL NOT NULL,
  offset REAL NOT NULL,
  uncertainty REAL NOT NULL,
  method TEXT NOT NULL,
  points TEXT NOT NULL
);
ALTER TABLE action ADD COLUMN sensor TEXT NOT NULL DEFAULT '';
ALTER TABLE action ADD COLUMN detail TEXT NOT NULL DEFAULT '';
)sql";

// The season's book-keeping: batches, where they stay, when places were watered.
constexpr std::string_view kVersion3 = R"sql(
CREATE TABLE batch (
  id TEXT PRIMARY KEY,
  crop TEXT NOT NULL,
  sown INTEGER NOT NULL,     -- local date
  count INTEGER NOT NULL,    -- of plants; 0: not said
  next_place TEXT NOT NULL,
  finished INTEGER           -- local date
) WITHOUT ROWID;
CREATE TABLE stay (
  batch TEXT NOT NULL,
  since INTEGER NOT NULL,
  place TEXT NOT NULL,
  PRIMARY KEY (batch, since)
) WITHOUT ROWID;
CREATE TABLE watering (
  place TEXT NOT NULL,
  at INTEGER NOT NULL,
  PRIMARY KEY (place, at)
) WITHOUT ROWID;
)sql";

// Outlooks that rest on more than the place's own readings, nights under a cover, and all
// that is learned of a place. The cover of a night from before is not known for certain:
// where the place may have been covered, the night counts as one that was changed.
constexpr std::string_view kVersion4 = R"sql(
ALTER TABLE outlook ADD COLUMN air_celsius REAL;
ALTER TABLE outlook ADD COLUMN opinion_celsius REAL;
ALTER TABLE outlook ADD COLUMN rests_on TEXT NOT NULL DEFAULT '';
ALTER TABLE night ADD COLUMN layers INTEGER;
ALTER TABLE night ADD COLUMN lift_kelvins REAL NOT NULL DEFAULT 0;
UPDATE night SET layers = 0 WHERE NOT EXISTS (
  SELECT 1 FROM cover
  WHERE cover.place = night.place AND cover.layers > 0
    AND cover.since < night.night * 86400 + 43200);
CREATE TABLE learned (
  place TEXT NOT NULL,
  subject TEXT NOT NULL,     -- outlook, lift, differences, surprises, opinion, mornings
  state TEXT NOT NULL,
  PRIMARY KEY (place, subject)
) WITHOUT ROWID;
INSERT INTO learned SELECT place, 'outlook', state FROM outlook_state;
DROP TABLE outlook_state;
)sql";

// How routes did, what is muted, what was opened and shut, who was reminded and reached.
// A notice from before counts as it did: as told, unless it was raised and failed to
// leave.
constexpr std::string_view kVersion5 = R"sql(
ALTER TABLE notice ADD COLUMN reminded_at INTEGER;
ALTER TABLE notice ADD COLUMN leaves_at INTEGER;
ALTER TABLE notice ADD COLUMN delivered_at INTEGER;
UPDATE notice SET leaves_at = spoke_at;
UPDATE notice SET delivered_at = spoke_at WHERE state != 'raised';
CREATE TABLE route (
  name TEXT PRIMARY KEY,
  failing_since INTEGER,
  delivered_at INTEGER,
  trouble TEXT NOT NULL
) WITHOUT ROWID;
CREATE TABLE mute (
  kind TEXT NOT NULL,
  place TEXT NOT NULL,       -- empty: of all places
  until INTEGER NOT NULL,
  PRIMARY KEY (kind, place)
) WITHOUT ROWID;
CREATE TABLE opening (
  place TEXT NOT NULL,
  since INTEGER NOT NULL,
  open INTEGER NOT NULL,
  PRIMARY KEY (place, since)
) WITHOUT ROWID;
)sql";

// Highs and lows from a gardener's notebook.
constexpr std::string_view kVersion6 = R"sql(
CREATE TABLE noted_day (
  date INTEGER NOT NULL,     -- local: of the morning that the low's night ends
  place TEXT NOT NULL,
  low_milli INTEGER,
  low_at INTEGER,
  high_milli INTEGER,
  high_at INTEGER,
  PRIMARY KEY (date, place)
) WITHOUT ROWID;
)sql";

// Days that are over, packed: a row each series and UTC day, of some 1,000 bytes. By
// rowid, because a table without one keeps only a quarter of a page of a row and gives
// each rest a page of its own. Rows of before stay loose, and are packed in the
// background.
constexpr std::string_view kVersion7 = R"sql(
CREATE TABLE chunk (
  id INTEGER PRIMARY KEY,
  day INTEGER NOT NULL,      -- UTC
  series INTEGER NOT NULL,
  readings INTEGER NOT NULL,
  packed BLOB NOT NULL       -- daemon/store/packed_day.h
);
CREATE UNIQUE INDEX chunk_of_day ON chunk (day, series);
CREATE TABLE written (
  day INTEGER PRIMARY KEY,   -- UTC
  bytes INTEGER NOT NULL     -- that the daemon wrote to its medium
);
)sql";

// The marks that move with every commit go to the page that each commit writes anyway:
// daemon/store/mark_table.h.
constexpr std::string_view kVersion8 = R"sql(
INSERT INTO recent (time, series, value_milli)
SELECT CASE name WHEN 'now' THEN 253402300800 WHEN 'looked_at' THEN 253402300801
  ELSE 253402300802 END, 0, value
FROM mark WHERE name IN ('now', 'looked_at', 'spool_sequence');
DELETE FROM mark WHERE name IN ('now', 'looked_at', 'spool_sequence');
)sql";

// The n-th leads from version n to n + 1. Released ones never change.
constexpr std::array kMigrations{kVersion1, kVersion2, kVersion3, kVersion4,
                                 kVersion5, kVersion6, kVersion7, kVersion8};

struct Identity {
  std::int64_t application_id = 0;
  std::int64_t version = 0;
  bool is_empty = false;  // no table, no index: a file that is about to become a store
};

std::int64_t number(Database& database, std::string_view sql) {
  std::int64_t value = 0;
  Query query(database, sql);
  if (query.next()) query.read(value);
  return value;
}

Identity identity_of(Database& database) {
  return {.application_id = number(database, "PRAGMA application_id"),
          .version = number(database, "PRAGMA user_version"),
          .is_empty = number(database, "SELECT count(*) FROM sqlite_schema") == 0};
}

void refuse_strangers(const Database& database, const Identity& identity) {
  const bool is_ours = identity.application_id == kApplicationId;
  const bool is_new =
      identity.is_empty && identity.application_id == 0 && identity.version >= 0;
  if (!is_ours && !is_new) {
    throw database.error(
        "it is another program's database, not a store; name another file, this one was "
        "left as it is");
  }
  if (identity.version > schema_version()) {
    throw database.error(
        fmt::format("it is a store of version {}, and this program knows versions up to "
                    "{}; install a newer rimeward, the file was left as it is",
                    identity.version, schema_version()));
  }
}

// In one go: each commit costs a slow card seconds.
void migrate(Database& database) {
  Transaction transaction(database);
  // Looked up anew with the write lock held: another process may have been faster.
  const auto from = static_cast<std::size_t>(identity_of(database).version);
  if (from >= kMigrations.size()) return;
  for (std::size_t version = from; version < kMigrations.size(); ++version)
    database.execute(std::string(kMigrations[version]));
  database.execute(fmt::format("PRAGMA application_id = {}; PRAGMA user_version = {}",
                               kApplicationId, schema_version()));
  transaction.commit();
}

void keep_a_log(Database& database) {
  if (database.lives_in_memory()) return;
  Query query(database, "PRAGMA journal_mode = WAL");
  std::string mode;
  if (query.next()) query.read(mode);
  if (mode != "wal") {
    throw database.error(
        "its medium does not allow two programs to share it; put the store on a disk of "
        "this machine");
  }
}

}  // namespace

int schema_version() {
  return static_cast<int>(kMigrations.size());
}

void bring_up_to_date(Database& database) {
  const Identity identity = identity_of(database);
  refuse_strangers(database, identity);
  if (identity.is_empty) database.execute("PRAGMA page_size = 4096");
  keep_a_log(database);
  if (identity.version < schema_version()) migrate(database);
}

void require_current(Database& database) {
  const Identity identity = identity_of(database);
  refuse_strangers(database, identity);
  if (identity.is_empty) {
    throw database.error("nothing is in it yet; start rimewardd once");
  }
  if (identity.version < schema_version()) {
    throw database.error(
        fmt::format("it is a store of version {}, and this program reads version {}; "
                    "start rimewardd once, it brings the file up to date",
                    identity.version, schema_version()));
  }
}

}  // namespace rimeward
