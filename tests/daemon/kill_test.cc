// A process that is really killed, at each step of the way from the callback to the cut
// of the spool, and started again on what it left.

#include <csignal>

#include <doctest/doctest.h>
#include <sys/wait.h>
#include <unistd.h>

#include "daemon/app.h"
#include "daemon/ingest/spool.h"
#include "tests/support/played.h"
#include "tests/support/scratch_folder.h"

using namespace rimeward;
using namespace rimeward::testing;

namespace {

// Where the child dies.
enum class Death { kSpooled, kTurned, kCommitted, kCut };

struct Kill {
  std::size_t arrival;  // its number, from 0
  Death step;
};

// What the broker knows: it sends again whatever was not acknowledged.
struct BrokerSide {
  std::size_t acknowledged = 0;
};

// One life of the daemon, from the first unacknowledged message on. Reports each
// acknowledgement through `pipe`, as a returning callback would.
void live(const std::filesystem::path& folder, const std::vector<Arrival>& arrivals,
          std::size_t acknowledged, const Kill& kill, int pipe) {
  const Garden garden = hochfeld();
  const Zone zone = berlin();
  Store store = Store::open(folder / "garden.db", Store::Access::kReadWrite);
  App app(garden, zone, store, {});
  const auto spool = Spool::open(folder / "spool", app.committed_sequence());
  for (const Arrival& arrival : spool->after(app.committed_sequence(), 100'000)) {
    app.turn(arrival, arrival.at);
  }
  for (std::size_t i = acknowledged; i < arrivals.size(); ++i) {
    const auto die_at = [&](Death step) {
      if (kill.arrival == i && kill.step == step) ::kill(::getpid(), SIGKILL);
    };
    Arrival arrival = arrivals[i];
    arrival.sequence = 0;
    arrival.packet_id = static_cast<int>(i % 65'535) + 1;
    arrival.redelivered = i == acknowledged && acknowledged > 0;
    const Kept kept = spool->append(arrival);
    die_at(Death::kSpooled);  // in the callback: the broker has no word of it yet
    const char acknowledgement = 'a';
    if (::write(pipe, &acknowledgement, 1) != 1) ::_exit(3);
    if (kept == Kept::kKept) app.turn(arrival, arrival.at);
    die_at(Death::kTurned);
    if (app.wants_commit() || i % 7 == 0) {
      app.commit();
      die_at(Death::kCommitted);
      spool->cut(app.committed_sequence());
      die_at(Death::kCut);
    }
  }
  app.turn(Stop{}, arrivals.back().at);
  app.commit();
  ::_exit(0);
}

// Runs one life in a process of its own; true when it was killed.
bool run(const std::filesystem::path& folder, const std::vector<Arrival>& arrivals,
         BrokerSide& broker, const Kill& kill) {
  int ends[2];
  REQUIRE(::pipe(ends) == 0);
  const pid_t child = ::fork();
  REQUIRE(child >= 0);
  if (child == 0) {
    ::close(ends[0]);
    try {
      live(folder, arrivals, broker.acknowledged, kill, ends[1]);
    } catch (...) {
      ::_exit(2);
    }
  }
  ::close(ends[1]);
  char acknowledgement = 0;
  while (::read(ends[0], &acknowledgement, 1) == 1)
    ++broker.acknowledged;
  ::close(ends[0]);
  int status = 0;
  REQUIRE(::waitpid(child, &status, 0) == child);
  if (WIFSIGNALED(status)) return true;
  REQUIRE(WEXITSTATUS(status) == 0);
  return false;
}

std::vector<std::string> readings_and_notices(const std::filesystem::path& file) {
  const Store store = Store::open(file, Store::Access::kReadOnly);
  std::vector<std::string> lines;
  store.each_reading(
      at("2026-01-01T00:00:00Z"), at("2027-01-01T00:00:00Z"), [&](const ReadingRow& row) {
        lines.push_back(
            fmt::format("{} {} {}", format_utc(row.time), row.series, row.value));
      });
  for (const NoticeRow& row : store.latest_notices(1000)) {
    lines.push_back(fmt::format("{} {} {} {} {}", row.id, row.kind, row.subject,
                                format_utc(row.raised_at), row.revision));
  }
  return lines;
}

}  // namespace

TEST_CASE("a process killed at any step keeps every message once and every notice") {
  const auto arrivals = invented_arrivals(6);
  const ScratchFolder whole;
  BrokerSide unbroken;
  REQUIRE_FALSE(run(whole.path(), arrivals, unbroken, {arrivals.size(), Death::kCut}));
  const auto expected = readings_and_notices(whole / "garden.db");
  REQUIRE(expected.size() > 2 * arrivals.size());

  const ScratchFolder folder;
  BrokerSide broker;
  int kills = 0;
  // Every step, at commits (each seventh message) and between them, through all six days.
  for (std::size_t arrival = 5; arrival < arrivals.size(); arrival += 23) {
    const Death step = static_cast<Death>(kills % 4);
    const bool needs_commit = step == Death::kCommitted || step == Death::kCut;
    const std::size_t where = needs_commit ? arrival / 7 * 7 : arrival;
    if (where < broker.acknowledged) continue;
    REQUIRE(run(folder.path(), arrivals, broker, {where, step}));
    ++kills;
  }
  CHECK(kills > 50);
  REQUIRE_FALSE(run(folder.path(), arrivals, broker, {arrivals.size(), Death::kCut}));
  CHECK(readings_and_notices(folder / "garden.db") == expected);
}
