#include "tools/cli/date_words.h"

#include <fmt/format.h>

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
  if (text == "today") return today;
  if (text == "yesterday") return today - days{1};
  if (const auto date = date_from_text(text)) return *date;
  return refuse(
      fmt::format("{}: expected today, yesterday or a date such as {}, got \"{}\"", what,
                  date_text(today), escaped(text)));
}

Result<sys_days> past_day_from_words(std::string_view what, std::string_view text,
                                     sys_days today, days most) {
  auto date = day_from_words(what, text, today);
  if (!date) return date;
  if (*date > today) {
    return refuse(fmt::format("{} {} is still to come; today is {}", what,
                              date_text(*date), date_text(today)));
  }
  if (today - *date > most) {
    return refuse(fmt::format("{} {} is more than {} days ago; is the year right?", what,
                              date_text(*date), most.count()));
  }
  return date;
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
