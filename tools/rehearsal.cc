#include "tools/rehearsal.h"

#include <algorithm>
#include <limits>
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

PlaceScores scores_of(const Rehearsal& rehearsal, const std::string& place,
                      Celsius threshold, Odds call_at) {
  const auto known =
      std::ranges::find_if(rehearsal.outlooks, [&](const RehearsedOutlook& one) {
        return one.place == place && one.came && one.outlook.lows_known;
      });
  const std::int64_t first_day = known == rehearsal.outlooks.end()
                                     ? std::numeric_limits<std::int64_t>::max()
                                     : known->outlook.solar_day;
  PlaceScores all;
  if (known != rehearsal.outlooks.end()) {
    all.settled_from = date_of_night(first_day) + kSettlingNights;
  }
  std::vector<VerifiedOutlook> all_first;
  std::vector<VerifiedOutlook> all_settled;
  for (const Moment moment : kMoments) {
    // The yardsticks have as little to say as anybody of a night without one before it.
    std::vector<JudgedNight> nights;
    std::size_t settling = 0;
    std::vector<VerifiedOutlook> first;
    std::vector<VerifiedOutlook> settled;
    for (const RehearsedOutlook& one : rehearsal.outlooks) {
      if (one.place != place || one.outlook.moment != moment || !one.came) continue;
      const std::chrono::days since{one.outlook.solar_day - first_day};
      const bool is_settled = since >= kSettlingNights;
      (is_settled ? settled : first)
          .push_back(verified(one.outlook, threshold, *one.came));
      if (one.outlook.lows_known) nights.push_back({one.outlook, *one.came});
      if (!is_settled) settling = nights.size();
    }
    all.moments.push_back({.moment = moment,
                           .scores = rimeward::scores_of(settled, threshold, call_at),
                           .first = rimeward::scores_of(first, threshold, call_at),
                           .odds = reliability(settled, threshold),
                           .beside = compare(nights, settling, threshold)});
    all_first.insert(all_first.end(), first.begin(), first.end());
    all_settled.insert(all_settled.end(), settled.begin(), settled.end());
  }
  all.first = rimeward::scores_of(all_first, threshold, call_at);
  all.odds = reliability(all_settled, threshold);
  return all;
}

}  // namespace rimeward
