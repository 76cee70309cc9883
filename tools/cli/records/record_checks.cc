#include "tools/cli/records/record_checks.h"

#include <algorithm>
#include <charconv>
#include <chrono>
#include <cmath>
#include <utility>
#include <vector>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "sensors/channel.h"
#include "sensors/escape.h"
#include "sensors/iso_time.h"
#include "sensors/number.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::sys_days;

constexpr sys_days kFirst{std::chrono::year{1900} / 1 / 1};

// What a notebook leaves empty, or has a dash for.
bool is_absent(std::string_view text) {
  return text.empty() || text == "-";
}

tl::unexpected<Error> missing(Member member) {
  return refuse(fmt::format("{} is missing", name_of(member)));
}

// Of digits alone, as many as `least` to `most`, taken from the front of `text`.
std::optional<int> take_number(std::string_view& text, std::size_t least,
                               std::size_t most) {
  std::size_t length = 0;
  while (length < text.size() && text[length] >= '0' && text[length] <= '9')
    ++length;
  if (length < least || length > most) return std::nullopt;
  int value = 0;
  std::from_chars(text.data(), text.data() + length, value);
  text.remove_prefix(length);
  return value;
}

// "12.04.2024" or "12.4.2024": the day first.
std::optional<std::chrono::year_month_day> dotted_date(std::string_view text) {
  const auto take_dot = [&text] {
    const bool is_dot = text.starts_with('.');
    if (is_dot) text.remove_prefix(1);
    return is_dot;
  };
  const auto day = take_number(text, 1, 2);
  if (!day || !take_dot()) return std::nullopt;
  const auto month = take_number(text, 1, 2);
  if (!month || !take_dot()) return std::nullopt;
  const auto year = take_number(text, 4, 4);
  if (!year || !text.empty()) return std::nullopt;
  return std::chrono::year{*year} / std::chrono::month{static_cast<unsigned>(*month)} /
         std::chrono::day{static_cast<unsigned>(*day)};
}

Result<Channel> channel_of(std::string_view name) {
  if (name.empty()) return missing(Member::kChannel);
  if (const auto channel = channel_named(name)) return *channel;
  std::vector<std::string_view> names;
  for (const ChannelTraits& one : all_channels())
    names.push_back(one.name);
  return refuse(fmt::format("no channel \"{}\"{}; channels: {}", escaped(name),
                            did_you_mean(name, names), fmt::join(names, ", ")));
}

Result<std::string_view> sensor_of(std::string_view word) {
  if (word.empty()) return missing(Member::kSensor);
  if (is_id(word)) return word;
  return refuse(
      fmt::format("sensor \"{}\" is no id: lower-case letters, digits and "
                  "hyphens between them, at most 64",
                  escaped(word)));
}

// The bounds on the scale that the file is in.
std::string range_text(const ChannelTraits& range, bool in_fahrenheit) {
  if (!in_fahrenheit) {
    return fmt::format("{} to {} {}", range.lowest, range.highest, range.unit);
  }
  return fmt::format("{} to {} °F", rimeward::in_fahrenheit(Celsius{range.lowest}),
                     rimeward::in_fahrenheit(Celsius{range.highest}));
}

}  // namespace

Result<std::string_view> RecordChecks::place_of(std::string_view word) {
  if (word.empty()) {
    if (terms_.place == nullptr) return missing(Member::kPlace);
    return std::string_view(terms_.place->id);
  }
  if (const auto known = places_.find(word); known != places_.end()) {
    return known->second;
  }
  const auto place = find_place(terms_.garden, word);
  if (!place) return tl::unexpected(place.error());
  return places_.emplace(word, (*place)->id).first->second;
}

Result<Milli> RecordChecks::value_of(Member member, std::string_view text,
                                     Channel channel) const {
  if (text.empty()) return missing(member);
  const LeadingNumber number = number_in(text);
  if (number.fault != NumberFault::kNone || number.length != text.size()) {
    const bool has_comma = !terms_.decimal_comma && text.find(',') != text.npos;
    return refuse(fmt::format("{} \"{}\" is not a number{}", name_of(member),
                              escaped(text),
                              has_comma ? "; a decimal comma is read only where ; stands "
                                          "between the fields"
                                        : ""));
  }
  const bool fahrenheit = terms_.in_fahrenheit && is_temperature(channel);
  const double value = fahrenheit ? (number.value - 32) * 5 / 9 : number.value;
  const ChannelTraits& range = traits(channel);
  if (!(value >= range.lowest && value <= range.highest)) {
    return refuse(fmt::format("{} {} is outside of what {} can be, {}", name_of(member),
                              escaped(text), range.name, range_text(range, fahrenheit)));
  }
  return to_milli(value);
}

LeadingNumber RecordChecks::number_in(std::string_view text) const {
  if (!terms_.decimal_comma) return leading_number(text);
  std::string with_point(text);
  std::ranges::replace(with_point, ',', '.');
  return leading_number(with_point);
}

