#include "tools/cli/words.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cmath>
#include <vector>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "sensors/escape.h"
#include "tools/cli/table.h"

namespace rimeward {
namespace {

// Adding zero turns a rounded -0.0 into 0.0.
double tenth(double value) {
  return std::round(value * 10) / 10 + 0.0;
}

std::string lowered(std::string_view text) {
  std::string result;
  for (const char c : text) {
    result += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  }
  return result;
}

template <class Number>
bool read_digits(std::string_view digits, Number& number) {
  const char* const end = digits.data() + digits.size();
  const auto read = std::from_chars(digits.data(), end, number);
  return std::ranges::all_of(digits, [](char c) { return c >= '0' && c <= '9'; }) &&
         read.ec == std::errc{} && read.ptr == end;
}

}  // namespace

std::string number(Celsius temperature, TemperatureUnit unit) {
  const bool celsius = unit == TemperatureUnit::kCelsius;
  return fmt::format("{:.1f}",
                     tenth(celsius ? temperature.degrees : in_fahrenheit(temperature)));
}

std::string signed_number(Kelvins difference, TemperatureUnit unit) {
  const bool celsius = unit == TemperatureUnit::kCelsius;
  return fmt::format("{:+.1f}",
                     tenth(celsius ? difference.degrees : in_fahrenheit(difference)));
}

std::string_view degree_sign(TemperatureUnit unit) {
  return unit == TemperatureUnit::kCelsius ? "°C" : "°F";
}

std::string day_text(std::chrono::year_month_day date) {
  constexpr std::array months{"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                              "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
  return fmt::format("{} {} {}", weekday_text(date), static_cast<unsigned>(date.day()),
                     months.at(static_cast<unsigned>(date.month()) - 1));
}

std::string when_text(Instant at, Instant now, const Zone& zone) {
  const auto date = zone.local_date(at);
  if (date == zone.local_date(now)) return zone.time_text(at);
  return fmt::format("{} {}", day_text(date), zone.time_text(at));
}

std::string due_text(Instant deadline, Instant now, const Zone& zone) {
  return (deadline < now ? "overdue since " : "by ") + when_text(deadline, now, zone);
}

std::string garden_heading(const Garden& garden, const Zone& zone, Instant now) {
  return fmt::format("{}, {} {}", garden.name, day_text(zone.local_date(now)),
                     zone.time_text(now));
}

std::optional<std::chrono::sys_days> date_from_text(std::string_view text) {
  int year = 0;
  unsigned month = 0;
  unsigned day = 0;
  if (text.size() != 10 || text[4] != '-' || text[7] != '-' ||
      !read_digits(text.substr(0, 4), year) || !read_digits(text.substr(5, 2), month) ||
      !read_digits(text.substr(8), day)) {
    return std::nullopt;
  }
  const std::chrono::year_month_day date{
      std::chrono::year{year}, std::chrono::month{month}, std::chrono::day{day}};
  if (!date.ok()) return std::nullopt;
  return std::chrono::sys_days{date};
}

std::string date_text(std::chrono::sys_days date) {
  return date_text(std::chrono::year_month_day{date});
}

Result<const Place*> find_place(const Garden& garden, std::string_view word) {
  std::vector<std::string_view> ids;
  for (const Place& place : garden.places) {
    if (place.id == word || lowered(place.name) == lowered(word)) return &place;
    ids.push_back(place.id);
  }
  return refuse(fmt::format("no place \"{}\"{}; places: {}", escaped(word),
                            did_you_mean(word, ids), fmt::join(ids, ", ")));
}

std::string_view place_name(const Garden& garden, std::string_view id) {
  if (id.empty()) return garden.name;
  const auto found = std::ranges::find(garden.places, id, &Place::id);
  return found == garden.places.end() ? id : std::string_view(found->name);
}

int layers_on(std::span<const CoverRow> covers, std::string_view place) {
  const auto found = std::ranges::find(covers, place, &CoverRow::place);
  return found == covers.end() ? 0 : found->layers;
}

std::string cover_text(int layers) {
  if (layers == 0) return "-";
  return layers == 1 ? "1 layer" : fmt::format("{} layers", layers);
}

std::string pending_lines(std::span<const NoticeRow> open, const Zone& zone, Instant now,
                          const Screen& screen) {
  Table table(
      {{.heading = "", .align = Column::Align::kRight}, {.heading = "", .wraps = true}});
  for (const NoticeRow& notice : open) {
    std::string line = notice.title;
    if (notice.deadline) line += ", " + due_text(*notice.deadline, now, zone);
    table.add_row({{fmt::format("{:>3}", notice.id)}, {std::move(line), Style::kUrgent}});
  }
  return table.text(screen);
}

}  // namespace rimeward
