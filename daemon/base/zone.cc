#include "daemon/base/zone.h"

#include <algorithm>
#include <array>
#include <exception>
#include <utility>
#include <vector>

#include <date/tz.h>
#include <fmt/format.h>

#include "daemon/base/text.h"
#include "sensors/escape.h"

namespace rimeward {
namespace {

constexpr std::array<std::string_view, 7> kWeekdays{"Sun", "Mon", "Tue", "Wed",
                                                    "Thu", "Fri", "Sat"};

// What the clock on the wall shows, counted as if it were UTC.
std::chrono::sys_seconds wall_clock(const date::time_zone& rules, Instant at) {
  return at + rules.get_info(at).offset;
}

// Someone who writes "Berlin" means the zone that ends so; else the nearest spelling.
std::string meant_zone(std::string_view name) {
  std::vector<std::string_view> names;
  for (const auto& zone : date::get_tzdb().zones) {
    names.push_back(zone.name());
  }
  const auto ends_so = std::ranges::find_if(names, [&](std::string_view candidate) {
    const auto slash = candidate.rfind('/');
    return slash != std::string_view::npos && candidate.substr(slash + 1) == name;
  });
  if (ends_so != names.end()) return fmt::format("; did you mean \"{}\"?", *ends_so);
  return did_you_mean(name, names);
}

}  // namespace

Zone::Zone(std::string name, const date::time_zone* rules)
    : name_(std::move(name)), rules_(rules) {}

Result<Zone> Zone::named(std::string_view name) {
  try {
    // Looked up by hand, since locate_zone() tells an unknown name by an exception.
    const auto& zones = date::get_tzdb().zones;
    const auto found = std::ranges::find(zones, name, &date::time_zone::name);
    if (found != zones.end()) {
      static_cast<void>(found->get_info(Instant{}));  // reads its rules, or throws
      return Zone(std::string(name), &*found);
    }
    return refuse(
        fmt::format("unknown time zone \"{}\"{}", escaped(name), meant_zone(name)));
  } catch (const std::exception& fault) {
    return refuse(
        fmt::format("time zone \"{}\" cannot be read (is the package tzdata "
                    "installed?): {}",
                    escaped(name), escaped(fault.what(), 200)));
  }
}

std::chrono::year_month_day Zone::local_date(Instant at) const {
  return std::chrono::floor<std::chrono::days>(wall_clock(*rules_, at));
}

std::chrono::minutes Zone::minute_of_day(Instant at) const {
  const auto shown = wall_clock(*rules_, at);
  return std::chrono::floor<std::chrono::minutes>(
      shown - std::chrono::floor<std::chrono::days>(shown));
}

Instant Zone::at(std::chrono::year_month_day date,
                 std::chrono::minutes since_midnight) const {
  const Instant shown = std::chrono::sys_days(date) + since_midnight;
  const auto info = rules_->get_info(date::local_seconds(shown.time_since_epoch()));
  // `first` is the only rule of a plain time and the earlier of an ambiguous one; it ends
  // where the gap of a skipped time begins and ends, which in UTC is one instant.
  if (info.result == date::local_info::nonexistent) return info.first.end;
  return shown - info.first.offset;
}

std::string Zone::time_text(Instant at) const {
  const auto minutes = minute_of_day(at).count();
  return fmt::format("{:02}:{:02}", minutes / 60, minutes % 60);
}

std::string Zone::date_text(Instant at) const {
  return rimeward::date_text(local_date(at));
}

std::string Zone::weekday_text(Instant at) const {
  return rimeward::weekday_text(local_date(at));
}

std::string date_text(std::chrono::year_month_day date) {
  return fmt::format("{:04}-{:02}-{:02}", static_cast<int>(date.year()),
                     static_cast<unsigned>(date.month()),
                     static_cast<unsigned>(date.day()));
}

std::string weekday_text(std::chrono::year_month_day date) {
  return std::string(kWeekdays.at(std::chrono::weekday(date).c_encoding()));
}

DayGrid::DayGrid(Zone zone, std::chrono::minutes day_starts)
    : zone_(std::move(zone)), day_starts_(day_starts) {}

std::chrono::year_month_day DayGrid::day_of(Instant at) const {
  std::chrono::sys_days day = zone_.local_date(at);
  // At most one step each way, but for zones that skipped or repeated a whole date.
  while (begins(day) > at)
    day -= std::chrono::days{1};
  while (ends(day) <= at)
    day += std::chrono::days{1};
  return day;
}

Instant DayGrid::begins(std::chrono::year_month_day day) const {
  return zone_.at(day, day_starts_);
}

Instant DayGrid::ends(std::chrono::year_month_day day) const {
  return begins(std::chrono::sys_days(day) + std::chrono::days{1});
}

}  // namespace rimeward