Result<Instant> RecordChecks::time_of(Member member, std::string_view text) const {
  if (text.empty()) return missing(member);
  const auto at = parse_instant(text);
  if (!at) {
    return refuse(fmt::format("{} \"{}\" is no time such as 2026-04-12T18:03:20Z",
                              name_of(member), escaped(text)));
  }
  if (*at < kFirst) {
    return refuse(fmt::format("{} {} is before 1900", name_of(member), escaped(text)));
  }
  if (*at > terms_.now) {
    return refuse(fmt::format("{} {} is still to come", name_of(member), escaped(text)));
  }
  return *at;
}

Result<sys_days> RecordChecks::date_of(std::string_view text) const {
  if (text.empty()) return missing(Member::kDate);
  std::optional<sys_days> date = date_from_text(text);
  if (const auto dotted = dotted_date(text); dotted && dotted->ok()) {
    date = sys_days{*dotted};
  }
  if (!date) {
    return refuse(fmt::format(
        "date \"{}\" is none such as 2024-04-12, or 12.04.2024 with the day first{}",
        escaped(text), text.find('/') == text.npos ? "" : "; with / it could be either"));
  }
  if (*date < kFirst) return refuse(fmt::format("date {} is before 1900", escaped(text)));
  if (*date > sys_days{terms_.grid.zone().local_date(terms_.now)}) {
    return refuse(fmt::format("date {} is still to come", escaped(text)));
  }
  return *date;
}

// "06:20" is of the night that ends on the date, or of its day, as these are cut.
Result<std::optional<Instant>> RecordChecks::extreme_at(Member member,
                                                        std::string_view text,
                                                        sys_days date) const {
  if (is_absent(text)) return std::nullopt;
  const Zone& zone = terms_.grid.zone();
  if (const auto time = time_of_day_from_text(text)) {
    const sys_days began = member == Member::kLowAt ? date - days{1} : date;
    const bool is_next = *time < terms_.grid.day_starts();
    const Instant at = zone.at(began + days{is_next ? 1 : 0}, *time);
    if (at <= terms_.now) return at;
    return refuse(fmt::format("{} {} is still to come", name_of(member), escaped(text)));
  }
  if (!parse_instant(text)) {
    return refuse(
        fmt::format("{} \"{}\" is no time such as 2026-04-12T04:20:00Z, or 06:20 by the "
                    "garden's clock",
                    name_of(member), escaped(text)));
  }
  const auto at = time_of(member, text);
  if (!at) return tl::unexpected(at.error());
  const sys_days its_date{zone.local_date(*at)};
  if (its_date < date - days{1} || its_date > date + days{1}) {
    return refuse(
        fmt::format("{} {} is not of the date", name_of(member), escaped(text)));
  }
  return *at;
}

Result<std::optional<ReadingRecord>> RecordChecks::reading(const RecordFields& fields) {
  if (fields.empty()) return std::nullopt;
  const auto time = time_of(Member::kTime, fields[Member::kTime]);
  if (!time) return tl::unexpected(time.error());
  const auto sensor = sensor_of(fields[Member::kSensor]);
  if (!sensor) return tl::unexpected(sensor.error());
  const auto place = place_of(fields[Member::kPlace]);
  if (!place) return tl::unexpected(place.error());
  const auto channel = channel_of(fields[Member::kChannel]);
  if (!channel) return tl::unexpected(channel.error());
  const auto value = value_of(Member::kValue, fields[Member::kValue], *channel);
  if (!value) return tl::unexpected(value.error());
  return ReadingRecord{*time, *sensor, *place, *channel, *value};
}

Result<std::optional<NotedDayRow>> RecordChecks::day(const RecordFields& fields) {
  const std::string_view low = fields[Member::kLow];
  const std::string_view high = fields[Member::kHigh];
  if (fields.empty()) return std::nullopt;
  const auto date = date_of(fields[Member::kDate]);
  if (!date) return tl::unexpected(date.error());
  const auto place = place_of(fields[Member::kPlace]);
  if (!place) return tl::unexpected(place.error());
  NotedDayRow row{.date = *date, .place = std::string(*place)};
  const auto put = [&](Member member, Member member_at, std::optional<Milli>& value,
                       std::optional<Instant>& at) -> Result<void> {
    if (is_absent(fields[member])) return {};
    const auto read = value_of(member, fields[member], Channel::kAirTemperature);
    if (!read) return tl::unexpected(read.error());
    const auto read_at = extreme_at(member_at, fields[member_at], *date);
    if (!read_at) return tl::unexpected(read_at.error());
    value = *read;
    at = *read_at;
    return {};
  };
  if (const auto did = put(Member::kLow, Member::kLowAt, row.low, row.low_at); !did) {
    return tl::unexpected(did.error());
  }
  if (const auto did = put(Member::kHigh, Member::kHighAt, row.high, row.high_at); !did) {
    return tl::unexpected(did.error());
  }
  if (is_absent(low) && is_absent(high)) return std::nullopt;
  return row;
}

}  // namespace rimeward
