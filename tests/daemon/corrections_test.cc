#include "daemon/corrections.h"

#include <doctest/doctest.h>

#include "tests/support/hochfeld.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

constexpr Channel kAir = Channel::kAirTemperature;

CorrectionRow offset_of(double offset) {
  return {.sensor = "yard-probe", .channel = kAir, .offset = offset, .method = "ice"};
}

}  // namespace

TEST_CASE("a reading takes the correction of its date, whatever comes later") {
  Store store = Store::in_memory();
  Corrections corrections(store);
  Changes changes;
  const Instant first = at("2026-04-01T10:00:00Z");
  const Instant second = at("2026-04-10T10:00:00Z");
  corrections.add(offset_of(-0.5), first, changes);
  corrections.add(offset_of(0.25), second, changes);
  const auto corrected = [&](Instant time) {
    return corrections.corrected("yard-probe", kAir, time, 3.0);
  };
  CHECK(corrected(first - 1s) == 3.0);
  CHECK(corrected(first) == 2.5);
  CHECK(corrected(second - 1s) == 2.5);
  CHECK(corrected(second) == 3.25);
  CHECK(corrections.corrected("yard-probe", Channel::kHumidity, second, 3.0) == 3.0);
  CHECK(corrections.corrected("other", kAir, second, 3.0) == 3.0);
}

TEST_CASE("a two-point correction stretches between its points") {
  Store store = Store::in_memory();
  Corrections corrections(store);
  Changes changes;
  CorrectionRow row = offset_of(-1.0);
  row.gain = 1.1;
  corrections.add(row, at("2026-04-01T10:00:00Z"), changes);
  CHECK(corrections.corrected("yard-probe", kAir, at("2026-04-02T10:00:00Z"), 10.0) ==
        doctest::Approx(10.0));
}

TEST_CASE("undone, a correction stays with its readings, and the one before is back") {
  Store store = Store::in_memory();
  Corrections corrections(store);
  Changes changes;
  const Instant first = at("2026-04-01T10:00:00Z");
  const Instant second = at("2026-04-10T10:00:00Z");
  const Instant undone = at("2026-04-11T10:00:00Z");
  corrections.add(offset_of(-0.5), first, changes);
  corrections.add(offset_of(9.0), second, changes);
  CHECK(corrections.undo(2, undone, changes));
  CHECK_FALSE(corrections.undo(2, undone + 1h, changes));
  CHECK_FALSE(corrections.undo(77, undone, changes));
  changes.now = undone;
  store.commit(changes);
  // Also when read back.
  const Corrections read(store);
  for (const Corrections* all : {&std::as_const(corrections), &read}) {
    CHECK(all->corrected("yard-probe", kAir, undone - 1s, 3.0) == 12.0);
    CHECK(all->corrected("yard-probe", kAir, undone, 3.0) == 2.5);
  }
  Changes more;
  CHECK(corrections.undo(3, undone + 1h, more));
  CHECK(corrections.corrected("yard-probe", kAir, undone + 1h, 3.0) == 3.0);
}
