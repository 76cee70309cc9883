#include "daemon/base/log.h"

#include <doctest/doctest.h>

using namespace rimeward;
using namespace std::chrono_literals;

TEST_CASE("the first line of a kind passes, then one an hour with the number held back") {
  RepeatLimit limit;
  const Instant start{std::chrono::sys_days{std::chrono::year{2026} / 4 / 12}};
  CHECK(limit.pass("yard", "not JSON", start) == "not JSON");
  for (int i = 1; i <= 12; ++i) {
    CHECK_FALSE(limit.pass("yard", "not JSON", start + std::chrono::minutes{i}));
  }
  CHECK(limit.pass("north-frame", "not JSON", start + 20min) == "not JSON");
  CHECK_FALSE(limit.pass("yard", "not JSON", start + 59min));
  CHECK(limit.pass("yard", "not JSON", start + 60min) ==
        "not JSON (13 more since the last such line)");
  CHECK(limit.pass("yard", "not JSON", start + 121min) == "not JSON");
}

TEST_CASE("more kinds of line than anybody needs do not take the memory") {
  RepeatLimit limit;
  int passed = 0;
  for (int i = 0; i < 10'000; ++i) {
    passed += limit.pass("topic " + std::to_string(i), "line", Instant{}) ? 1 : 0;
  }
  CHECK(passed == 10'000);
}

TEST_CASE("after its matter is over the same line is news again") {
  RepeatLimit limit(10min);
  const Instant start{std::chrono::sys_days{std::chrono::year{2026} / 4 / 12}};
  CHECK(limit.pass("no answer", "no answer", start) == "no answer");
  CHECK_FALSE(limit.pass("no answer", "no answer", start + 9min));
  limit.forget();
  CHECK(limit.pass("no answer", "no answer", start + 9min) == "no answer");
  CHECK(limit.pass("refused", "refused", start + 9min) == "refused");
  CHECK(limit.pass("no answer", "no answer", start + 19min) == "no answer");
}
