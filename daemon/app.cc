#include "daemon/app.h"

#include <algorithm>
#include <chrono>
#include <variant>

#include <fmt/format.h>

#include "daemon/store/marks.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// Rows in memory from which a commit is due at once, and at which the oldest are let go
// when the store has not taken any for long (a full disk).
constexpr std::size_t kComfortable = 10'000;
constexpr std::size_t kMost = 500'000;
// A daemon that was down for longer looks back only this far: what was due earlier has
// lapsed anyway.
constexpr auto kLookBack = 48h;

std::int64_t seconds_of(Instant at) {
  return at.time_since_epoch().count();
}

std::optional<Instant> time_in(const Store& store, const char* mark) {
  const auto value = store.mark(mark);
  return value ? std::optional(Instant{std::chrono::seconds{*value}}) : std::nullopt;
}

std::vector<PlaceClimate> places_of(const Garden& garden,
                                    const std::optional<Prior>& prior,
                                    const Store& store) {
  std::vector<PlaceClimate> places;
  places.reserve(garden.places.size());
  for (const Place& place : garden.places) {
    const Prior& shipped = is_covered(place.kind) ? covered_prior() : open_air_prior();
    places.emplace_back(garden, place, prior ? *prior : shipped, store);
  }
  return places;
}

Instant look_before(Instant at) {
  return std::chrono::floor<std::chrono::duration<std::int64_t, std::ratio<300>>>(at);
}
static_assert(kLookEvery == std::chrono::duration<std::int64_t, std::ratio<300>>{1});

}  // namespace

App::App(const Garden& garden, const Zone& zone, Store& store, AppOptions options)
    : garden_(garden),
      zone_(zone),
      store_(store),
      clock_(options.clock),
      log_(std::move(options.log)),
      observe_(std::move(options.observe)),
      places_(places_of(garden, options.prior, store)),
      season_(garden, store, log_),
      sensing_(garden, places_, season_, store, time_in(store, kMarkNow), clock_, log_),
      keeper_(garden, store, log_),
      now_(time_in(store, kMarkNow)) {
  store_.set_days(DayGrid(zone, garden.day_starts));
  looked_at_ = time_in(store, kMarkLookedAt);
  last_action_ = store_.mark(kMarkAction).value_or(0);
  committed_sequence_ =
      static_cast<std::uint64_t>(store_.mark(kMarkSequence).value_or(0));
  taken_sequence_ = committed_sequence_;
  for (const CoverRow& cover : store_.covers())
    covers_[cover.place] = cover.layers;
  for (std::size_t i = 0; i < places_.size(); ++i)
    place_numbers_[garden.places[i].id] = i;
  states_changed_.resize(places_.size());
  for (const Place& place : garden.places) {
    const std::string name = kMarkKeepAbove + place.id;
    if (const auto mark = store_.mark(name)) keep_above_marks_[name] = *mark;
  }
}

void App::turn(const Message& message, Instant now) {
  if (now_) now = std::max(now, *now_);
  advance(now);
  now_ = now;
  changes_.marks[kMarkClockByReadings] = clock_ == ClockSource::kReadings ? 1 : 0;
  std::visit([this](const auto& one) { handle(one); }, message);
}

// Does what fell due before `now`, each at its own time: a reading of `now` itself still
// belongs to what is due then.
void App::advance(Instant now) {
  if (!looked_at_) looked_at_ = look_before(now);
  looked_at_ = std::max(*looked_at_, look_before(now - kLookBack));
  sensing_.start_waiting(now, changes_);
  while (true) {
    const Instant next_look = *looked_at_ + kLookEvery;
    PlaceClimate* next = nullptr;
    SunTime due = std::min<SunTime>(now, next_look);
    for (PlaceClimate& climate : places_) {
      if (!climate.next_due() || *climate.next_due() >= due) continue;
      due = *climate.next_due();
      next = &climate;
    }
    if (next != nullptr) {
      run_outlook(*next);
    } else if (next_look < now) {
      look(next_look);
      looked_at_ = next_look;
    } else {
      break;
    }
  }
  for (PlaceClimate& climate : places_)
    climate.forget_before(now - kRecentSpan);
  sensing_.forget_before(now - kRecentSpan);
}

void App::run_outlook(PlaceClimate& climate) {
  states_changed_[place_numbers_.at(climate.place().id)] = true;
  changed_ = true;
  if (const auto event = climate.run_next(changes_)) observe_(climate.place(), *event);
}

void App::look(Instant at) {
  keeper_.look(situation_at(at), changes_);
  if (keeper_.take_urgency()) changed_ = urgent_ = true;
}

Situation App::situation_at(Instant at) const {
  Situation situation{.now = at,
                      .zone = zone_,
                      .units = garden_.units,
                      .advice = garden_.advice,
                      .places = {},
                      .sensors = {}};
  const auto night = tonight_at(at);
  situation.places.reserve(places_.size());
  for (const PlaceClimate& climate : places_) {
    const Place& place = climate.place();
    const auto cover = covers_.find(place.id);
    const NoticeRow* told = keeper_.newest("cover", place.id);
    const bool tonight = told != nullptr && night && told->raised_at >= night->afternoon;
    situation.places.push_back(
        {.place = &place,
         .recents = &climate.recents(),
         .nights = climate.nights(),
         .night = night,
         .tonight = climate.tonight(),
         .cover_layers = cover == covers_.end() ? 0 : cover->second,
         .cover_notice = tonight ? told : nullptr});
  }
  situation.sensors = sensing_.views(at);
  season_.describe(situation);
  return situation;
}

