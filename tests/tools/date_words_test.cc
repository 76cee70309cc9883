#include "tools/cli/date_words.h"

#include <string>

#include <doctest/doctest.h>

#include "daemon/base/zone.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::sys_days;
using std::chrono::year;

constexpr sys_days kToday{year{2026} / 4 / 12};

std::string span(sys_days from, sys_days to) {
  return span_text({.earliest = from, .latest = to}, kToday);
}

std::string day(std::string_view text) {
  const auto date = day_from_words("--on", text, kToday);
  return date ? date_text(std::chrono::year_month_day{*date}) : date.error().message;
}

std::string days_of(std::string_view text, sys_days today = kToday) {
  const auto dates = days_from_words("week", text, today);
  if (!dates) return dates.error().message;
  return date_text(std::chrono::year_month_day{dates->from}) + " " +
         date_text(std::chrono::year_month_day{dates->to});
}

// kToday is a Sunday.
TEST_CASE("a day is read in the ways that people name one") {
  struct Said {
    const char* text;
    const char* date;
  };
  constexpr Said all[]{{"today", "2026-04-12"},
                       {"Yesterday", "2026-04-11"},
                       {"2024-02-29", "2024-02-29"},
                       {"2026-05-01", "2026-05-01"},
                       {"12 Apr", "2026-04-12"},
                       {"13 Apr", "2025-04-13"},
                       {"12 APRIL", "2026-04-12"},
                       {"Apr 12", "2026-04-12"},
                       {"april 1", "2026-04-01"},
                       {"1st April", "2026-04-01"},
                       {"3. Okt", "--on: expected"},
                       {"3. Oct", "2025-10-03"},
                       {"12 Apr 2025", "2025-04-12"},
                       {"April 12, 2025", "2025-04-12"},
                       {"29 Feb", "2024-02-29"},
                       {"30 Feb", "--on: expected"},
                       {"29 Feb 2025", "--on: expected"},
                       {"monday", "2026-04-06"},
                       {"Sat", "2026-04-11"},
                       {"sunday", "2026-04-05"},
                       {"last sunday", "2026-04-05"},
                       {"last Thurs", "2026-04-09"},
                       {"12.4.", "2026-04-12"},
                       {"31.12.", "2025-12-31"},
                       {"12.04.2025", "2025-04-12"},
                       {"1.13.2025", "--on: expected"},
                       {"12.4.25", "--on: expected"},
                       {"12.4", "--on: expected"},
                       {"12", "--on: expected"},
                       {"last", "--on: expected"},
                       {"last week", "--on: expected"},
                       {"tomorrow", "--on: expected"},
                       {"2026-4-12", "--on: expected"},
                       {"", "--on: expected"}};
  for (const Said& said : all) {
    CAPTURE(said.text);
    CHECK(day(said.text).substr(0, std::string(said.date).size()) == said.date);
  }
}

TEST_CASE("a day that is not understood is answered with examples and the nearest word") {
  CHECK(
      day("yesterdy") ==
      "--on: expected a day such as today, yesterday, monday, \"12 Apr\" or 2026-04-12, "
      "got \"yesterdy\"; did you mean \"yesterday\"?");
  CHECK(day("12 Arpil").ends_with("did you mean \"april\"?"));
  CHECK(day("last mnoday").ends_with("did you mean \"monday\"?"));
  CHECK(day("30 Feb").ends_with("got \"30 Feb\""));
}

TEST_CASE("a date with slashes is never guessed at") {
  CHECK(day("4/12/2025") ==
        "--on: \"4/12/2025\": which is the day, which the month? write 2025-04-12 or "
        "2025-12-04");
  CHECK(day("13/4/2025").ends_with("write 2025-04-13"));
  CHECK(day("4/4/2025").ends_with("write 2025-04-04"));
  CHECK(day("4/5").ends_with("write 2026-04-05 or 2026-05-04"));
  CHECK(day("40/50/2025").starts_with("--on: expected a day"));
  CHECK(days_of("4/12/2025 to today").ends_with("write 2025-04-12 or 2025-12-04"));
}

