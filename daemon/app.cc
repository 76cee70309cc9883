#include "daemon/app.h"

#include <algorithm>
#include <chrono>
#include <utility>
#include <variant>

#include <fmt/format.h>

#include "daemon/notice/action_json.h"
#include "daemon/notice/notice_kinds.h"
#include "daemon/store/marks.h"
#include "daemon/store/mute_word.h"
#include "sensors/escape.h"

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
// A place that was not heard for so long may soon need another to stand in for it.
constexpr auto kStandInAfter = 25min;
constexpr std::chrono::days kOpeningKept{14};

std::int64_t seconds_of(Instant at) {
  return at.time_since_epoch().count();
}

std::optional<Instant> time_in(const Store& store, const char* mark) {
  const auto value = store.mark(mark);
  return value ? std::optional(Instant{std::chrono::seconds{*value}}) : std::nullopt;
}

std::vector<PlaceClimate> places_of(const Garden& garden,
                                    const std::optional<Prior>& prior, const Store& store,
                                    std::optional<Instant> now) {
  std::vector<PlaceClimate> places;
  places.reserve(garden.places.size());
  for (const Place& place : garden.places) {
    const Prior& shipped = is_covered(place.kind) ? covered_prior() : open_air_prior();
    places.emplace_back(garden, place, prior ? *prior : shipped, store, now);
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
      wording_(garden.language, garden.units, zone),
      store_(store),
      clock_(options.clock),
      log_(std::move(options.log)),
      observe_(std::move(options.observe)),
      places_(places_of(garden, options.prior, store, time_in(store, kMarkNow))),
      season_(garden, store, log_),
      sensing_(garden, places_, season_, store, time_in(store, kMarkNow), clock_, log_),
      keeper_(garden, zone, store, log_),
      letters_(garden, zone, wording_, store),
      now_(time_in(store, kMarkNow)) {
  store_.set_days(DayGrid(zone, garden.day_starts));
  looked_at_ = time_in(store, kMarkLookedAt);
  last_action_ = store_.mark(kMarkAction).value_or(0);
  committed_sequence_ =
      static_cast<std::uint64_t>(store_.mark(kMarkSequence).value_or(0));
  taken_sequence_ = committed_sequence_;
  for (std::size_t i = 0; i < places_.size(); ++i)
    place_numbers_[garden.places[i].id] = i;
  states_changed_.resize(places_.size());
  for (const Place& place : garden.places) {
    const std::string name = kMarkKeepAbove + place.id;
    if (const auto mark = store_.mark(name)) keep_above_marks_[name] = *mark;
  }
  for (OpeningRow& row : store_.openings())
    openings_.emplace(row.place, std::move(row));
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
    const auto due = next_outlook();
    if (due && *due < std::min(now, next_look)) {
      run_outlooks(*due);
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

std::optional<SunTime> App::next_outlook() const {
  std::optional<SunTime> next;
  for (const PlaceClimate& climate : places_) {
    const auto due = climate.next_due();
    if (due && (!next || *due < *next)) next = due;
  }
  return next;
}

// All places under one sun have their moments together: where one has nothing to say,
// another can stand in, and once their nights have ended they can be compared.
void App::run_outlooks(SunTime due) {
  std::vector<std::size_t> mute;
  std::vector<std::size_t> ended;
  for (std::size_t i = 0; i < places_.size(); ++i) {
    if (places_[i].next_due() != due) continue;
    states_changed_[i] = changed_ = true;
    const auto event = places_[i].run_next(changes_);
    if (!event) {
      mute.push_back(i);
      continue;
    }
    if (std::holds_alternative<NightEnded>(*event)) ended.push_back(i);
    observe_(places_[i].place(), *event);
  }
  for (const std::size_t i : mute)
    stand_in(i, due);
  compare_nights(ended);
}

// The place that differs most steadily from it says what it can.
void App::stand_in(std::size_t number, SunTime due) {
  PlaceClimate& climate = places_[number];
  const OutlookRow* best = nullptr;
  std::optional<Kelvins> least;
  for (const PlaceClimate& other : places_) {
    const auto& tonight = other.outlook().tonight();
    const auto difference = climate.outlook().differences().to(other.place().id);
    if (tonight.empty() || !difference || !tonight.back().rests_on.empty() ||
        tonight.back().issued_at != whole_second(due)) {
      continue;
    }
    if (least && *least <= difference->spread) continue;
    least = difference->spread;
    best = &tonight.back();
  }
  if (best == nullptr) return;
  if (const auto issued = climate.stand_in(*best, changes_)) {
    observe_(climate.place(), *issued);
  }
}

void App::compare_nights(std::span<const std::size_t> ended) {
  for (const std::size_t i : ended) {
    std::vector<const PlaceOutlook*> others;
    for (const std::size_t other : ended) {
      if (other != i) others.push_back(&places_[other].outlook());
    }
    places_[i].compare(others);
  }
}

void App::look(Instant at) {
  keeper_.look(situation_at(at), changes_);
  letters_.look(at, changes_);
  if (keeper_.take_urgency()) changed_ = urgent_ = true;
}

Situation App::situation_at(Instant at) const {
  Situation situation{.now = at,
                      .wording = wording_,
                      .zone = zone_,
                      .hours = garden_.hours,
                      .advice = garden_.advice,
                      .day = day_at(at),
                      .places = {},
                      .sensors = {}};
  situation.places.reserve(places_.size());
  for (const PlaceClimate& climate : places_)
    situation.places.push_back(view_of(climate, at));
  situation.sensors = sensing_.views(at);
  situation.routes = keeper_.failing_routes();
  situation.store_file = garden_.store.file;
  situation.store_trouble = store_trouble_;
  season_.describe(situation);
  return situation;
}

PlaceView App::view_of(const PlaceClimate& climate, Instant at) const {
  const auto night = tonight_at(at);
  const PlaceOutlook& outlook = climate.outlook();
  const NoticeRow* told = keeper_.newest("cover", climate.place().id);
  const bool tonight = told != nullptr && night && told->raised_at >= night->afternoon;
  return {.place = &climate.place(),
          .recents = &climate.recents(),
          .mornings = &outlook.mornings(),
          .nights = outlook.nights(),
          .night = night,
          .tonight = outlook.tonight(),
          .course = climate.course(at),
          .lowest = climate.lowest_since_sunset(at),
          .lifts = &outlook.lifts(),
          .cover_layers = climate.cover_layers(),
          .opening = opening_of(climate.place().id, at),
          .stand_in = stand_in_for(climate, at),
          .cover_notice = tonight ? told : nullptr};
}

// What was said longer ago tells nothing: whoever writes down no more opens all the same.
std::optional<OpeningRow> App::opening_of(const std::string& place, Instant at) const {
  const auto found = openings_.find(place);
  if (found == openings_.end() || at - found->second.since > kOpeningKept) {
    return std::nullopt;
  }
  return found->second;
}

// The place that differs most steadily from one which has not been heard for a while.
std::optional<StandIn> App::stand_in_for(const PlaceClimate& climate, Instant at) const {
  if (climate.recents().air.newest_at_or_before(at, kStandInAfter)) return std::nullopt;
  std::optional<StandIn> best;
  std::optional<Kelvins> least;
  for (const PlaceClimate& other : places_) {
    const auto difference = climate.outlook().differences().to(other.place().id);
    if (!difference || !other.recents().air.newest_at_or_before(at, kFreshAir)) continue;
    if (least && *least <= difference->spread) continue;
    least = difference->spread;
    best = StandIn{&other.place(), &other.recents(), difference->mean};
  }
  return best;
}

std::optional<DaySpan> App::day_at(Instant at) const {
  const std::int64_t number = solar_day(at, garden_.position);
  if (day_ && day_->solar_day == number) return day_->day;
  day_ = CachedDay{number, std::nullopt};
  if (const auto sun = sun_events(number, garden_.position)) {
    day_->day = DaySpan{.sunrise = whole_second(sun->sunrise),
                        .noon = whole_second(sun->noon),
                        .sunset = whole_second(sun->sunset)};
  }
  return day_->day;
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
  const std::string& commands = garden_.broker.command_topic;
  if (!commands.empty() && arrival.topic == commands) return take_command(arrival);
  sensing_.take(arrival, *now_, changes_);
  bound_memory();
}

void App::take_command(const Arrival& arrival) {
  const auto refused = [&](const std::string& why) {
    log_(LogLevel::kWarning, fmt::format("command on \"{}\" not taken: {}",
                                         escaped(arrival.topic, 120), why));
  };
  // It would be done again at each new connection.
  if (arrival.retained) return refused("it is retained; publish it without");
  const auto action = action_from_json(arrival.payload, garden_, *now_, Told::kByMessage);
  if (!action) return refused(action.error().message);
  urgent_ = true;
  obey(*action);
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
  obey(action);
}

void App::obey(const ActionRow& action) {
  const Instant since = std::min(action.at, *now_);
  if (action.verb == "done") return mark_done(action);
  if (action.verb == "mute") return mute(action);
  if (action.verb == "import") {
    // Else it has only begun, and its end asks for it.
    if (action.detail.empty()) start_over_ = true;
    return;
  }
  if (action.verb == "cover") {
    set_cover(action.place, action.layers, since);
  } else if (action.verb == "uncover") {
    set_cover(action.place, 0, since);
  } else if (action.verb == "open" || action.verb == "shut") {
    set_opening(action.place, action.verb == "open", since);
  } else {
    sensing_.take(action, *now_, changes_);
    season_.take(action, *now_, changes_);
  }
  keeper_.answered(action.verb, action.place, action.layers, *now_, changes_);
}

void App::set_cover(const std::string& place, int layers, Instant since) {
  const auto number = place_numbers_.find(place);
  if (number == place_numbers_.end()) return;
  places_[number->second].set_cover(layers, since, changes_);
}

void App::set_opening(const std::string& place, bool open, Instant since) {
  if (!place_numbers_.contains(place)) return;
  // What is said later holds later, whatever the clock that dated it.
  OpeningRow& row = openings_[place];
  row = {.place = place, .since = std::max(since, row.since), .open = open};
  changes_.openings.push_back(row);
}

// Who did what a notice asks has done it: the fleece is on, or off, the place open or
// shut.
void App::mark_done(const ActionRow& action) {
  const NoticeRow* notice = keeper_.mark_done(action.notice, *now_, changes_);
  if (notice == nullptr || !place_numbers_.contains(notice->place)) return;
  const Instant since = std::min(action.at, *now_);
  const PlaceClimate& climate = places_[place_numbers_.at(notice->place)];
  if (notice->layers > climate.cover_layers()) {
    set_cover(notice->place, notice->layers, since);
  } else if (notice->kind == "uncover") {
    set_cover(notice->place, 0, since);
  } else if (notice->kind == "vent" || notice->kind == "shut") {
    set_opening(notice->place, notice->kind == "vent", since);
  }
}

void App::mute(const ActionRow& action) {
  if (const auto mute = mute_of(action)) keeper_.mute(*mute, *now_, changes_);
}

void App::handle(const Delivered& delivered) {
  keeper_.delivered(delivered, *now_, changes_);
  changed_ = urgent_ = true;
}

// It changes nothing that is stored; what follows is for the next look at the rules.
void App::handle(const StoreState& state) {
  if (state.trouble) {
    store_trouble_ = state.trouble;
  } else if (store_trouble_ && !store_trouble_->over_at) {
    store_trouble_->over_at = *now_;
    store_trouble_->lost_some = std::exchange(has_let_go_, false);
  }
}

bool App::tells_of_store() const {
  const NoticeRow* notice = keeper_.newest(kStore, kWholeGarden);
  return notice != nullptr && is_open(notice->state);
}

// While the store cannot take any, the newest readings are worth more than the oldest.
void App::bound_memory() {
  const auto let_go = [this](auto& rows, std::string_view of_what) {
    if (rows.size() < kMost) return;
    log_(LogLevel::kError,
         fmt::format("the store has taken nothing for long: the oldest {} {} that wait "
                     "for it are let go",
                     kMost / 2, of_what));
    has_let_go_ = true;
    rows.erase(rows.begin(), rows.begin() + kMost / 2);
  };
  let_go(changes_.readings, "readings");
  let_go(changes_.doubtful, "doubtful readings");
}

bool App::wants_commit() const {
  return urgent_ || season_.is_stale() || letters_.is_due() ||
         changes_.readings.size() >= kComfortable;
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
  if (letters_.is_due()) write_letters();
}

void App::write_letters() {
  for (WrittenLetter& letter : letters_.write(store_, *now_, changes_)) {
    keeper_.announce(letter.kind, std::move(letter.title), std::move(letter.body),
                     letter.ends_at, letter.at, changes_);
  }
  changed_ = urgent_ = true;
}

std::vector<KeepAbove> App::keep_aboves() const {
  return season_.keep_aboves(now_.value_or(Instant{}));
}

// What the terminal is to know of the places' keep-above.
void App::note_keep_above() {
  const std::vector<KeepAbove> all = keep_aboves();
  for (std::size_t i = 0; i < all.size(); ++i) {
    const auto& limit = all[i].limit;
    const std::int64_t value = limit ? to_milli(limit->degrees) : kNoKeepAbove;
    const std::string name = kMarkKeepAbove + garden_.places[i].id;
    const auto known = keep_above_marks_.find(name);
    if (known != keep_above_marks_.end() && known->second == value) continue;
    keep_above_marks_[name] = changes_.marks[name] = value;
  }
}

std::vector<Parcel> App::take_due_deliveries() {
  if (!now_) return {};
  return keeper_.take_due(*now_);
}

}  // namespace rimeward
