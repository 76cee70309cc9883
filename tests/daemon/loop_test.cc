#include "daemon/loop.h"

#include <algorithm>
#include <atomic>
#include <filesystem>
#include <fstream>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "tests/daemon/store/store_probe.h"
#include "tests/support/hochfeld.h"
#include "tests/support/scratch_folder.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;
using std::chrono::seconds;

namespace {

const Instant kNoon = at("2026-04-12T12:00:00Z");
const Instant k1970 = at("1970-01-01T00:00:00Z");

// A loop on a thread of its own, with a clock that the test sets; the board stays at one
// uptime.
class Running {
 public:
  explicit Running(const std::filesystem::path& folder, Instant system,
                   Store store = Store::in_memory(),
                   std::optional<StoreError> stood_in_for = std::nullopt)
      : system_(system),
        store_(std::move(store)),
        spool_(Spool::open(folder, app_.committed_sequence())),
        keeper_(GardenClock(GardenClock::Trust::kEarned, app_.now()),
                {.look = [this] { return look(); },
                 .keep = [](const Course&) {},
                 .log = log()}),
        loop_({.garden = garden_,
               .zone = zone_,
               .app = app_,
               .store = store_,
               .spool = *spool_,
               .inbox = inbox_,
               .courier = courier_,
               .gate = gate_,
               .timekeeper = &keeper_,
               .stood_in_for = std::move(stood_in_for)},
              log()),
        thread_([this] { loop_.run(); }) {}

  ~Running() {
    if (thread_.joinable()) stop();
  }
  Running(const Running&) = delete;
  Running& operator=(const Running&) = delete;

  // An arrival as Paho's thread would hand it over.
  void arrive(seconds uptime, const std::string& payload) {
    Arrival arrival;
    arrival.at = system_.load() - (kUptime - uptime);
    arrival.uptime = uptime;
    arrival.topic = "garden/yard/climate";
    arrival.payload = payload;
    arrival.payload_bytes = payload.size();
    arrival.packet_id = static_cast<int>(uptime.count());
    REQUIRE(spool_->append(arrival) == Kept::kKept);
    post(arrival);
  }
  void set(Instant system) { system_ = system; }
  FloodGate& gate() { return gate_; }
  const Spool& spool() const { return *spool_; }

  // Ends the loop with all that has arrived.
  void stop() {
    post(Stop{});
    thread_.join();
  }
  // Waits until the loop has said it.
  bool says(const std::string& words) {
    for (const auto give_up = std::chrono::steady_clock::now() + 30s;
         std::chrono::steady_clock::now() < give_up; std::this_thread::sleep_for(10ms)) {
      const std::lock_guard lock(mutex_);
      if (said_.find(words) != std::string::npos) return true;
    }
    return false;
  }
  bool moves() {
    const auto before = loop_.progress();
    std::this_thread::sleep_for(2500ms);
    return loop_.progress() > before;
  }
  StartOver wants_to_start_over() const { return loop_.wants_to_start_over(); }
  // Only once the loop has stopped.
  bool is_all_committed() const { return loop_.is_all_committed(); }
  std::vector<std::string> stored() const {
    std::vector<std::string> rows;
    store_.each_reading(k1970, kNoon + 24h, [&](const ReadingRow& row) {
      rows.push_back(fmt::format("{} {}", format_utc(row.time), row.value));
    });
    return rows;
  }
  std::int64_t counted(Doubt doubt) const {
    std::int64_t count = 0;
    for (const TallyRow& row : store_.tallies())
      count += row.doubt == doubt ? row.count : 0;
    return count;
  }

 private:
  static constexpr seconds kUptime = 300s;

  // As the service does: a loop that has no time just now is waited for.
  void post(const Message& message) {
    while (!inbox_.post(message))
      std::this_thread::sleep_for(1ms);
  }
  ClockLook look() const { return {.system = system_, .uptime = kUptime}; }
  LogSink log() {
    return [this](LogLevel, const std::string& text) {
      const std::lock_guard lock(mutex_);
      said_ += text + "\n";
    };
  }

  const Garden garden_ = hochfeld();
  const Zone zone_ = berlin();
  std::atomic<Instant> system_;
  std::mutex mutex_;
  std::string said_;  // guarded by mutex_
  Store store_;
  App app_{garden_, zone_, store_, {}};
  std::unique_ptr<Spool> spool_;
  Inbox<Message> inbox_{1000};
  Courier courier_{{}, [](const Delivered&) {}};
  FloodGate gate_;
  Timekeeper keeper_;
  Loop loop_;
  std::thread thread_;
};

}  // namespace

