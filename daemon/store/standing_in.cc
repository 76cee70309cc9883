#include "daemon/store/standing_in.h"

#include <algorithm>
#include <array>
#include <cstdint>
#include <fstream>
#include <string>
#include <string_view>
#include <system_error>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <sys/stat.h>

#include "daemon/store/mark_table.h"
#include "daemon/store/marks.h"
#include "daemon/store/schema.h"

namespace rimeward {
namespace {

namespace fs = std::filesystem;
using std::chrono::days;
using std::chrono::sys_days;

constexpr std::chrono::minutes kLookEvery{1};
constexpr std::chrono::hours kTryAgainAfter{1};
// Of days and nights, before the readings: what the letters and the rules look back on.
constexpr days kWeeks{40};

// Which rows of a table come along; of others all do. A store of years would not fit.
struct Share {
  std::string_view table;
  std::string_view rows;
};
constexpr std::array kShares{
    Share{"recent", "time >= {since}"},
    Share{"chunk", "day >= {since_day}"},
    Share{"hourly", "hour >= {since}"},
    Share{"doubtful", "time >= {since}"},
    Share{"daily", "day >= {weeks_day}"},
    Share{"outlook", "night >= {weeks_day}"},
    Share{"night", "night >= {weeks_day}"},
    Share{"noted_day", "date >= {weeks_day}"},
    Share{"watering", "at >= {weeks}"},
    Share{"cover",
          "since >= {weeks} OR since = (SELECT max(since) FROM damaged.cover AS newest "
          "WHERE newest.place = cover.place)"},
    Share{"opening",
          "since >= {weeks} OR since = (SELECT max(since) FROM damaged.opening AS newest "
          "WHERE newest.place = opening.place)"},
    Share{"notice",
          "id > (SELECT max(id) FROM damaged.notice) - 500 OR state IN ('raised', "
          "'delivered')"},
    Share{"outbox",
          "id > (SELECT max(id) FROM damaged.outbox) - 500 OR state = 'waiting'"},
    // Without the mark none: to do all of a garden's years again would be worse.
    Share{"action",
          "id > ifnull((SELECT value FROM main.mark WHERE name = 'action'), "
          "9223372036854775807)"},
    Share{"written", "0"},
};

std::string condition_for(std::string_view table, Instant since) {
  const auto share = std::ranges::find(kShares, table, &Share::table);
  if (share == kShares.end()) return "1";
  const sys_days day = std::chrono::floor<days>(since);
  return fmt::format(fmt::runtime(share->rows),
                     fmt::arg("since", since.time_since_epoch().count()),
                     fmt::arg("since_day", day.time_since_epoch().count()),
                     fmt::arg("weeks", (since - kWeeks).time_since_epoch().count()),
                     fmt::arg("weeks_day", (day - kWeeks).time_since_epoch().count()));
}

std::vector<std::string> texts(Database& database, std::string_view sql,
                               std::string_view table) {
  Query query(database, sql, table);
  std::vector<std::string> all;
  while (query.next())
    query.read(all.emplace_back());
  return all;
}

// Of the tables of the current version, the marks first: others go by them.
std::vector<std::string> tables_of(Database& database) {
  return texts(database,
               "SELECT name FROM main.sqlite_schema WHERE type = 'table' AND name NOT "
               "LIKE 'sqlite_%' ORDER BY name <> ?",
               "mark");
}

// Carries one table over.
class Carrying {
 public:
  Carrying(Database& database, const std::string& table, Instant since)
      : database_(database),
        table_(table),
        columns_(texts(database,
                       "SELECT here.name FROM pragma_table_info(?1, 'main') AS here JOIN "
                       "pragma_table_info(?1, 'damaged') AS there USING (name)",
                       table)),
        from_(fmt::format("FROM damaged.\"{}\" WHERE {}", table,
                          condition_for(table, since))) {}

  void carry() {
    if (columns_.empty()) return;
    try {
      database_.execute(
          fmt::format("{} SELECT {} {}", insert(), fmt::join(columns_, ", "), from_));
      return;
    } catch (const StoreError&) {
      // A page of it cannot be read: what lies before that, and what lies behind it.
    }
    row_by_row("ASC");
    row_by_row("DESC");
  }

 private:
  std::string insert() const {
    return fmt::format("INSERT OR REPLACE INTO main.\"{}\" ({})", table_,
                       fmt::join(columns_, ", "));
  }

  // In the order of the key, so that the rows come straight from their pages.
  void row_by_row(std::string_view direction) try {
    std::vector<std::string> literals;
    for (const std::string& column : columns_) {
      // Text may hold any bytes.
      literals.push_back(
          fmt::format("CASE typeof({0}) WHEN 'text' THEN 'CAST(x''' || hex({0}) || ''' "
                      "AS TEXT)' ELSE quote({0}) END",
                      column));
    }
    std::vector<std::string> order;
    for (const std::string& key :
         texts(database_,
               "SELECT name FROM pragma_table_info(?, 'main') WHERE pk > 0 ORDER BY pk",
               table_)) {
      order.push_back(fmt::format("{} {}", key, direction));
    }
    Query rows(database_, fmt::format("SELECT {} {} ORDER BY {}",
                                      fmt::join(literals, " || ', ' || "), from_,
                                      fmt::join(order, ", ")));
    std::string row;
    while (rows.next()) {
      rows.read(row);
      database_.execute(fmt::format("{} VALUES ({})", insert(), row));
    }
  } catch (const StoreError&) {
    // So far.
  }

