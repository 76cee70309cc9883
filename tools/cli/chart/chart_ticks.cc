#include "tools/cli/chart/chart_ticks.h"

#include <chrono>
#include <limits>

#include <fmt/format.h>

#include "tools/cli/words.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::hours;
using std::chrono::sys_days;
using std::chrono::year_month_day;

enum class Every { kHours, kDay, kMonday, kMonth, kQuarter, kYear };

struct Rhythm {
  hours up_to;  // this length of the span
  Every every;
  int step = 24;  // hours
};

constexpr Rhythm kRhythms[]{{hours{12}, Every::kHours, 1},
                            {hours{30}, Every::kHours, 3},
                            {hours{74}, Every::kHours, 6},
                            {days{16} + hours{2}, Every::kDay},
                            {days{100}, Every::kMonday},
                            {days{400}, Every::kMonth},
                            {days{1300}, Every::kQuarter},
                            {hours{std::numeric_limits<int>::max()}, Every::kYear}};

const Rhythm& rhythm_of(const Chart::Span& span) {
  const Rhythm* rhythm = std::begin(kRhythms);
  while (span.to - span.from > rhythm->up_to)
    ++rhythm;
  return *rhythm;
}

bool is_marked(Every every, sys_days date) {
  const year_month_day parts{date};
  const bool first = parts.day() == std::chrono::day{1};
  const unsigned month = static_cast<unsigned>(parts.month());
  switch (every) {
    case Every::kHours:
    case Every::kDay:
      return true;
    case Every::kMonday:
      return std::chrono::weekday{date} == std::chrono::Monday;
    case Every::kMonth:
      return first;
    case Every::kQuarter:
      return first && month % 3 == 1;
    case Every::kYear:
      return first && month == 1;
  }
  std::abort();
}

// "Sun 12 Apr"; of months "Apr", and in January the year.
std::string label_of(Every every, sys_days date) {
  const year_month_day parts{date};
  if (every < Every::kMonth) return day_text(parts);
  if (parts.month() == std::chrono::January) {
    return fmt::format("{}", static_cast<int>(parts.year()));
  }
  const std::string text = day_text(parts);
  return text.substr(text.rfind(' ') + 1);
}

}  // namespace

std::vector<Chart::Tick> chart_ticks(const Chart::Span& span, const Zone& zone) {
  const Rhythm& rhythm = rhythm_of(span);
  std::vector<Chart::Tick> ticks;
  const auto put = [&](Instant at, std::string label, bool is_day) {
    if (at < span.from || at > span.to) return;
    ticks.push_back({at, std::move(label), is_day});
  };
  const sys_days last{zone.local_date(span.to)};
  for (sys_days date{zone.local_date(span.from)}; date <= last; date += days{1}) {
    if (!is_marked(rhythm.every, date)) continue;
    put(zone.at(date, hours{0}), label_of(rhythm.every, date), true);
    for (int hour = rhythm.step; hour < 24; hour += rhythm.step) {
      const Instant at = zone.at(date, hours{hour});
      if (zone.minute_of_day(at) != hours{hour}) continue;
      put(at, fmt::format("{:02}", hour), false);
    }
  }
  return ticks;
}

}  // namespace rimeward
