#include "daemon/notice/sending.h"

#include <algorithm>
#include <string>
#include <vector>

#include "daemon/notice/notice_kinds.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr std::string_view kLetter = "letter";
constexpr std::chrono::seconds kFirstRetry = 30s;
constexpr std::chrono::seconds kLongestRetry = 30min;
// What is to be done this soon after a digest would rather not wait for it.
constexpr auto kTimeToAct = 45min;

bool is_within(const DailySpan& span, std::chrono::minutes time) {
  if (span.from <= span.to) return time >= span.from && time < span.to;
  return time >= span.from || time < span.to;
}

// Scatters whole numbers evenly (the finaliser of SplitMix64: Steele, Lea & Flood, 2014,
// from memory).
std::uint64_t scattered(std::uint64_t value) {
  value += 0x9e3779b97f4a7c15U;
  value = (value ^ (value >> 30U)) * 0xbf58476d1ce4e5b9U;
  value = (value ^ (value >> 27U)) * 0x94d049bb133111ebU;
  return value ^ (value >> 31U);
}

}  // namespace

bool is_told(std::string_view event) {
  return event == "raised" || event == "worse" || event == "reminder" || event == kLetter;
}

bool is_for(const RouteSettings& route, const NoticeRow& notice, std::string_view event) {
  const auto lists = [](const std::vector<std::string>& wanted, const std::string& one) {
    return wanted.empty() || std::ranges::find(wanted, one) != wanted.end();
  };
  // What is about the garden as a whole is about each of its places.
  const bool of_place = notice.place.empty() || lists(route.places, notice.place);
  // A route that shows what stands now wants every change of it.
  const bool of_event = route.kind == "mqtt" || is_told(event);
  return lists(route.kinds_for, notice.kind) && of_place && of_event;
}

Instant next_time(std::chrono::minutes of_day, Instant now, const Zone& zone) {
  const auto today = zone.local_date(now);
  const Instant at = zone.at(today, of_day);
  if (at >= now) return at;
  return zone.at(std::chrono::sys_days(today) + std::chrono::days{1}, of_day);
}

Instant after_quiet(const DailySpan& quiet, Instant now, const Zone& zone) {
  return is_within(quiet, zone.minute_of_day(now)) ? next_time(quiet.to, now, zone) : now;
}

Instant leaves_at(const RouteSettings& route, const NoticeRow& notice,
                  std::optional<Instant> send_until, Instant now, const Zone& zone) {
  if (notice.kind == kDanger) return now;
  const Instant awake = route.quiet ? after_quiet(*route.quiet, now, zone) : now;
  // A letter has an hour of its own.
  if (!route.digest || notice.state == NoticeState::kTold) return awake;
  const Instant digest = next_time(*route.digest, now, zone);
  const bool in_time = (!notice.deadline || digest + kTimeToAct <= *notice.deadline) &&
                       (!send_until || digest < *send_until);
  if (!in_time) return awake;
  return route.quiet ? after_quiet(*route.quiet, digest, zone) : digest;
}

std::chrono::seconds back_off(std::int64_t outbox, int attempts) {
  const int doublings = std::clamp(attempts - 1, 0, 10);
  const auto whole = std::min(kFirstRetry * (1 << doublings), kLongestRetry);
  const std::uint64_t of =
      static_cast<std::uint64_t>(outbox) * 64 + static_cast<std::uint64_t>(doublings);
  // From three quarters to five quarters, in steps of a hundredth.
  const auto hundredths = static_cast<std::int64_t>(75 + scattered(of) % 51);
  return whole * hundredths / 100;
}

}  // namespace rimeward
