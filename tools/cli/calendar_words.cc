#include "tools/cli/calendar_words.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <span>
#include <utility>
#include <vector>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "sensors/escape.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::month;
using std::chrono::sys_days;
using std::chrono::weekday;
using std::chrono::year;
using std::chrono::year_month_day;
using std::chrono::years;

using Words = std::span<const std::string>;

constexpr std::array<std::string_view, 12> kMonths{
    "january", "february", "march",     "april",   "may",      "june",
    "july",    "august",   "september", "october", "november", "december"};
// In the order of std::chrono::weekday.
constexpr std::array<std::string_view, 7> kWeekdays{
    "sunday", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday"};
constexpr std::array<std::string_view, 14> kOthers{
    "today", "yesterday", "this", "last", "week",  "month", "year",
    "days",  "weeks",     "to",   "from", "until", "since", "day"};
// Of a name that is cut short: "mon", "apr".
constexpr std::size_t kShortest = 3;
// From one 29 February to the next, over a century's common year.
constexpr int kLeapDaysApart = 8;
constexpr int kMostCounted = 40'000;  // more than a century of days

std::vector<std::string> words_in(std::string_view text) {
  std::vector<std::string> words;
  std::string word;
  for (const char c : text) {
    if (c == ' ' || c == ',') {
      if (!word.empty()) words.push_back(std::exchange(word, {}));
    } else {
      word += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    }
  }
  if (!word.empty()) words.push_back(std::move(word));
  return words;
}

// Digits only, so many at least and at most.
std::optional<int> number_in(std::string_view text, std::size_t fewest,
                             std::size_t most) {
  int number = 0;
  const bool digits =
      std::ranges::all_of(text, [](char c) { return c >= '0' && c <= '9'; });
  if (!digits || text.size() < fewest || text.size() > most) return std::nullopt;
  std::from_chars(text.data(), text.data() + text.size(), number);
  return number;
}

std::optional<year> year_in(std::string_view text) {
  const auto number = number_in(text, 4, 4);
  return number ? std::optional(year{*number}) : std::nullopt;
}

// "12", "12.", "12th".
std::optional<int> day_in(std::string_view text) {
  for (const std::string_view end : {".", "st", "nd", "rd", "th"}) {
    if (!text.ends_with(end)) continue;
    text.remove_suffix(end.size());
    break;
  }
  return number_in(text, 1, 2);
}

// The number of the name that `word` is, or begins.
std::optional<unsigned> name_in(std::string_view word,
                                std::span<const std::string_view> names) {
  if (word.ends_with('.')) word.remove_suffix(1);
  if (word.size() < kShortest) return std::nullopt;
  const auto found = std::ranges::find_if(
      names, [word](std::string_view name) { return name.starts_with(word); });
  if (found == names.end()) return std::nullopt;
  return static_cast<unsigned>(found - names.begin());
}

std::optional<month> month_in(std::string_view word) {
  const auto number = name_in(word, kMonths);
  return number ? std::optional(month{*number + 1}) : std::nullopt;
}

std::optional<sys_days> date_of(year y, month m, int day) {
  const year_month_day date{y, m, std::chrono::day{static_cast<unsigned>(day)}};
  return date.ok() ? std::optional(sys_days{date}) : std::nullopt;
}

// --- what is said without its year

// The day that the others are reckoned from: the newest that is not after it, or, of what
// follows a "to", the oldest that is not before it.
struct Anchor {
  sys_days today;
  sys_days near;
  bool is_onwards = false;
};

std::optional<sys_days> date_near(const Anchor& anchor, month m, int day) {
  const year around = year_month_day{anchor.near}.year();
  for (int n = 0; n <= kLeapDaysApart; ++n) {
    const auto date =
        date_of(anchor.is_onwards ? around + years{n} : around - years{n}, m, day);
    if (!date) continue;
    if (anchor.is_onwards ? *date >= anchor.near : *date <= anchor.near) return date;
  }
  return std::nullopt;
}

sys_days weekday_near(const Anchor& anchor, weekday wanted) {
  if (anchor.is_onwards) return anchor.near + (wanted - weekday{anchor.near});
  // Before, not on: on a Monday, "monday" is that of a week ago.
  const days ago = weekday{anchor.near - days{1}} - wanted;
  return anchor.near - days{1} - ago;
}

Dates month_of(year y, month m) {
  return {y / m / 1, sys_days{y / m / std::chrono::last}};
}

Dates month_near(const Anchor& anchor, month m) {
  const year_month_day around{anchor.near};
  year y = around.year();
  if (anchor.is_onwards && m < around.month()) y += years{1};
  if (!anchor.is_onwards && m > around.month()) y -= years{1};
  return month_of(y, m);
}

Dates year_of(year y) {
  return {sys_days{y / 1 / 1}, sys_days{y / 12 / 31}};
}

// --- single days

// "12.4." and "12.04.2025".
std::optional<sys_days> dotted_day(std::string_view word, const Anchor& anchor) {
  const std::size_t first = word.find('.');
  const std::size_t second = word.find('.', std::min(first, word.size() - 1) + 1);
  if (second == std::string_view::npos) return std::nullopt;
  const auto day = number_in(word.substr(0, first), 1, 2);
  const auto number = number_in(word.substr(first + 1, second - first - 1), 1, 2);
  if (!day || !number || *number < 1 || *number > 12) return std::nullopt;
  const month m{static_cast<unsigned>(*number)};
  const std::string_view rest = word.substr(second + 1);
  if (rest.empty()) return date_near(anchor, m, *day);
  const auto y = year_in(rest);
  return y ? date_of(*y, m, *day) : std::nullopt;
}

std::optional<sys_days> day_of_one(const std::string& word, const Anchor& anchor) {
  if (word == "today") return anchor.today;
  if (word == "yesterday") return anchor.today - days{1};
  if (const auto date = date_from_text(word)) return date;
  if (const auto wanted = name_in(word, kWeekdays)) {
    return weekday_near(anchor, weekday{*wanted});
  }
  return dotted_day(word, anchor);
}

std::optional<sys_days> read_day(Words words, const Anchor& anchor) {
  if (words.size() == 1) return day_of_one(words[0], anchor);
  if (words.size() == 2 && words[0] == "last") {
    const auto wanted = name_in(words[1], kWeekdays);
    if (wanted) return weekday_near(anchor, weekday{*wanted});
  }
  if (words.size() != 2 && words.size() != 3) return std::nullopt;
  const bool month_first = month_in(words[0]).has_value();
  const auto m = month_in(words[month_first ? 0 : 1]);
  const auto day = day_in(words[month_first ? 1 : 0]);
  if (!m || !day) return std::nullopt;
  if (words.size() == 2) return date_near(anchor, *m, *day);
  const auto y = year_in(words[2]);
  return y ? date_of(*y, *m, *day) : std::nullopt;
}

// --- more days than one

std::optional<Dates> span_of_one(std::string_view word, const Anchor& anchor) {
  if (const auto m = month_in(word)) return month_near(anchor, *m);
  if (const auto y = year_in(word)) return year_of(*y);
  if (word.size() != 7 || word[4] != '-') return std::nullopt;
  const auto y = year_in(word.substr(0, 4));
  const auto number = number_in(word.substr(5), 2, 2);
  if (!y || !number || *number < 1 || *number > 12) return std::nullopt;
  return month_of(*y, month{static_cast<unsigned>(*number)});
}

std::optional<Dates> this_or_last(bool is_last, std::string_view what, sys_days today) {
  const year_month_day date{today};
  if (what == "week") {
    const sys_days monday = today - (weekday{today} - std::chrono::Monday);
    const sys_days from = is_last ? monday - days{7} : monday;
    return Dates{from, from + days{6}};
  }
  if (what == "month") {
    const year_month_day first = date.year() / date.month() / 1;
    const year_month_day wanted = is_last ? first - std::chrono::months{1} : first;
    return month_of(wanted.year(), wanted.month());
  }
  if (what == "year") return year_of(is_last ? date.year() - years{1} : date.year());
  return std::nullopt;
}

// "last 10 days": today is the last of them.
std::optional<Dates> last_counted(std::string_view count, std::string_view what,
                                  sys_days today) {
  const auto number = number_in(count, 1, 5);
  const bool by_weeks = what == "weeks" || what == "week";
  if (!by_weeks && what != "days" && what != "day") return std::nullopt;
  if (!number || *number < 1) return std::nullopt;
  const int counted = by_weeks ? 7 * *number : *number;
  if (counted > kMostCounted) return std::nullopt;
  return Dates{today - days{counted - 1}, today};
}

std::optional<Dates> read_days(Words words, const Anchor& anchor) {
  if (const auto day = read_day(words, anchor)) return Dates{*day, *day};
  if (words.size() == 1) return span_of_one(words[0], anchor);
  if (words.size() == 3 && words[0] == "last") {
    return last_counted(words[1], words[2], anchor.today);
  }
  if (words.size() != 2) return std::nullopt;
  if (words[0] == "this" || words[0] == "last") {
    return this_or_last(words[0] == "last", words[1], anchor.today);
  }
  const auto m = month_in(words[0]);
  const auto y = year_in(words[1]);
  return m && y ? std::optional(month_of(*y, *m)) : std::nullopt;
}

// "12 to 18 Apr": a day alone is of the month that follows.
std::vector<std::string> with_month(Words first, Words second) {
  std::vector<std::string> words(first.begin(), first.end());
  const auto m = std::ranges::find_if(
      second, [](const std::string& word) { return month_in(word).has_value(); });
  if (words.size() == 1 && day_in(words[0]) && m != second.end()) words.push_back(*m);
  return words;
}

// Of two days, one may tell the year of the other.
std::optional<Dates> read_from_to(Words first, Words second, sys_days today) {
  const auto begins = read_days(first, {today, today});
  const auto ends = read_days(second, {today, today});
  if (!begins || !ends) return std::nullopt;
  const auto onwards = read_days(second, {today, begins->from, true});
  if (onwards && *onwards != *ends) return Dates{begins->from, onwards->to};
  const auto before = read_days(first, {today, ends->to});
  return Dates{before ? before->from : begins->from, ends->to};
}

// What "4/12/2025" or "4/12" may stand for.
std::vector<std::string> possible_dates(std::string_view word, sys_days today) {
  const std::size_t slash = word.find('/');
  const std::size_t second = std::min(word.find('/', slash + 1), word.size());
  const auto one = number_in(word.substr(0, slash), 1, 2);
  const auto other = number_in(word.substr(slash + 1, second - slash - 1), 1, 2);
  if (!one || !other) return {};
  const auto said = year_in(word.substr(std::min(second + 1, word.size())));
  const year y = said.value_or(year_month_day{today}.year());
  std::vector<std::string> dates;
  for (const auto& [m, day] : {std::pair(*one, *other), std::pair(*other, *one)}) {
    const auto date = date_of(y, month{static_cast<unsigned>(m)}, day);
    if (date) dates.push_back(date_text(*date));
  }
  std::ranges::sort(dates);
  dates.erase(std::unique(dates.begin(), dates.end()), dates.end());
  return dates;
}

bool is_calendar_word(const std::string& word) {
  return std::ranges::find(kOthers, word) != kOthers.end() || month_in(word) ||
         name_in(word, kWeekdays) || std::isdigit(static_cast<unsigned char>(word[0]));
}

}  // namespace