TEST_CASE("nothing is taken before the clock is believed, then all at its true time") {
  const ScratchFolder folder;
  Running running(folder.path(), k1970 + 300s);
  running.arrive(100s, R"({"temperature": 3.1})");
  running.arrive(160s, R"({"temperature": 3.2})");
  REQUIRE(running.says("which cannot be"));
  CHECK(running.moves());

  running.set(kNoon);
  running.arrive(220s, R"({"temperature": 3.3})");
  REQUIRE(running.says("nothing confirms it yet"));
  running.arrive(280s, R"({"temperature": 3.4, "time": "2026-04-12T11:59:38Z"})");
  REQUIRE(running.says("is believed: a sensor's own time agrees"));
  REQUIRE(running.says("messages that waited for the clock: 4, taken now"));
  running.stop();
  CHECK(running.stored() == std::vector<std::string>{"2026-04-12T11:56:40Z 3100",
                                                     "2026-04-12T11:57:40Z 3200",
                                                     "2026-04-12T11:58:40Z 3300",
                                                     "2026-04-12T11:59:38Z 3400"});
}

TEST_CASE("a stop while the clock is waited for leaves all in the spool, and says so") {
  const ScratchFolder folder;
  Running running(folder.path(), k1970 + 300s);
  running.arrive(100s, R"({"temperature": 3.1})");
  running.stop();
  CHECK(running.says("messages that waited for the clock: 1, kept in the spool"));
  CHECK(running.stored().empty());
  CHECK(running.spool().after(0, 10).size() == 1);
}

TEST_CASE("what the gate dropped is counted for its sensor, to the last message") {
  const ScratchFolder folder;
  Running running(folder.path(), kNoon);
  running.arrive(280s, R"({"temperature": 3.4, "time": "2026-04-12T11:59:38Z"})");
  REQUIRE(running.says("is believed"));
  const auto now = std::chrono::steady_clock::now();
  for (std::int64_t i = 0; i < FloodGate::kAtOnce + 3; ++i)
    (void)running.gate().admit("garden/yard/climate", now);
  REQUIRE(running.says("garden/yard/climate: "));
  REQUIRE(running.says("messages dropped: more than 20000 at once and then 5 a second"));
  (void)running.gate().admit("garden/yard/climate", now);
  running.gate().count_redelivered("garden/yard/climate");
  running.stop();
  CHECK(running.counted(Doubt::kFlood) == 4);
  CHECK(running.counted(Doubt::kRedelivered) == 1);
}

TEST_CASE("while a store stands in for the file nothing of the spool counts as stored") {
  const ScratchFolder folder;
  Running running(folder / "spool", kNoon, Store::in_memory(),
                  StoreError("store garden.db: it is damaged", StoreFault::kDamaged));
  REQUIRE(running.says("it is damaged; advice goes on from a copy in memory"));
  running.arrive(280s, R"({"temperature": 3.4, "time": "2026-04-12T11:59:38Z"})");
  REQUIRE(running.says("is believed"));
  for (int i = 0; i < 1000; ++i) {
    running.arrive(
        281s + seconds(i),
        fmt::format(R"({{"temperature": 3.4, "of": {}}})", i) + std::string(200, ' '));
  }
  CHECK(running.wants_to_start_over() == StartOver::kNo);
  running.stop();
  CHECK(running.spool().after(0, 2000).size() == 1001);
  // Nothing was moved there, to be overwritten next.
  CHECK(std::filesystem::file_size(folder / "spool" / "older.log") == 0);
  CHECK_FALSE(running.is_all_committed());
}

TEST_CASE("a store whose page turns out to be damaged asks for one to stand in for it") {
  const ScratchFolder folder;
  const auto file = folder / "garden.db";
  { Store::open(file, Store::Access::kReadWrite); }
  const auto page = std::stoull(
      sqlite_rows(file, "SELECT rootpage FROM sqlite_schema WHERE name = 'action'")
          .front());
  std::fstream stream(file, std::ios::in | std::ios::out | std::ios::binary);
  stream.seekp(static_cast<std::streamoff>((page - 1) * 4096));
  stream << std::string(4096, '\0') << std::flush;
  Running running(folder / "spool", kNoon, Store::open(file, Store::Access::kReadWrite));
  running.arrive(280s, R"({"temperature": 3.4, "time": "2026-04-12T11:59:38Z"})");
  REQUIRE(running.says("it is damaged; restore a backup"));
  CHECK(running.moves());
  CHECK(running.wants_to_start_over() == StartOver::kDamaged);
}