  Database& database_;
  const std::string& table_;
  const std::vector<std::string> columns_;
  const std::string from_;
};

// Readings of a series that is not known would become those of the next one that is made.
// Under series 0 stand marks.
void drop_strays(Database& database) {
  for (const std::string_view table :
       {"recent", "chunk", "hourly", "daily", "doubtful"}) {
    database.execute(
        fmt::format("DELETE FROM {} WHERE series <> 0 AND series NOT IN (SELECT id FROM "
                    "series)",
                    table));
  }
}

// The header of one of ours whose database is not to be recognised, or a first page that
// was wiped: no file of anybody begins with so many bytes of one kind.
bool is_damaged_store(const fs::path& file) {
  std::array<char, 100> header{};
  std::ifstream stream(file, std::ios::binary);
  if (!stream.read(header.data(), header.size())) return false;
  const std::string_view bytes(header.data(), header.size());
  // SQLite's place for the application id (sqlite.org/fileformat.html, section 1.3).
  return bytes.substr(68, 4) == "Rime" || bytes.substr(0, 15) == "SQLite format 3" ||
         bytes.find_first_not_of(bytes.front()) == std::string_view::npos;
}

}  // namespace

bool may_be_stood_in_for(const StoreError& error, const fs::path& file) {
  std::error_code failure;
  const fs::file_type type = fs::status(file, failure).type();
  // Whatever else: it could not even be looked at.
  if (type == fs::file_type::not_found || type == fs::file_type::directory) return false;
  if (error.fault() == StoreFault::kMisplaced) return false;
  return error.fault() != StoreFault::kNoDatabase || is_damaged_store(file);
}

std::optional<Instant> last_now_of(const fs::path& file) try {
  Database database;
  database.attach(file, "damaged");
  // The database itself is empty: a table's name means that of the file.
  const auto now = MarkTable(database).find(kMarkNow);
  return now ? std::optional(Instant{std::chrono::seconds{*now}}) : std::nullopt;
} catch (const StoreError&) {
  return std::nullopt;
}

std::unique_ptr<Database> database_standing_in(const fs::path& file, Instant since) {
  auto database = std::make_unique<Database>();
  bring_up_to_date(*database);
  try {
    database->attach(file, "damaged");
  } catch (const StoreError&) {
    return database;
  }
  for (const std::string& table : tables_of(*database)) {
    try {
      Carrying(*database, table, since).carry();
    } catch (const StoreError&) {
      // Not even its columns can be read.
    }
  }
  drop_strays(*database);
  // Whoever puts another file in its place finds nobody in the way.
  database->detach("damaged");
  return database;
}

AwaitedFile::AwaitedFile(fs::path file, StoreFault fault)
    : file_(std::move(file)),
      must_be_another_(fault == StoreFault::kDamaged ||
                       fault == StoreFault::kNoDatabase || fault == StoreFault::kMedium),
      may_recover_(fault == StoreFault::kMedium),
      of_no_use_(must_be_another_ ? identity_of(file_) : std::nullopt) {}

bool AwaitedFile::is_back(std::chrono::steady_clock::time_point at,
                          const std::function<void()>& moving) {
  if (!looked_at_) looked_at_ = tried_at_ = at;
  if (at - *looked_at_ < kLookEvery) return is_back_;
  looked_at_ = at;
  // What is gone is not made anew here: a backup may be on its way.
  const auto identity = identity_of(file_);
  const bool was_back = std::exchange(is_back_, false);
  const bool try_it = identity && (was_back || is_worth_trying(*identity, at));
  last_seen_ = identity;
  if (!try_it) return false;
  tried_at_ = at;
  is_back_ = can_be_used(must_be_another_ && !was_back, moving);
  if (!is_back_) of_no_use_ = identity;
  return is_back_;
}

bool AwaitedFile::is_worth_trying(const Identity& identity,
                                  std::chrono::steady_clock::time_point at) const {
  if (!must_be_another_) return true;
  if (may_recover_ && at - tried_at_ >= kTryAgainAfter) return true;
  return identity != of_no_use_ && identity == last_seen_;
}

// Leaves it as it is: a version from before is brought up to date by who opens it to run.
bool AwaitedFile::can_be_used(bool is_to_be_whole,
                              const std::function<void()>& moving) const try {
  Database database(file_, Database::Access::kReadWrite);
  { const Transaction undone(database); }
  const auto tables =
      texts(database, "SELECT name FROM sqlite_schema WHERE type = ?", "table");
  if (!is_to_be_whole) return !tables.empty();
  for (const std::string& table : tables) {
    moving();
    Query check(database, fmt::format("PRAGMA quick_check('{}')", table));
    std::string said;
    if (check.next()) check.read(said);
    if (said != "ok") return false;
  }
  return !tables.empty();
} catch (const StoreError&) {
  return false;
}

std::optional<AwaitedFile::Identity> AwaitedFile::identity_of(const fs::path& file) {
  struct stat found {};
  if (::stat(file.c_str(), &found) != 0) return std::nullopt;
  return Identity{.device = static_cast<std::uint64_t>(found.st_dev),
                  .file = static_cast<std::uint64_t>(found.st_ino),
                  .bytes = static_cast<std::int64_t>(found.st_size),
                  .changed = std::int64_t{found.st_mtim.tv_sec} * 1'000'000'000 +
                             std::int64_t{found.st_mtim.tv_nsec}};
}

}  // namespace rimeward
