#include "daemon/base/zone.h"

#include <algorithm>
#include <array>
#include <cstdlib>
#include <filesystem>
#include <system_error>
#include <utility>
#include <vector>

#include <cctz/civil_time.h>
#include <cctz/time_zone.h>
#include <fmt/format.h>

#include "daemon/base/text.h"
#include "sensors/escape.h"

namespace rimeward {
namespace {

namespace fs = std::filesystem;

constexpr std::array<std::string_view, 7> kWeekdays{"Sun", "Mon", "Tue", "Wed",
                                                    "Thu", "Fri", "Sat"};

// Where the library finds the zones' files.
fs::path zone_folder() {
  const char* const named = std::getenv("TZDIR");  // NOLINT(concurrency-mt-unsafe)
  return named == nullptr ? "/usr/share/zoneinfo" : named;
}

// Beside the zones there lie lists, links to the machine's own zone, and copies with leap
// seconds: those have a dot, or begin with a small letter.
bool is_zone(const fs::path& folder, std::string_view name) {
  const auto is_capital = [](char c) { return c >= 'A' && c <= 'Z'; };
  const bool is_name =
      !name.empty() && is_capital(name.front()) && std::ranges::all_of(name, [&](char c) {
        return is_capital(c) || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') ||
               std::string_view("/_+-").find(c) != std::string_view::npos;
      });
  std::error_code none;
  return is_name && fs::is_regular_file(folder / name, none);
}

std::vector<std::string> zone_names(const fs::path& folder) {
  std::vector<std::string> names;
  std::error_code none;
  for (fs::recursive_directory_iterator file(folder, none), end; file != end;
       file.increment(none)) {
    const std::string name = file->path().lexically_relative(folder).string();
    if (is_zone(folder, name)) names.push_back(name);
  }
  std::ranges::sort(names);
  return names;
}

// Someone who writes "Berlin" means the zone that ends so; else the nearest spelling.
std::string meant_zone(std::string_view name, const std::vector<std::string>& names) {
  const auto ends_so = std::ranges::find_if(names, [&](std::string_view candidate) {
    const auto slash = candidate.rfind('/');
    return slash != std::string_view::npos && candidate.substr(slash + 1) == name;
  });
  if (ends_so != names.end()) return fmt::format("; did you mean \"{}\"?", *ends_so);
  const std::vector<std::string_view> candidates(names.begin(), names.end());
  return did_you_mean(name, candidates);
}

}  // namespace

struct Zone::Rules {
  cctz::time_zone zone;
};

Zone::Zone(std::string name, std::shared_ptr<const Rules> rules)
    : name_(std::move(name)), rules_(std::move(rules)) {}

Result<Zone> Zone::named(std::string_view name) {
  const fs::path folder = zone_folder();
  Rules rules;
  if (is_zone(folder, name) && cctz::load_time_zone(std::string(name), &rules.zone)) {
    return Zone(std::string(name), std::make_shared<const Rules>(rules));
  }
  const std::vector<std::string> names = zone_names(folder);
  if (names.empty() || std::ranges::binary_search(names, name)) {
    return refuse(
        fmt::format("time zone \"{}\" cannot be read from {} (is the package "
                    "tzdata installed?)",
                    escaped(name), folder.string()));
  }
  return refuse(
      fmt::format("unknown time zone \"{}\"{}", escaped(name), meant_zone(name, names)));
}

Instant Zone::wall_clock(Instant at) const {
  return at + std::chrono::seconds{rules_->zone.lookup(at).offset};
}

std::chrono::year_month_day Zone::local_date(Instant at) const {
  return std::chrono::floor<std::chrono::days>(wall_clock(at));
}

std::chrono::minutes Zone::minute_of_day(Instant at) const {
  const auto shown = wall_clock(at);
  return std::chrono::floor<std::chrono::minutes>(
      shown - std::chrono::floor<std::chrono::days>(shown));
}

Instant Zone::at(std::chrono::year_month_day date,
                 std::chrono::minutes since_midnight) const {
  const Instant shown = std::chrono::sys_days(date) + since_midnight;
  const cctz::civil_second shown_there =
      cctz::civil_second() + shown.time_since_epoch().count();
  const auto found = rules_->zone.lookup(shown_there);
  // Of a time that is shown twice the first; of one that is skipped the moment it was.
  return found.kind == cctz::time_zone::civil_lookup::SKIPPED ? found.trans : found.pre;
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
