#include "daemon/climate/hour_book.h"

#include <algorithm>
#include <iterator>
#include <utility>

namespace rimeward {
namespace {

using std::chrono::hours;

// As far back as a kept hour may need another to be bridged from.
constexpr hours kMargin = HourBook::kBridged + hours{1};

Instant hour_of(Instant at) {
  return std::chrono::floor<hours>(at);
}

// REQUIRES: divisor > 0.
std::int64_t rounded_quotient(std::int64_t dividend, std::int64_t divisor) {
  const std::int64_t half = divisor / 2;
  return (dividend >= 0 ? dividend + half : dividend - half) / divisor;
}

}  // namespace

Milli mean_of(const HourSum& hour) {
  return rounded_quotient(hour.sum, hour.count);
}

std::optional<std::size_t> HourBook::index_of(Channel channel) {
  switch (channel) {
    case Channel::kAirTemperature:
      return kAir;
    case Channel::kHumidity:
      return kHumidity;
    case Channel::kSoilTemperature:
      return kSoil;
    default:
      return std::nullopt;
  }
}

std::optional<Milli> HourBook::mean_at(const Hours& hours_of, Hours::const_iterator next,
                                       Instant hour) {
  if (next == hours_of.end()) return std::nullopt;
  if (next->first == hour) return mean_of(next->second.begin()->second);
  if (next == hours_of.begin()) return std::nullopt;
  const auto before = std::prev(next);
  const auto gap = next->first - before->first;
  if (gap > kBridged + hours{1}) return std::nullopt;
  const Milli from = mean_of(before->second.begin()->second);
  const Milli to = mean_of(next->second.begin()->second);
  const std::int64_t steps = gap / hours{1};
  return from +
         rounded_quotient((to - from) * ((hour - before->first) / hours{1}), steps);
}

HourMeans HourBook::means(Instant hour) const {
  const auto mean = [&](const Hours& of) {
    return mean_at(of, of.lower_bound(hour), hour);
  };
  return {.air = mean(hours_[kAir]),
          .humidity = mean(hours_[kHumidity]),
          .soil = mean(hours_[kSoil])};
}

void HourBook::each(Instant from, Instant to,
                    const std::function<bool(const HourMeans&)>& visit) const {
  std::array<Hours::const_iterator, kChannels> next;
  for (std::size_t i = 0; i < kChannels; ++i)
    next.at(i) = hours_.at(i).lower_bound(from);
  const auto mean = [&](std::size_t channel, Instant hour) {
    const Hours& of = hours_.at(channel);
    auto& here = next.at(channel);
    while (here != of.end() && here->first < hour)
      ++here;
    return mean_at(of, here, hour);
  };
  for (Instant hour = std::chrono::ceil<hours>(from); hour < to; hour += hours{1}) {
    const bool goes_on = visit({.air = mean(kAir, hour),
                                .humidity = mean(kHumidity, hour),
                                .soil = mean(kSoil, hour)});
    if (!goes_on) return;
  }
}

bool HourBook::is_measured(Channel channel, Instant hour) const {
  const auto index = index_of(channel);
  return index && hours_[*index].contains(hour);
}

std::optional<Instant> HourBook::newest(Channel channel) const {
  const auto index = index_of(channel);
  if (!index || hours_[*index].empty()) return std::nullopt;
  return hours_[*index].rbegin()->first;
}

// The worth of hours is taken out of the sums, the hour changed, and the worth of the
// same hours put back: those up to the next that are measured, for they may be bridged by
// it.
template <class Change>
void HourBook::change(std::size_t channel, Instant hour, const Change& change) {
  Hours& of_channel = hours_[channel];
  const auto after = of_channel.upper_bound(hour);
  const auto here = of_channel.lower_bound(hour);
  const Instant last = after == of_channel.end()
                           ? hour
                           : std::min(after->first - hours{1}, hour + kBridged);
  const Instant first =
      here == of_channel.begin()
          ? hour
          : std::max(std::prev(here)->first + hours{1}, hour - kBridged);
  count(first, last, -1);
  change(of_channel);
  count(first, last, +1);
}

void HourBook::count(Instant first, Instant last, int sign) {
  if (followed_.empty()) return;
  for (Instant hour = first; hour <= last; hour += hours{1}) {
    const HourMeans of_hour = means(hour);
    for (Followed& one : followed_) {
      if (hour < one.from || hour >= one.to) continue;
      const auto worth = one.worth(of_hour);
      if (!worth) continue;
      one.sum.amount += sign * *worth;
      one.sum.hours += sign;
    }
  }
}

void HourBook::add(Channel channel, std::size_t rank, Instant time, Milli value) {
  const auto index = index_of(channel);
  if (!index) return;
  const Instant hour = hour_of(time);
  if (newest_ && hour < *newest_ - kKept) {
    is_stale_ = true;
    return;
  }
  change(*index, hour, [&](Hours& of_channel) {
    HourSum& sum = of_channel[hour][rank];
    sum.sum += value;
    ++sum.count;
  });
  if (newest_ && hour <= *newest_) return;
  newest_ = hour;
  forget_old();
}

void HourBook::remove(Channel channel, std::size_t rank, Instant time, Milli value) {
  const auto index = index_of(channel);
  if (!index) return;
  const Instant hour = hour_of(time);
  const auto found = hours_[*index].find(hour);
  if (found == hours_[*index].end() || !found->second.contains(rank)) {
    is_stale_ = true;
    return;
  }
  change(*index, hour, [&](Hours& of_channel) {
    Voices& voices = of_channel.at(hour);
    HourSum& sum = voices.at(rank);
    sum.sum -= value;
    if (--sum.count == 0) voices.erase(rank);
    if (voices.empty()) of_channel.erase(hour);
  });
}

void HourBook::put(Channel channel, std::size_t rank, Instant hour, const HourSum& sum) {
  const auto index = index_of(channel);
  if (!index || sum.count == 0) return;
  hours_[*index][hour][rank] = sum;
  newest_ = std::max(newest_, {hour});
}

Sum HourBook::sum(Instant from, Instant to, const HourWorth& worth) const {
  Sum sum;
  if (!newest_) return sum;
  Instant first = to;
  for (const Hours& of_channel : hours_) {
    if (!of_channel.empty()) first = std::min(first, of_channel.begin()->first);
  }
  first = std::max<Instant>(first, std::chrono::ceil<hours>(from));
  for (Instant hour = first; hour < to && hour <= *newest_; hour += hours{1}) {
    const auto of_hour = worth(means(hour));
    if (!of_hour) continue;
    sum.amount += *of_hour;
    ++sum.hours;
  }
  return sum;
}

std::size_t HourBook::follow(Instant from, Instant to, HourWorth worth) {
  const Sum so_far = sum(from, to, worth);
  followed_.push_back({from, to, std::move(worth), so_far});
  return followed_.size() - 1;
}

void HourBook::forget_old() {
  if (!newest_) return;
  const Instant oldest = *newest_ - kKept - kMargin;
  for (Hours& of_channel : hours_) {
    of_channel.erase(of_channel.begin(), of_channel.lower_bound(oldest));
  }
}

}  // namespace rimeward
