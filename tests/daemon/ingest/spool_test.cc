#include "daemon/ingest/spool.h"

#include <algorithm>
#include <fstream>
#include <sstream>
#include <thread>

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <signal.h>
#include <sys/resource.h>

#include "tests/support/scratch_folder.h"

namespace rimeward {
namespace {

namespace fs = std::filesystem;

Arrival reading(int packet_id, const std::string& payload = R"({"temperature":3.1})") {
  Arrival arrival;
  arrival.at = Instant{std::chrono::seconds{1'776'000'000}};
  arrival.uptime = std::chrono::seconds{62};
  arrival.topic = "garden/yard/climate";
  arrival.payload = payload;
  arrival.payload_bytes = payload.size();
  arrival.packet_id = packet_id;
  return arrival;
}

Arrival again(Arrival arrival) {
  arrival.redelivered = true;
  arrival.sequence = 0;
  return arrival;
}

// Appends readings `from` to `to`, both included, each told by its packet id.
void fill(Spool& spool, int from, int to, std::size_t payload_bytes = 20) {
  for (int i = from; i <= to; ++i) {
    Arrival arrival = reading(i, std::string(payload_bytes, 'a'));
    REQUIRE(spool.append(arrival) == Kept::kKept);
  }
}

std::vector<std::uint64_t> sequences(const Spool& spool, std::uint64_t after = 0) {
  std::vector<std::uint64_t> found;
  for (const Arrival& arrival : spool.after(after, 1'000'000)) {
    found.push_back(arrival.sequence);
  }
  return found;
}

std::vector<std::uint64_t> counted(std::uint64_t from, std::uint64_t to) {
  std::vector<std::uint64_t> numbers;
  for (auto i = from; i <= to; ++i)
    numbers.push_back(i);
  return numbers;
}

std::string text_of_file(const fs::path& file) {
  std::ostringstream text;
  text << std::ifstream(file).rdbuf();
  return text.str();
}

// What another process would find if this one were killed now.
void copy_as_killed(const fs::path& from, const fs::path& to) {
  fs::remove_all(to);
  fs::create_directories(to);
  for (const auto& entry : fs::directory_iterator(from)) {
    fs::copy_file(entry.path(), to / entry.path().filename());
  }
}

TEST_CASE("what was appended is read back, in order and in parts") {
  const ScratchFolder folder;
  const auto spool = Spool::open(folder / "spool", 0);
  CHECK(spool->last_sequence() == 0);
  fill(*spool, 1, 10);
  CHECK(spool->last_sequence() == 10);
  CHECK(sequences(*spool) == counted(1, 10));
  CHECK(sequences(*spool, 7) == counted(8, 10));
  CHECK(sequences(*spool, 10).empty());
  const auto part = spool->after(3, 2);
  REQUIRE(part.size() == 2);
  CHECK(part[0].sequence == 4);
  CHECK(part[1].packet_id == 5);
  CHECK(spool->after(3, 0).empty());
}

TEST_CASE("the folder is made for the owner and the group alone") {
  const ScratchFolder folder;
  const auto spool = Spool::open(folder / "run" / "spool", 0);
  CHECK(fs::status(folder / "run" / "spool").permissions() == fs::perms{0750});
}

TEST_CASE("a folder that cannot be made is refused with its name and a remedy") {
  const ScratchFolder folder;
  std::ofstream(folder / "file") << "not a folder";
  std::string said;
  try {
    Spool::open(folder / "file" / "spool", 0);
  } catch (const SpoolError& error) {
    said = error.what();
  }
  CHECK(said.find((folder / "file" / "spool").string()) != std::string::npos);
  CHECK(said.find("[store] spool") != std::string::npos);
}

TEST_CASE("a second process is kept out of a folder in use") {
  const ScratchFolder folder;
  auto first = Spool::open(folder.path(), 0);
  CHECK_THROWS_AS(Spool::open(folder.path(), 0), SpoolError);
  first.reset();
  CHECK_NOTHROW(Spool::open(folder.path(), 0));
}

TEST_CASE("a last line torn at any byte is dropped and its sequence given anew") {
  const ScratchFolder folder;
  {
    const auto spool = Spool::open(folder / "whole", 0);
    fill(*spool, 1, 3);
  }
  const std::string text = text_of_file(folder / "whole" / "newer.log");
  const std::size_t last_line = text.rfind('\n', text.size() - 2) + 1;
  for (std::size_t bytes = last_line; bytes < text.size(); ++bytes) {
    CAPTURE(bytes);
    fs::remove_all(folder / "torn");
    fs::create_directories(folder / "torn");
    std::ofstream(folder / "torn" / "newer.log") << text.substr(0, bytes);
    const auto spool = Spool::open(folder / "torn", 0);
    CHECK(sequences(*spool) == counted(1, 2));
    fill(*spool, 3, 3);
    CHECK(sequences(*spool) == counted(1, 3));
    CHECK(spool->unreadable() == 0);
  }
}

TEST_CASE("a kill after any append and any cut loses nothing that is not in the store") {
  const ScratchFolder folder;
  const auto spool = Spool::open(folder / "spool", 0);
  std::uint64_t committed = 0;
  std::uint64_t cuts = 0;
  const auto check_killed_now = [&] {
    copy_as_killed(folder / "spool", folder / "killed");
    const auto reopened = Spool::open(folder / "killed", committed);
    CHECK(reopened->last_sequence() == spool->last_sequence());
    CHECK(sequences(*reopened, committed) ==
          counted(committed + 1, spool->last_sequence()));
  };
  for (int i = 1; i <= 300; ++i) {
    fill(*spool, i, i, 1000);
    check_killed_now();
    if (i % 40 != 0) continue;
    committed = static_cast<std::uint64_t>(i - 5);
    const auto before = fs::file_size(folder / "spool" / "newer.log");
    spool->cut(committed);
    if (fs::file_size(folder / "spool" / "newer.log") < before) ++cuts;
    check_killed_now();
  }
  CHECK(cuts >= 2);
  CHECK(fs::file_size(folder / "spool" / "older.log") < 200'000);
}

TEST_CASE("a kill between the two steps of a cut loses nothing") {
  const ScratchFolder folder;
  {
    const auto spool = Spool::open(folder.path(), 0);
    fill(*spool, 1, 100, 1000);
  }
  fs::rename(folder / "newer.log", folder / "older.log");  // killed before the new file
  const auto spool = Spool::open(folder.path(), 60);
  CHECK(sequences(*spool, 60) == counted(61, 100));
  fill(*spool, 101, 101);
  CHECK(sequences(*spool, 99) == counted(100, 101));
}

TEST_CASE("a cut waits until the older segment is in the store whole") {
  const ScratchFolder folder;
  const auto spool = Spool::open(folder.path(), 0);
  fill(*spool, 1, 100, 1000);
  spool->cut(50);  // the newer one becomes the older one; 51 to 100 are still waited for
  fill(*spool, 101, 200, 1000);
  spool->cut(99);
  CHECK(sequences(*spool, 99) == counted(100, 200));
  spool->cut(100);
  CHECK(sequences(*spool) == counted(101, 200));
}

TEST_CASE("a redelivered message is known again, also after a restart and a cut") {
  const ScratchFolder folder;
  Arrival seen = reading(42);
  auto spool = Spool::open(folder.path(), 0);
  REQUIRE(spool->append(seen) == Kept::kKept);
  CHECK(seen.sequence == 1);
  Arrival redelivered = again(seen);
  CHECK(spool->append(redelivered) == Kept::kSeenBefore);

  fill(*spool, 100, 200, 1000);
  spool->cut(spool->last_sequence());
  const auto committed = spool->last_sequence();
  spool.reset();
  spool = Spool::open(folder.path(), committed);
  redelivered = again(seen);
  CHECK(spool->append(redelivered) == Kept::kSeenBefore);
  CHECK(spool->last_sequence() == committed);
}

TEST_CASE("only what is told to be a redelivery can be one") {
  const ScratchFolder folder;
  const auto spool = Spool::open(folder.path(), 0);
  Arrival first = reading(42);
  REQUIRE(spool->append(first) == Kept::kKept);

  Arrival equal_value_sent_again = reading(42);
  CHECK(spool->append(equal_value_sent_again) == Kept::kKept);
  Arrival other_packet = again(reading(43));
  CHECK(spool->append(other_packet) == Kept::kKept);
  Arrival other_payload = again(reading(42, R"({"temperature":3.2})"));
  CHECK(spool->append(other_payload) == Kept::kKept);
  Arrival other_topic = again(reading(42));
  other_topic.topic = "garden/pea-bed/climate";
  CHECK(spool->append(other_topic) == Kept::kKept);
  CHECK(sequences(*spool) == counted(1, 5));
}

TEST_CASE("of ten thousand messages spooled since, the oldest is still known, no older") {
  const ScratchFolder folder;
  const auto spool = Spool::open(folder.path(), 0);
  fill(*spool, 1, 10'001);
  Arrival oldest_known = again(reading(2, std::string(20, 'a')));
  CHECK(spool->append(oldest_known) == Kept::kSeenBefore);
  Arrival forgotten = again(reading(1, std::string(20, 'a')));
  CHECK(spool->append(forgotten) == Kept::kKept);
}

TEST_CASE("past its limit the spool gives a sequence and says that it is not safe") {
  const ScratchFolder folder;
  const auto spool = Spool::open(folder.path(), 0, 100'000);
  std::uint64_t kept = 0;
  Arrival arrival = reading(1, std::string(1000, 'a'));
  while (spool->append(arrival) == Kept::kKept)
    kept = arrival.sequence;
  CHECK(kept > 90);
  CHECK(kept < 100);
  CHECK(arrival.sequence == kept + 1);
  CHECK(sequences(*spool) == counted(1, kept));

  spool->cut(spool->last_sequence());
  CHECK(spool->append(arrival) == Kept::kKept);
  CHECK(arrival.sequence == kept + 2);
}

TEST_CASE("a full disk leaves whole lines and the spool goes on when there is room") {
  const ScratchFolder folder;
  const auto spool = Spool::open(folder.path(), 0);
  fill(*spool, 1, 3);
  const auto whole = fs::file_size(folder / "newer.log");

  // A limit on the size of files cuts a write short as a full disk does.
  const auto old_action = ::signal(SIGXFSZ, SIG_IGN);
  rlimit old_limit{};
  REQUIRE(::getrlimit(RLIMIT_FSIZE, &old_limit) == 0);
  rlimit tight = old_limit;
  tight.rlim_cur = whole + 10;
  REQUIRE(::setrlimit(RLIMIT_FSIZE, &tight) == 0);
  Arrival unlucky = reading(4);
  const Kept kept = spool->append(unlucky);
  REQUIRE(::setrlimit(RLIMIT_FSIZE, &old_limit) == 0);
  ::signal(SIGXFSZ, old_action);

  CHECK(kept == Kept::kNotSafe);
  CHECK(unlucky.sequence == 4);
  CHECK(fs::file_size(folder / "newer.log") == whole);
  fill(*spool, 5, 5);
  CHECK(sequences(*spool) == std::vector<std::uint64_t>{1, 2, 3, 5});
}

TEST_CASE("counting goes on after a cut, a restart and a wiped folder") {
  const ScratchFolder folder;
  {
    const auto spool = Spool::open(folder / "spool", 0);
    fill(*spool, 1, 100, 1000);
    spool->cut(100);
    CHECK(spool->last_sequence() == 100);
  }
  {
    const auto spool = Spool::open(folder / "spool", 100);
    fill(*spool, 101, 101);
    CHECK(spool->last_sequence() == 101);
  }
  fs::remove_all(folder / "spool");
  const auto spool = Spool::open(folder / "spool", 101);
  fill(*spool, 102, 102);
  CHECK(sequences(*spool) == counted(102, 102));
}

TEST_CASE("a line that cannot be read is passed over and counted") {
  const ScratchFolder folder;
  {
    const auto spool = Spool::open(folder.path(), 0);
    fill(*spool, 1, 2);
  }
  std::ofstream(folder / "newer.log", std::ios::app) << "# a remark\nnot a line\n";
  const auto spool = Spool::open(folder.path(), 0);
  CHECK(spool->unreadable() == 1);
  fill(*spool, 3, 3);
  CHECK(sequences(*spool) == counted(1, 3));
}

// How many of the arrivals spooled still tell their uptime.
std::ptrdiff_t with_uptime(const Spool& spool) {
  return std::ranges::count_if(spool.after(0, 1'000), [](const Arrival& arrival) {
    return arrival.uptime.has_value();
  });
}

TEST_CASE("an uptime stands across restarts of the process, not of the board") {
  const ScratchFolder folder;
  const auto open = [&](const std::string& boot) {
    return Spool::open(folder.path(), 0, Spool::kLimitBytes, boot);
  };
  auto spool = open("first-boot");
  fill(*spool, 1, 3);
  CHECK(with_uptime(*spool) == 3);
  spool.reset();
  spool = open("first-boot");
  fill(*spool, 4, 4);
  CHECK(with_uptime(*spool) == 4);
  spool.reset();
  spool = open("second-boot");
  CHECK(with_uptime(*spool) == 0);
  fill(*spool, 5, 6);
  CHECK(with_uptime(*spool) == 2);
  spool.reset();
  spool = open("second-boot");
  CHECK(with_uptime(*spool) == 2);
  CHECK(sequences(*spool) == counted(1, 6));
}

TEST_CASE("where the boot is not known, or its note is lost, no uptime is trusted") {
  const ScratchFolder folder;
  const auto open = [&](const std::string& boot) {
    return Spool::open(folder.path(), 0, Spool::kLimitBytes, boot);
  };
  auto spool = open("");
  fill(*spool, 1, 2);
  CHECK(with_uptime(*spool) == 2);
  spool.reset();
  spool = open("");
  CHECK(with_uptime(*spool) == 0);
  spool.reset();
  spool = open("first-boot");
  fill(*spool, 3, 3);
  spool.reset();
  fs::remove(folder / "boot");
  spool = open("first-boot");
  CHECK(with_uptime(*spool) == 0);
  CHECK(sequences(*spool) == counted(1, 3));
}

TEST_CASE("an uptime outlives a cut of the spool") {
  const ScratchFolder folder;
  auto spool = Spool::open(folder.path(), 0, Spool::kLimitBytes, "first-boot");
  fill(*spool, 1, 100, 1000);
  spool->cut(50);
  fill(*spool, 101, 101);
  spool.reset();
  spool = Spool::open(folder.path(), 50, Spool::kLimitBytes, "first-boot");
  CHECK(with_uptime(*spool) == 101);
}

TEST_CASE("a long spool is read back from the middle") {
  const ScratchFolder folder;
  const auto spool = Spool::open(folder.path(), 0);
  fill(*spool, 1, 5000, 100);
  for (const std::uint64_t after : {0U, 1U, 999U, 2500U, 4999U}) {
    CAPTURE(after);
    const auto found = spool->after(after, 1);
    REQUIRE(found.size() == 1);
    CHECK(found[0].sequence == after + 1);
    CHECK(found[0].packet_id == static_cast<int>(after + 1));
  }
}

TEST_CASE("one thread appends while another reads and cuts") {
  const ScratchFolder folder;
  const auto spool = Spool::open(folder.path(), 0);
  constexpr std::uint64_t kCount = 2000;
  std::jthread writer([&] {
    for (std::uint64_t i = 0; i < kCount; ++i) {
      Arrival arrival = reading(1, std::string(200, 'a'));
      if (spool->append(arrival) != Kept::kKept) return;
    }
  });
  std::uint64_t expected = 1;
  const auto deadline = std::chrono::steady_clock::now() + std::chrono::seconds{30};
  while (expected <= kCount && std::chrono::steady_clock::now() < deadline) {
    const std::uint64_t before = expected;
    for (const Arrival& arrival : spool->after(expected - 1, 100)) {
      REQUIRE(arrival.sequence == expected);
      ++expected;
    }
    spool->cut(expected - 1);
    // As the loop waits for the next arrival: who only asks again and again can keep the
    // writer from the lock for as long as it likes.
    if (expected == before) std::this_thread::sleep_for(std::chrono::milliseconds{1});
  }
  CHECK(expected == kCount + 1);
}

}  // namespace
}  // namespace rimeward