TEST_CASE("days are read in the ways that people name them, and end today") {
  struct Said {
    const char* text;
    const char* dates;
  };
  constexpr Said all[]{{"yesterday", "2026-04-11 2026-04-11"},
                       {"12 Apr 2025", "2025-04-12 2025-04-12"},
                       {"this week", "2026-04-06 2026-04-12"},
                       {"Last Week", "2026-03-30 2026-04-05"},
                       {"this month", "2026-04-01 2026-04-12"},
                       {"last month", "2026-03-01 2026-03-31"},
                       {"this year", "2026-01-01 2026-04-12"},
                       {"last year", "2025-01-01 2025-12-31"},
                       {"2026-03", "2026-03-01 2026-03-31"},
                       {"2026-04", "2026-04-01 2026-04-12"},
                       {"2024-02", "2024-02-01 2024-02-29"},
                       {"April", "2026-04-01 2026-04-12"},
                       {"may", "2025-05-01 2025-05-31"},
                       {"April 2025", "2025-04-01 2025-04-30"},
                       {"2026", "2026-01-01 2026-04-12"},
                       {"2025", "2025-01-01 2025-12-31"},
                       {"last 10 days", "2026-04-03 2026-04-12"},
                       {"last 1 day", "2026-04-12 2026-04-12"},
                       {"last 2 weeks", "2026-03-30 2026-04-12"},
                       {"since 1 Apr", "2026-04-01 2026-04-12"},
                       {"from 1 Apr", "2026-04-01 2026-04-12"},
                       {"since March", "2026-03-01 2026-04-12"},
                       {"2026-04-01 to 2026-04-30", "2026-04-01 2026-04-12"},
                       {"1 Apr to 8 Apr", "2026-04-01 2026-04-08"},
                       {"1 to 8 Apr", "2026-04-01 2026-04-08"},
                       {"from 1 Apr until yesterday", "2026-04-01 2026-04-11"},
                       {"1 Apr to 8 Apr 2025", "2025-04-01 2025-04-08"},
                       {"1 Apr 2025 to 8 Apr", "2025-04-01 2025-04-08"},
                       {"12 Apr to 18 Apr", "2026-04-12 2026-04-12"},
                       {"12 to 18 Apr", "2026-04-12 2026-04-12"},
                       {"28 Dec to 3 Jan", "2025-12-28 2026-01-03"},
                       {"monday to wednesday", "2026-04-06 2026-04-08"},
                       {"Feb to March", "2026-02-01 2026-03-31"},
                       {"nov to feb", "2025-11-01 2026-02-28"},
                       {"2025-03 to 2025-04", "2025-03-01 2025-04-30"}};
  for (const Said& said : all) {
    CAPTURE(said.text);
    CHECK(days_of(said.text) == said.dates);
  }
}

TEST_CASE("a week begins on Monday, also when that is today") {
  constexpr sys_days monday{year{2026} / 4 / 13};
  CHECK(days_of("this week", monday) == "2026-04-13 2026-04-13");
  CHECK(days_of("last week", monday) == "2026-04-06 2026-04-12");
  CHECK(days_of("monday", monday) == "2026-04-06 2026-04-06");
}

TEST_CASE("days to come, the wrong way round and not understood are refused") {
  CHECK(days_of("April 2027") ==
        "week: \"April 2027\" is still to come; today is 2026-04-12");
  CHECK(days_of("since 2026-04-13").ends_with("is still to come; today is 2026-04-12"));
  CHECK(days_of("2026-04-08 to 2026-04-01") == "week: 2026-04-08 is after 2026-04-01");
  CHECK(days_of("lst week") ==
        "week: expected days such as yesterday, \"last week\", \"last 10 days\", April, "
        "2026, \"12 Apr to 18 Apr\" or \"since 1 Apr\", got \"lst week\"; did you mean "
        "\"last\"?");
  for (const char* text :
       {"", "to", "since", "from", "1 Apr to", "to 8 Apr", "last 0 days",
        "last 99999 days", "last days", "this", "this day", "2026-13", "2026-00",
        "12 to 18", "1 2 3 4", "since 1 Apr to 8 Apr", "\x1b[2J"}) {
    CAPTURE(text);
    CHECK(days_of(text).starts_with("week: expected days such as"));
    CHECK(days_of(text).find('\x1b') == std::string::npos);
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