std::optional<sys_days> day_named(std::string_view text, sys_days today) {
  return read_day(words_in(text), {today, today});
}

std::optional<Dates> days_named(std::string_view text, sys_days today) {
  const std::vector<std::string> all = words_in(text);
  Words words(all);
  const bool is_since = !words.empty() && words[0] == "since";
  const bool is_from = !words.empty() && words[0] == "from";
  if (is_since || is_from) words = words.subspan(1);
  const auto to = std::ranges::find_if(
      words, [](const std::string& word) { return word == "to" || word == "until"; });
  if (to != words.end() && !is_since) {
    const auto before = static_cast<std::size_t>(to - words.begin());
    const Words second = words.subspan(before + 1);
    return read_from_to(with_month(words.first(before), second), second, today);
  }
  auto dates = read_days(words, {today, today});
  if (dates && (is_since || is_from)) dates->to = std::max(today, dates->from);
  return dates;
}

bool is_same_words(std::string_view text, std::string_view other) {
  return words_in(text) == words_in(other);
}

std::optional<std::string> unclear_date(std::string_view text, sys_days today) {
  const std::vector<std::string> words = words_in(text);
  const auto word = std::ranges::find_if(
      words, [](const std::string& one) { return one.find('/') != std::string::npos; });
  if (word == words.end()) return std::nullopt;
  const std::vector<std::string> dates = possible_dates(*word, today);
  if (dates.empty()) return std::nullopt;
  return fmt::format("\"{}\": which is the day, which the month? write {}",
                     escaped(*word), fmt::join(dates, " or "));
}

std::string did_you_mean_date(std::string_view text) {
  std::vector<std::string_view> known(kOthers.begin(), kOthers.end());
  known.insert(known.end(), kMonths.begin(), kMonths.end());
  known.insert(known.end(), kWeekdays.begin(), kWeekdays.end());
  for (const std::string& word : words_in(text)) {
    if (!is_calendar_word(word)) return did_you_mean(word, known);
  }
  return {};
}

}  // namespace rimeward
