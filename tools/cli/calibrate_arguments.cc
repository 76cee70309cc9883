#include "tools/cli/calibrate_arguments.h"

#include <algorithm>
#include <optional>
#include <string>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "sensors/escape.h"
#include "sensors/number.h"
#include "tools/cli/sensors_answer.h"

namespace rimeward {
namespace {

std::optional<double> whole_number(std::string_view text) {
  const std::string_view word = trimmed(text);
  const LeadingNumber number = leading_number(word);
  if (number.fault != NumberFault::kNone || number.length != word.size()) {
    return std::nullopt;
  }
  return number.value;
}

std::optional<SaidAndTrue> pair_from(std::string_view text) {
  const std::size_t equals = text.find('=');
  if (equals == std::string_view::npos) return std::nullopt;
  const auto said = whole_number(text.substr(0, equals));
  const auto known = whole_number(text.substr(equals + 1));
  if (!said || !known) return std::nullopt;
  return SaidAndTrue{*said, *known};
}

bool has_said(const Store& store, SeriesId series) {
  return store.latest(series).has_value() || !store.latest_doubtful(series, 1).empty();
}

std::vector<std::string_view> names_of(const std::vector<Channel>& channels) {
  std::vector<std::string_view> names;
  for (const Channel channel : channels)
    names.push_back(traits(channel).name);
  return names;
}

}  // namespace

Result<Channel> choose_channel(const Context& context, const Sensor& sensor,
                               const Arguments& arguments,
                               const std::function<bool(Channel)>& fits,
                               std::string_view what) {
  std::vector<Channel> channels;
  for (const SeriesRow& row : series_of(context.store.all_series(), sensor)) {
    if (fits(row.channel) && has_said(context.store, row.id)) {
      channels.push_back(row.channel);
    }
  }
  if (channels.empty()) {
    return refuse(
        fmt::format("{} has said nothing yet that could be {}", sensor.id, what));
  }
  const std::vector<std::string_view> names = names_of(channels);
  const auto word = arguments.text(kChannelOption);
  if (!word) {
    if (channels.size() == 1) return channels.front();
    return refuse(fmt::format(
        "{} has more than one channel that could be {}: say which with {}: {}", sensor.id,
        what, kChannelOption, fmt::join(names, " or ")));
  }
  const auto found = std::ranges::find(names, *word);
  if (found == names.end()) {
    return refuse(fmt::format("{} has no channel \"{}\" that could be {}{}; it has {}",
                              sensor.id, escaped(*word), what, did_you_mean(*word, names),
                              fmt::join(names, ", ")));
  }
  return channels[static_cast<std::size_t>(found - names.begin())];
}

Result<double> number_of(const Arguments& arguments, std::string_view option) {
  const auto text = arguments.text(option);
  const auto number = text ? whole_number(*text) : std::nullopt;
  if (number) return *number;
  return refuse(fmt::format("{} wants a number, such as -0.4, and got \"{}\"", option,
                            escaped(text.value_or(""))));
}

Result<std::vector<SaidAndTrue>> points_from_text(std::string_view text) {
  const std::size_t comma = text.find(',');
  std::vector<SaidAndTrue> points;
  const auto one = pair_from(text.substr(0, comma));
  if (one) points.push_back(*one);
  if (one && comma != std::string_view::npos) {
    const auto other = pair_from(text.substr(comma + 1));
    if (other) points.push_back(*other);
  }
  const std::size_t wanted = comma == std::string_view::npos ? 1 : 2;
  if (points.size() == wanted) return points;
  return refuse(
      fmt::format("--points wants what it said and what was true, twice, such as "
                  "0.4=0.0,21.3=20.8, and got \"{}\"",
                  escaped(text)));
}

}  // namespace rimeward
