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

constexpr std::chrono::hours kLongestGap{48};

// With one route that takes everything, whatever the settings have.
Garden told_of_all(Garden garden) {
  garden.routes.assign(1, RouteSettings{});
  garden.routes.front().kind = "command";
  return garden;
}

}  // namespace

struct Rehearser::Parts {
  Parts(const Garden& of, const Zone& zone, ClockSource source,
        std::optional<Prior> prior)
      : garden(told_of_all(of)),
        clock(source),
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
    note_night(place, ended);
    // The night's outlooks stand at the end of the list, among the other places'.
    for (RehearsedOutlook& one : std::ranges::reverse_view(outlooks)) {
      if (date_of_night(one.outlook.solar_day) < ended.night) break;
      if (one.place == place.id) one.came = ended.low;
    }
  }

  // Commits what is to be, as the loop would, and has it told.
  void settle() {
    while (app.wants_commit()) {
      app.commit();
      for (const Parcel& parcel : app.take_due_deliveries())
        tell(parcel);
    }
  }

  // Between two readings a garden's clock goes on, and what is raised is told in time. In
  // a gap that is longer than the App looks back, nobody looks.
  void pass_time_until(Instant at) {
    const auto now = app.now();
    if (!now || at - *now > kLongestGap) return;
    const auto look = std::chrono::ceil<std::chrono::minutes>(*now);
    for (Instant next = look + kLookEvery - look.time_since_epoch() % kLookEvery;
         next < at; next += kLookEvery) {
      app.turn(Tick{}, next + std::chrono::seconds{1});
      settle();
    }
  }

  void tell(const Parcel& parcel) {
    Delivered done{.route = parcel.route,
                   .outbox = {},
                   .outcome = Delivered::Outcome::kDone,
                   .trouble = {}};
    for (const auto& [row, notice] : parcel.items) {
      done.outbox.push_back(row.id);
      tellings.push_back({row.event, notice});
    }
    app.turn(done, *app.now());
  }

  void note_night(const Place& place, const NightEnded& ended) {
    RehearsedNight& night = nights.emplace_back();
    night.place = place.id;
    night.night = ended.night;
    night.low = ended.low;
    night.low_at = ended.low_at;
    const auto number = static_cast<std::size_t>(&place - garden.places.data());
    night.keep_above = app.keep_aboves().at(number).limit;
    if (!ended.outlooks.empty()) {
      night.sunset = whole_second(ended.outlooks.front().sunset);
    }
  }

  const Garden garden;
  ClockSource clock;
  Store store = Store::in_memory();
  std::vector<RehearsedOutlook> outlooks;
  std::vector<RehearsedNight> nights;
  std::vector<RehearsedTelling> tellings;
  App app;
};

Rehearser::Rehearser(const Garden& garden, const Zone& zone, ClockSource clock,
                     std::optional<Prior> prior)
    : parts_(std::make_unique<Parts>(garden, zone, clock, prior)) {}

Rehearser::~Rehearser() = default;

void Rehearser::feed(const Arrival& arrival) {
  App& app = parts_->app;
  const bool by_readings = parts_->clock == ClockSource::kReadings;
  const Instant at = by_readings ? app.time_told_by(arrival) : arrival.at;
  parts_->pass_time_until(at);
  app.turn(arrival, at);
  parts_->settle();
}

void Rehearser::feed(const ActionRow& action) {
  App& app = parts_->app;
  app.turn(action, action.at);
  parts_->settle();
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
  parts_->settle();
  Rehearsal rehearsal{.readings = parts_->store.reading_count(),
                      .doubts = parts_->store.tallies(),
                      .outlooks = std::move(parts_->outlooks),
                      .nights = std::move(parts_->nights),
                      .notices = parts_->store.latest_notices(kAllNotices),
                      .tellings = std::move(parts_->tellings)};
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
