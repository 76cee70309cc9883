#include "tools/cli/date_words.h"

#include <doctest/doctest.h>

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::sys_days;
using std::chrono::year;

constexpr sys_days kToday{year{2026} / 4 / 12};

std::string span(sys_days from, sys_days to) {
  return span_text({.earliest = from, .latest = to}, kToday);
}

TEST_CASE("a day is read as today, as yesterday and as a date") {
  CHECK(day_from_words("--on", "today", kToday) == kToday);
  CHECK(day_from_words("--on", "yesterday", kToday) == kToday - days{1});
  CHECK(day_from_words("--on", "2024-02-29", kToday) == sys_days{year{2024} / 2 / 29});
  for (const char* text : {"2025-02-29", "12.4.", "tomorrow", "", "2026-4-12"}) {
    CAPTURE(text);
    const auto day = day_from_words("--on", text, kToday);
    REQUIRE_FALSE(day);
    CHECK(day.error().message.starts_with("--on: expected today, yesterday or a date"));
  }
}

TEST_CASE("a past day is refused when it is to come and when it is too long ago") {
  CHECK(past_day_from_words("--sown", "today", kToday, days{30}) == kToday);
  CHECK(past_day_from_words("--sown", "2026-03-13", kToday, days{30}) ==
        kToday - days{30});
  const auto to_come = past_day_from_words("--sown", "2026-04-13", kToday, days{30});
  REQUIRE_FALSE(to_come);
  CHECK(to_come.error().message ==
        "--sown 2026-04-13 is still to come; today is 2026-04-12");
  const auto long_ago = past_day_from_words("--sown", "2026-03-12", kToday, days{30});
  REQUIRE_FALSE(long_ago);
  CHECK(long_ago.error().message ==
        "--sown 2026-03-12 is more than 30 days ago; is the year right?");
}

TEST_CASE("a day, a time or both are read, and nothing else") {
  using namespace std::chrono_literals;
  const auto day_of = [](std::string_view text) {
    return day_and_time_from_words(text, kToday)->day;
  };
  const auto time_of = [](std::string_view text) {
    return day_and_time_from_words(text, kToday)->time;
  };
  CHECK(time_of("07:30") == 7h + 30min);
  CHECK_FALSE(day_of("07:30"));
  CHECK(day_of("today") == kToday);
  CHECK(day_of("tomorrow") == kToday + days{1});
  CHECK(day_of("yesterday") == kToday - days{1});
  CHECK_FALSE(time_of("tomorrow"));
  CHECK(day_of("tomorrow 18:05") == kToday + days{1});
  CHECK(time_of("tomorrow 18:05") == 18h + 5min);
  CHECK(day_of("2026-05-01T00:00") == sys_days{year{2026} / 5 / 1});
  CHECK(time_of("2026-05-01T00:00") == 0min);
  for (const char* text :
       {"", " ", "T", "now", "Tomorrow", "tomorrow ", "tomorrowT", "2026-02-30",
        "18:00 tomorrow", "today 7:30", "2026-05-01 24:00"}) {
    CAPTURE(text);
    CHECK_FALSE(day_and_time_from_words(text, kToday));
  }
}

TEST_CASE("a span says month and year once where they are the same") {
  CHECK(span(year{2026} / 5 / 12, year{2026} / 5 / 17) == "12 to 17 May");
  CHECK(span(year{2026} / 4 / 28, year{2026} / 5 / 3) == "28 Apr to 3 May");
  CHECK(span(year{2026} / 12 / 28, year{2027} / 1 / 3) == "28 Dec to 3 Jan 2027");
  CHECK(span(year{2027} / 1 / 2, year{2027} / 1 / 9) == "2 to 9 Jan 2027");
  CHECK(span(kToday, kToday) == "12 Apr");
  CHECK(span_text({.earliest = year{2026} / 5 / 12, .latest = {}}, kToday) ==
        "from 12 May on");
  CHECK(short_date(year{2025} / 10 / 3, kToday) == "3 Oct 2025");
}

}  // namespace
}  // namespace rimeward
