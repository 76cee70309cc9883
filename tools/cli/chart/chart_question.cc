#include "tools/cli/chart/chart_question.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <chrono>
#include <optional>
#include <string_view>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "sensors/escape.h"
#include "tools/cli/date_words.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::sys_days;

constexpr int kDaysShown = 2;
constexpr int kMostDays = 40'000;  // more than a century: a slip of the keyboard

std::vector<std::string_view> split_words(std::string_view text) {
  std::vector<std::string_view> words;
  while (!text.empty()) {
    const std::size_t end = std::min(text.find(' '), text.size());
    if (end > 0) words.push_back(text.substr(0, end));
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return words;
}

// The place that the longest beginning of `words` names, and how many words that takes.
struct Named {
  const Place* place = nullptr;
  std::size_t words = 0;
};

Result<Named> next_place(const Garden& garden, std::span<const std::string_view> words) {
  for (std::size_t count = words.size(); count > 0; --count) {
    const std::string name = fmt::format("{}", fmt::join(words.first(count), " "));
    if (const auto place = find_place(garden, name)) return Named{*place, count};
  }
  const auto refused = find_place(garden, words.front());
  return tl::unexpected(refused.error());
}

Result<std::vector<const Place*>> places_named(const Garden& garden,
                                               std::string_view text) {
  const std::vector<std::string_view> words = split_words(text);
  std::span<const std::string_view> left = words;
  std::vector<const Place*> places;
  while (!left.empty()) {
    const Result<Named> named = next_place(garden, left);
    if (!named) return tl::unexpected(named.error());
    if (std::ranges::find(places, named->place) == places.end()) {
      places.push_back(named->place);
    }
    left = left.subspan(named->words);
  }
  if (places.size() > kMostChartPlaces) {
    return refuse(
        fmt::format("{} places: more than {} curves in one chart cannot be told apart",
                    places.size(), kMostChartPlaces));
  }
  return places;
}

void take_all_places(ChartQuestion& question, const Context& context) {
  const std::vector<SeriesRow> all = context.store.all_series();
  for (const Place& place : context.garden.places) {
    const bool has = std::ranges::any_of(all, [&](const SeriesRow& row) {
      return row.place == place.id && row.channel == question.channel;
    });
    if (!has) continue;
    if (question.places.size() < kMostChartPlaces) {
      question.places.push_back(&place);
    } else {
      ++question.left_out;
    }
  }
}

Result<Channel> channel_from_words(std::string_view text) {
  std::string name;
  for (const char c : text) {
    const bool joins = c == ' ' || c == '-';
    name += joins ? '_' : static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  }
  if (name == "air" || name == "air_temperature") return Channel::kAirTemperature;
  std::vector<std::string_view> names;
  for (const ChannelTraits& channel : all_channels()) {
    if (!is_measured(channel.channel)) continue;
    if (channel.name == name) return channel.channel;
    names.push_back(channel.name);
  }
  return refuse(fmt::format("--channel: no channel \"{}\"{}; channels: {}", escaped(text),
                            did_you_mean(name, names), fmt::join(names, ", ")));
}

Result<int> read_days(std::string_view text) {
  int count = 0;
  const char* const end = text.data() + text.size();
  const auto read = std::from_chars(text.data(), end, count);
  if (read.ec != std::errc{} || read.ptr != end || count < 1 || count > kMostDays) {
    return refuse(
        fmt::format("--days: expected 1 to {}, got \"{}\"", kMostDays, escaped(text)));
  }
  return count;
}

// What the three options say together; at least one of --from and --to is there.
Result<Dates> dates_of(std::optional<sys_days> from, std::optional<sys_days> to,
                       std::optional<int> count, sys_days today) {
  if (from && to && count) {
    return refuse("--days with both --from and --to: leave one of the three out");
  }
  const days others{count.value_or(kDaysShown) - 1};
  if (!to && from && count) to = *from + others;
  const Dates dates{.from = from.value_or(to.value_or(today) - others),
                    .to = to.value_or(today)};
  if (dates.from > today) {
    return refuse(fmt::format("--from {} is still to come; today is {}",
                              date_text(dates.from), date_text(today)));
  }
  if (dates.from > dates.to) {
    return refuse(fmt::format("--from {} is after --to {}", date_text(dates.from),
                              date_text(dates.to)));
  }
  if (dates.to - dates.from >= days{kMostDays}) {
    return refuse(fmt::format("--from {} --to {}: more than {} days",
                              date_text(dates.from), date_text(dates.to), kMostDays));
  }
  return dates;
}

Result<std::optional<sys_days>> read_date(const Arguments& arguments,
                                          std::string_view name, sys_days today) {
  const auto text = arguments.text(name);
  if (!text) return std::nullopt;
  const auto date = day_from_words(name, *text, today);
  if (!date) return tl::unexpected(date.error());
  return *date;
}

Result<Chart::Span> span_asked(const Context& context, const Arguments& arguments) {
  const Zone& zone = context.zone;
  const sys_days today{zone.local_date(context.now)};
  const auto from = read_date(arguments, "--from", today);
  if (!from) return tl::unexpected(from.error());
  const auto to = read_date(arguments, "--to", today);
  if (!to) return tl::unexpected(to.error());
  std::optional<int> count;
  if (const auto text = arguments.text("--days")) {
    const auto read = read_days(*text);
    if (!read) return tl::unexpected(read.error());
    count = *read;
  }
  if (!*from && !*to) {
    const sys_days first = today - days{count.value_or(kDaysShown)};
    return Chart::Span{zone.at(first, zone.minute_of_day(context.now)), context.now};
  }
  const auto dates = dates_of(*from, *to, count, today);
  if (!dates) return tl::unexpected(dates.error());
  const std::chrono::minutes midnight{0};
  const Instant begins = zone.at(dates->from, midnight);
  const Instant ends = std::min(zone.at(dates->to + days{1}, midnight), context.now);
  // Just after midnight, of a chart that begins today.
  return Chart::Span{begins, std::max(ends, begins + std::chrono::hours{1})};
}

}  // namespace

std::string chart_words(Channel channel) {
  if (channel == Channel::kAirTemperature) return "air temperature";
  std::string words(traits(channel).name);
  std::ranges::replace(words, '_', ' ');
  return words;
}

Result<ChartQuestion> chart_question(const Context& context, const Arguments& arguments) {
  ChartQuestion question;
  const auto channel =
      channel_from_words(arguments.text("--channel").value_or("temperature"));
  if (!channel) return tl::unexpected(channel.error());
  question.channel = *channel;
  const auto span = span_asked(context, arguments);
  if (!span) return tl::unexpected(span.error());
  question.span = *span;
  auto places =
      places_named(context.garden, arguments.text("PLACE").value_or(std::string_view{}));
  if (!places) return tl::unexpected(places.error());
  question.places = *std::move(places);
  if (question.places.empty()) take_all_places(question, context);
  return question;
}

}  // namespace rimeward
