#include "sensors/iso_time.h"

#include <doctest/doctest.h>

namespace rimeward {
namespace {

constexpr std::int64_t kNothing = -1;

std::int64_t unix_time(std::string_view text) {
  const auto at = parse_instant(text);
  return at ? std::int64_t{at->time_since_epoch().count()} : kNothing;
}

TEST_CASE("the examples of RFC 3339, section 5.8, are the instants it says they are") {
  // Unix seconds from `date -u -d`, GNU coreutils.
  CHECK(unix_time("1985-04-12T23:20:50.52Z") == 482196050);
  CHECK(unix_time("1996-12-19T16:39:57-08:00") == 851042397);
  CHECK(unix_time("1996-12-20T00:39:57Z") == 851042397);
  CHECK(unix_time("1990-12-31T23:59:60Z") == 662688000);       // a leap second
  CHECK(unix_time("1990-12-31T15:59:60-08:00") == 662688000);  // the same
  CHECK(unix_time("1937-01-01T12:00:27.87+00:20") == -1041337173);
}

TEST_CASE("the usual variants of a time are one instant") {
  for (const std::string_view text :
       {"2026-04-12T18:03:20Z", "2026-04-12t18:03:20z", "2026-04-12 18:03:20Z",
        "2026-04-12T20:03:20+02:00", "2026-04-12T20:03:20+0200", "2026-04-12T20:03:20+02",
        "2026-04-12T18:03:20.999999999Z", "2026-04-12T18:03:20,5Z",
        "2026-04-12T18:03:20-00:00", "2026-04-13T00:33:20+06:30"}) {
    CAPTURE(text);
    CHECK(unix_time(text) == 1776017000);
  }
  CHECK(unix_time("2026-04-12T18:03Z") == 1776016980);
}

TEST_CASE("a time that names no instant is refused") {
  for (const std::string_view text : {"",
                                      "2026",
                                      "2026-04-12",
                                      "2026-04-12T18:03:20",
                                      "2026-04-12T18:03:20 Z",
                                      "2026-04-12T18:03:20Zx",
                                      " 2026-04-12T18:03:20Z",
                                      "2026-4-12T18:03:20Z",
                                      "2026-13-01T00:00:00Z",
                                      "2026-02-29T00:00:00Z",
                                      "2026-04-31T00:00:00Z",
                                      "2026-00-10T00:00:00Z",
                                      "2026-04-12T24:00:00Z",
                                      "2026-04-12T18:60:00Z",
                                      "2026-04-12T18:03:61Z",
                                      "2026-04-12T18:03:20.Z",
                                      "2026-04-12T18:03:20+2",
                                      "2026-04-12T18:03:20+02:",
                                      "2026-04-12T18:03:20+02:60",
                                      "2026-04-12T18:03:20+24",
                                      "+026-04-12T18:03:20Z",
                                      "2026-04-12T18:03:-1Z",
                                      "20260412T180320Z",
                                      "2026-04-12T18Z",
                                      "1776017000",
                                      "soon"}) {
    CAPTURE(text);
    CHECK(unix_time(text) == kNothing);
  }
}

TEST_CASE("leap days are those of the Gregorian calendar") {
  CHECK(unix_time("2024-02-29T00:00:00Z") == 1709164800);
  CHECK(unix_time("2000-02-29T00:00:00Z") == 951782400);
  CHECK(unix_time("1900-02-29T00:00:00Z") == kNothing);
  CHECK(unix_time("2100-02-29T00:00:00Z") == kNothing);
}

TEST_CASE(
    "an instant is written in UTC and reads back, also before 1970 and after 2038") {
  for (const std::string_view text :
       {"2026-04-12T18:03:20Z", "1970-01-01T00:00:00Z", "1969-12-31T23:59:59Z",
        "2038-01-19T03:14:08Z", "0001-01-01T00:00:00Z", "9999-12-31T23:59:59Z"}) {
    CAPTURE(text);
    CHECK(format_utc(parse_instant(text).value()) == text);
  }
}

}  // namespace
}  // namespace rimeward
