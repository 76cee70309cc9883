#include "daemon/store_watch.h"

#include <fstream>
#include <string>

#include <doctest/doctest.h>

#include "daemon/store/store.h"
#include "tests/support/hochfeld.h"
#include "tests/support/scratch_folder.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

using Act = StoreWatch::Act;

const Instant kNoon = at("2026-04-12T12:00:00Z");
const StoreError kFull("store garden.db: the disk is full", StoreFault::kFull);
const StoreError kDamaged("store garden.db: it is damaged", StoreFault::kDamaged);

struct Watched {
  std::string said;
  StoreWatch watch;

  explicit Watched(const std::string& file = "garden.db",
                   std::optional<StoreError> stood_in_for = std::nullopt)
      : watch(file, std::move(stood_in_for),
              [this](LogLevel, const std::string& text) { said += text + "\n"; }) {}

  // "none", "well", or the trouble's number and since how many minutes it lasts.
  std::string news(Instant now) {
    const auto state = watch.news(now);
    if (!state) return "none";
    if (!state->trouble) return "well";
    return fmt::format("{} since {}", static_cast<int>(state->trouble->fault),
                       (state->trouble->since - kNoon) / 1min);
  }
  std::string news() { return news(kNoon); }
  void commits(int count, std::chrono::seconds in) {
    for (int i = 0; i < count; ++i)
      watch.committed(in);
  }
};

std::string fault(StoreFault one, int since) {
  return fmt::format("{} since {}", static_cast<int>(one), since);
}

}  // namespace

TEST_CASE("a store that fails is told once, and once that it is well") {
  Watched store;
  CHECK(store.news() == "none");
  store.watch.failed(Act::kCommit, kFull);
  CHECK(store.watch.fails(Act::kCommit));
  CHECK(store.watch.status().starts_with("store garden.db: the disk is full"));
  store.watch.failed(Act::kCommit, kFull);
  CHECK(store.news(kNoon + 2min) == fault(StoreFault::kFull, 2));
  CHECK(store.news(kNoon + 3min) == "none");
  store.commits(1, 0s);
  CHECK(store.news() == "well");
  CHECK(store.news() == "none");
  CHECK(store.watch.status() == "the store takes readings");
  CHECK(store.said ==
        "store garden.db: the disk is full; readings wait in memory and the advice goes "
        "on\nthe store takes readings again; nothing was lost\n");
}

TEST_CASE("trouble that changes its name lasts since it began") {
  Watched store;
  store.watch.failed(Act::kCommit, kFull);
  CHECK(store.news(kNoon) == fault(StoreFault::kFull, 0));
  store.watch.failed(Act::kCommit, StoreError("failed", StoreFault::kMedium));
  CHECK(store.news(kNoon + 9min) == fault(StoreFault::kMedium, 0));
}

TEST_CASE("a store is well only once all goes well that had failed") {
  Watched store;
  store.watch.failed(Act::kCare, kFull);
  CHECK_FALSE(store.watch.fails(Act::kCommit));
  CHECK(store.news() == fault(StoreFault::kFull, 0));
  store.commits(3, 0s);
  CHECK(store.news() == "none");
  store.watch.done(Act::kCare);
  CHECK(store.news() == "well");
}

TEST_CASE("a store is slow by three long commits of ten, and quick by ten short ones") {
  Watched store;
  store.commits(2, 6s);
  store.commits(8, 5s);
  store.commits(2, 6s);
  CHECK(store.news() == "none");
  store.commits(1, 6s);
  CHECK(store.news() == fault(StoreFault::kSlow, 0));
  CHECK(store.said.find("the last commit took 6 s") != std::string::npos);
  store.commits(9, 0s);
  CHECK(store.news() == "none");
  store.commits(1, 0s);
  CHECK(store.news() == "well");
  CHECK(store.said.ends_with("the store is quick again\n"));
}

TEST_CASE("only damage makes the file be left alone") {
  Watched store;
  store.watch.failed(Act::kCommit, kFull);
  CHECK_FALSE(store.watch.damage());
  store.watch.failed(Act::kRead, kDamaged);
  REQUIRE(store.watch.damage());
  CHECK(store.watch.damage()->fault() == StoreFault::kDamaged);
}

TEST_CASE("a store that stands in is trouble until the file is back, whatever it takes") {
  const ScratchFolder folder;
  const std::string file = (folder / "garden.db").string();
  std::ofstream(file) << "not yet a store";
  Watched store(file, kFull);
  CHECK(store.watch.stands_in());
  CHECK_FALSE(store.watch.damage());
  CHECK(store.news() == fault(StoreFault::kFull, 0));
  store.commits(20, 0s);
  store.commits(5, 9s);
  CHECK(store.news() == "none");
  const StoreWatch::Steady::time_point start{};
  store.watch.look_for_file(start, [] {});
  CHECK_FALSE(store.watch.is_back());
  std::filesystem::remove(file);
  { Store::open(file, Store::Access::kReadWrite); }
  store.watch.look_for_file(start + 60s, [] {});
  CHECK(store.watch.is_back());
  CHECK(store.news() == "well");
  std::filesystem::remove(file);
  store.watch.look_for_file(start + 120s, [] {});
  CHECK_FALSE(store.watch.is_back());
  CHECK(store.news(kNoon + 1min) == fault(StoreFault::kFull, 1));
}

TEST_CASE("who takes over is told of the damage until another file is there") {
  const ScratchFolder folder;
  const std::string file = (folder / "garden.db").string();
  std::ofstream(file) << "damaged";
  Watched store(file, kDamaged);
  REQUIRE(store.watch.damage());
  const StoreWatch::Steady::time_point start{};
  store.watch.look_for_file(start, [] {});
  std::filesystem::remove(file);
  { Store::open(file, Store::Access::kReadWrite); }
  store.watch.look_for_file(start + 60s, [] {});
  REQUIRE(store.watch.damage());
  store.watch.look_for_file(start + 120s, [] {});
  CHECK_FALSE(store.watch.damage());
}