std::optional<NightSpan> App::tonight_at(Instant at) const {
  if (night_ && at >= night_->from && at < night_->to) return night_->night;
  const auto night = night_at(at, garden_.position);
  if (!night) {
    night_ = CachedNight{std::nullopt, at, at + kLookEvery};
    return std::nullopt;
  }
  const NightSpan span{.afternoon = whole_second(time_of(Moment::kAfternoon, *night)),
                       .sunset = whole_second(night->sunset),
                       .sunrise = whole_second(night->sunrise)};
  night_ = CachedNight{span, at, whole_second(end_of(*night))};
  return span;
}

Instant App::time_told_by(const Arrival& arrival) const {
  return std::max(now_.value_or(Instant{}),
                  sensing_.believable_time(arrival, now_).value_or(Instant{}));
}

void App::handle(const Arrival& arrival) {
  taken_sequence_ = std::max(taken_sequence_, arrival.sequence);
  changed_ = true;
  sensing_.take(arrival, *now_, changes_);
  bound_memory();
}

void App::handle(const Dropped& dropped) {
  changed_ = true;
  sensing_.take(dropped, *now_, changes_);
}

void App::handle(const Tick&) {}

void App::handle(const Stop&) {
  changed_ = urgent_ = true;
}

void App::handle(const ActionRow& action) {
  last_action_ = std::max(last_action_, action.id);
  changed_ = urgent_ = true;
  if (action.verb == "cover" || action.verb == "uncover") {
    if (!place_numbers_.contains(action.place)) return;
    const int layers = action.verb == "cover" ? action.layers : 0;
    set_cover(action.place, layers, std::min(action.at, *now_));
    keeper_.covered(action.place, layers, *now_, changes_);
  } else if (action.verb == "done") {
    const NoticeRow* notice = keeper_.mark_done(action.notice, *now_, changes_);
    // Who did what a cover notice asks has put on what it asks for.
    if (notice != nullptr && notice->layers > covers_[notice->place]) {
      set_cover(notice->place, notice->layers, std::min(action.at, *now_));
    }
  } else {
    sensing_.take(action, *now_, changes_);
    season_.take(action, *now_, changes_);
  }
}

void App::set_cover(const std::string& place, int layers, Instant since) {
  covers_[place] = layers;
  changes_.covers.push_back({.place = place, .since = since, .layers = layers});
}

void App::handle(const Delivered& delivered) {
  keeper_.delivered(delivered, *now_, changes_);
  changed_ = urgent_ = true;
}

// While the store cannot take any, the newest readings are worth more than the oldest.
void App::bound_memory() {
  const auto let_go = [this](auto& rows, std::string_view of_what) {
    if (rows.size() < kMost) return;
    log_(LogLevel::kError,
         fmt::format("the store has taken nothing for long: the oldest {} {} that wait "
                     "for it are let go",
                     kMost / 2, of_what));
    rows.erase(rows.begin(), rows.begin() + kMost / 2);
  };
  let_go(changes_.readings, "readings");
  let_go(changes_.doubtful, "doubtful readings");
}

bool App::wants_commit() const {
  return urgent_ || season_.is_stale() || changes_.readings.size() >= kComfortable;
}

void App::commit() {
  if (!now_) return;
  for (std::size_t i = 0; i < places_.size(); ++i) {
    if (states_changed_[i]) places_[i].save_state(changes_);
  }
  note_keep_above();
  changes_.now = *now_;
  changes_.marks[kMarkNow] = seconds_of(*now_);
  changes_.marks[kMarkLookedAt] = seconds_of(*looked_at_);
  changes_.marks[kMarkAction] = last_action_;
  changes_.marks[kMarkSequence] = static_cast<std::int64_t>(taken_sequence_);
  store_.commit(changes_);
  changes_ = {};
  std::fill(states_changed_.begin(), states_changed_.end(), false);
  changed_ = urgent_ = false;
  committed_sequence_ = taken_sequence_;
  if (season_.is_stale()) season_.refresh(store_);
}

// What the terminal is to know of the places' keep-above.
void App::note_keep_above() {
  const std::vector<KeepAbove> all = season_.keep_aboves(*now_);
  for (std::size_t i = 0; i < all.size(); ++i) {
    const auto& limit = all[i].limit;
    const std::int64_t value = limit ? to_milli(limit->degrees) : kNoKeepAbove;
    const std::string name = kMarkKeepAbove + garden_.places[i].id;
    const auto known = keep_above_marks_.find(name);
    if (known != keep_above_marks_.end() && known->second == value) continue;
    keep_above_marks_[name] = changes_.marks[name] = value;
  }
}

std::vector<std::pair<OutboxRow, NoticeRow>> App::take_due_deliveries() {
  if (!now_) return {};
  return keeper_.take_due(*now_);
}

}  // namespace rimeward
