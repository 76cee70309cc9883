#include "tools/rehearsal.h"

#include <algorithm>
#include <ranges>
#include <span>
#include <utility>
#include <variant>

#include "daemon/app.h"
#include "daemon/store/store.h"

namespace rimeward {
namespace {

// More than any rehearsal brings.
constexpr std::size_t kAllNotices = 1'000'000;

}  // namespace

struct Rehearser::Parts {
  Parts(const Garden& garden, const Zone& zone, ClockSource source,
        std::optional<Prior> prior)
      : clock(source),
        app(garden, zone, store,
            {.clock = source,
             .observe = [this](const Place& place,
                               const OutlookEvent& event) { observe(place, event); },
             .prior = prior}) {}

  void observe(const Place& place, const OutlookEvent& event) {
    if (const auto* issued = std::get_if<Issued>(&event)) {
      outlooks.push_back({place.id, issued->outlook, std::nullopt});
      return;
    }
    const auto& ended = std::get<NightEnded>(event);
    // The night's outlooks stand at the end of the list, among the other places'.
    for (RehearsedOutlook& one : std::ranges::reverse_view(outlooks)) {
      if (date_of_night(one.outlook.solar_day) < ended.night) break;
      if (one.place == place.id) one.came = ended.low;
    }
  }

  ClockSource clock;
  Store store = Store::in_memory();
  std::vector<RehearsedOutlook> outlooks;
  App app;
};

Rehearser::Rehearser(const Garden& garden, const Zone& zone, ClockSource clock,
                     std::optional<Prior> prior)
    : parts_(std::make_unique<Parts>(garden, zone, clock, prior)) {}

Rehearser::~Rehearser() = default;

void Rehearser::feed(const Arrival& arrival) {
  App& app = parts_->app;
  const bool by_readings = parts_->clock == ClockSource::kReadings;
  app.turn(arrival, by_readings ? app.time_told_by(arrival) : arrival.at);
  if (app.wants_commit()) app.commit();
}

void Rehearser::feed(const RecordedReading& reading, const std::string& topic) {
  Arrival arrival;
  arrival.at = reading.time;
  arrival.topic = topic;
  arrival.payload = payload_of(reading);
  arrival.payload_bytes = arrival.payload.size();
  feed(arrival);
}

Rehearsal Rehearser::finish() {
  App& app = parts_->app;
  if (const auto now = app.now()) app.turn(Stop{}, *now);
  app.commit();
  Rehearsal rehearsal{.readings = parts_->store.reading_count(),
                      .doubts = parts_->store.tallies(),
                      .outlooks = std::move(parts_->outlooks),
                      .notices = parts_->store.latest_notices(kAllNotices)};
  std::ranges::reverse(rehearsal.notices);
  return rehearsal;
}

std::vector<MomentScores> scores_of(const Rehearsal& rehearsal, const std::string& place,
                                    Celsius threshold, Odds call_at) {
  const auto first =
      std::ranges::find_if(rehearsal.outlooks, [&](const RehearsedOutlook& one) {
        return one.place == place && one.came.has_value();
      });
  std::vector<MomentScores> all;
  for (const Moment moment : kMoments) {
    std::vector<JudgedNight> nights;
    std::size_t settling = 0;
    for (auto one = first; one != rehearsal.outlooks.end(); ++one) {
      if (one->place != place || one->outlook.moment != moment || !one->came) continue;
      nights.push_back({one->outlook, *one->came});
      const std::chrono::days since{one->outlook.solar_day - first->outlook.solar_day};
      if (since < kSettlingNights) settling = nights.size();
    }
    std::vector<VerifiedOutlook> verified;
    for (const JudgedNight& night : std::span(nights).subspan(settling)) {
      const Outlook& outlook = night.outlook;
      verified.push_back({.low = outlook.low,
                          .low10 = outlook.low10,
                          .low90 = outlook.low90,
                          .odds = odds_below(outlook, threshold),
                          .came = night.came});
    }
    MomentScores scores{moment, rimeward::scores_of(verified, threshold, call_at), {}};
    for (const Yardstick& yardstick : yardsticks()) {
      scores.yardstick_errors.push_back(mean_absolute_error(yardstick, nights, settling));
    }
    all.push_back(std::move(scores));
  }
  return all;
}

}  // namespace rimeward
