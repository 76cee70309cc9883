#include "tools/cli/date_words.h"

#include <algorithm>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "sensors/escape.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::sys_days;
using std::chrono::year_month_day;

// day_text() without its weekday.
std::string day_and_month(year_month_day date) {
  const std::string text = day_text(date);
  return text.substr(text.find(' ') + 1);
}

}  // namespace

Result<sys_days> day_from_words(std::string_view what, std::string_view text,
                                sys_days today) {
  if (const auto day = day_named(text, today)) return *day;
  if (const auto unclear = unclear_date(text, today)) {
    return refuse(fmt::format("{}: {}", what, *unclear));
  }
  return refuse(fmt::format(
      "{}: expected a day such as today, yesterday, monday, \"12 Apr\" or {}, got "
      "\"{}\"{}",
      what, date_text(today), escaped(text), did_you_mean_date(text)));
}

Result<Dates> days_from_words(std::string_view what, std::string_view text,
                              sys_days today) {
  auto dates = days_named(text, today);
  if (!dates) {
    if (const auto unclear = unclear_date(text, today)) {
      return refuse(fmt::format("{}: {}", what, *unclear));
    }
    return refuse(fmt::format(
        "{}: expected days such as yesterday, \"last week\", \"last 10 days\", April, "
        "2026, \"12 Apr to 18 Apr\" or \"since 1 Apr\", got \"{}\"{}",
        what, escaped(text), did_you_mean_date(text)));
  }
  if (dates->from > today) {
    return refuse(fmt::format("{}: \"{}\" is still to come; today is {}", what,
                              escaped(text), date_text(today)));
  }
  if (dates->from > dates->to) {
    return refuse(fmt::format("{}: {} is after {}", what, date_text(dates->from),
                              date_text(dates->to)));
  }
  dates->to = std::min(dates->to, today);
  return *dates;
}

Result<sys_days> past_day_from_words(std::string_view what, std::string_view text,
                                     sys_days today, days most) {
  auto date = day_from_words(what, text, today);
  if (!date) return date;
  return past_day(what, *date, today, most);
}

Result<sys_days> past_day(std::string_view what, sys_days date, sys_days today,
                          days most) {
  if (date > today) {
    return refuse(fmt::format("{} {} is still to come; today is {}", what,
                              date_text(date), date_text(today)));
  }
  if (today - date > most) {
    return refuse(fmt::format("{} {} is more than {} days ago; is the year right?", what,
                              date_text(date), most.count()));
  }
  return date;
}

std::optional<DayAndTime> day_and_time_from_words(std::string_view text, sys_days today) {
  if (const auto time = time_of_day_from_text(text)) return DayAndTime{.time = time};
  // Before the T of a date and time, but not that of a word such as "today".
  const std::size_t gap = std::min(text.find_first_of(" T"), text.size());
  const std::string_view word = text.substr(0, gap);
  DayAndTime said{.day = date_from_text(word)};
  if (word == "today") said.day = today;
  if (word == "yesterday") said.day = today - days{1};
  if (word == "tomorrow") said.day = today + days{1};
  if (!said.day) return std::nullopt;
  if (gap == text.size()) return said;
  said.time = time_of_day_from_text(text.substr(gap + 1));
  return said.time ? std::optional(said) : std::nullopt;
}

std::string short_date(sys_days date, sys_days today) {
  const year_month_day shown{date};
  const int year = static_cast<int>(shown.year());
  std::string text = day_and_month(shown);
  if (shown.year() != year_month_day{today}.year()) text += fmt::format(" {}", year);
  return text;
}

std::string span_text(const DateSpan& span, sys_days today) {
  if (!span.latest) return fmt::format("from {} on", short_date(span.earliest, today));
  std::string last = short_date(*span.latest, today);
  if (span.earliest == *span.latest) return last;
  const year_month_day from{span.earliest};
  const year_month_day to{*span.latest};
  if (from.year() != to.year()) {
    return fmt::format("{} to {}", short_date(span.earliest, today), last);
  }
  const bool in_one_month = from.month() == to.month();
  return fmt::format("{} to {}",
                     in_one_month ? fmt::format("{}", static_cast<unsigned>(from.day()))
                                  : day_and_month(from),
                     last);
}

}  // namespace rimeward
