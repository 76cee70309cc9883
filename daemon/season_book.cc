#include "daemon/season_book.h"

#include <algorithm>
#include <chrono>
#include <cmath>

#include "daemon/climate/degree_days.h"
#include "daemon/climate/evaporation.h"
#include "daemon/store/batch_json.h"
#include "daemon/store/place_hours.h"
#include "daemon/store/stays.h"

namespace rimeward {
namespace {

using std::chrono::hours;
using std::chrono::sys_days;

constexpr Instant kForEver = sys_days{std::chrono::year{9999} / 12 / 31};

// What is reckoned from an hour also wants the one that it may be bridged from.
Instant reaching_back(Instant from) {
  return std::chrono::floor<hours>(from) - HourBook::kBridged - hours{1};
}

HourWorth warmth_for(const CropStage& stage) {
  const WarmthLimits limits{.base = stage.base, .upper = stage.upper};
  return [limits](const HourMeans& means) -> std::optional<std::int64_t> {
    if (!means.air) return std::nullopt;
    return degree_hours(*means.air, limits);
  };
}

std::optional<std::int64_t> drying_of(const HourMeans& means) {
  if (!means.air || !means.humidity) return std::nullopt;
  return drying_demand_of_hour(*means.air, *means.humidity);
}

// As StageView::warmth counts.
std::int64_t warmth_wanted(const CropStage& stage) {
  return std::llround(stage.heat_sum * 24'000);
}

}  // namespace

SeasonBook::SeasonBook(const Garden& garden, const Store& store, LogSink log)
    : garden_(garden), log_(std::move(log)), places_(garden.places.size()) {
  for (const Sensor& sensor : garden.sensors) {
    place_of_sensor_.push_back(number_of(sensor.place).value());
  }
  for (BatchRow& row : store.batches()) {
    const Crop* crop = garden.crops.find(row.crop);
    const std::string id = row.id;
    batches_[id] = {.row = std::move(row), .stays = {}, .crop = crop};
  }
  for (const StayRow& row : store.stays()) {
    const auto batch = batches_.find(row.batch);
    if (batch != batches_.end()) batch->second.stays.push_back(row);
  }
  for (const WateringRow& row : store.waterings()) {
    if (const auto place = number_of(row.place)) places_[*place].watered = row;
  }
  for (const SeriesRow& row : store.all_series()) {
    const auto sensor = std::ranges::find(garden.sensors, row.sensor, &Sensor::id);
    if (row.channel != Channel::kSoilMoisture || sensor == garden.sensors.end()) continue;
    const auto latest = store.latest(row.id);
    if (!latest || sensor->place != row.place) continue;
    add(hour_rank(garden, row.sensor), row.channel, latest->time, latest->value);
  }
  refresh(store);
}

std::optional<std::size_t> SeasonBook::number_of(std::string_view place) const {
  const auto found = std::ranges::find(garden_.places, place, &Place::id);
  if (found == garden_.places.end()) return std::nullopt;
  return static_cast<std::size_t>(found - garden_.places.begin());
}

void SeasonBook::add(std::size_t sensor, Channel channel, Instant time, Milli value) {
  PlaceBook& place = places_[place_of_sensor_[sensor]];
  if (channel == Channel::kSoilMoisture) {
    SoilMoisture& newest = place.moisture[sensor];
    if (newest.at < time) newest = {.percent = from_milli(value), .at = time};
  }
  place.hours.add(channel, sensor, time, value);
}

void SeasonBook::remove(std::size_t sensor, Channel channel, Instant time, Milli value) {
  places_[place_of_sensor_[sensor]].hours.remove(channel, sensor, time, value);
}

bool SeasonBook::is_stale() const {
  const auto is_old = [](const PlaceBook& place) { return place.hours.is_stale(); };
  const auto waits = [this](const auto& one) { return waits_for_stage(one.second); };
  return is_stale_ || std::ranges::any_of(places_, is_old) ||
         std::ranges::any_of(batches_, waits);
}

void SeasonBook::refresh(const Store& store) {
  std::optional<Instant> newest;
  for (const SeriesRow& row : store.all_series()) {
    if (const auto latest = store.latest(row.id))
      newest = std::max(newest, {latest->time});
  }
  std::vector<HourBook> books =
      all_place_hours(store, garden_, wanted_from(newest), kForEver);
  for (std::size_t i = 0; i < places_.size(); ++i) {
    places_[i].hours = std::move(books[i]);
    follow_dryness(i);
  }
  for (auto& [id, batch] : batches_)
    follow(batch);
  for (PlaceBook& place : places_)
    place.hours.forget_old();
  is_stale_ = false;
}

// Only of the places where it matters: a year of all would take the board's memory.
std::vector<Instant> SeasonBook::wanted_from(std::optional<Instant> newest) const {
  std::vector<Instant> from(places_.size(),
                            newest ? *newest - HourBook::kKept : kForEver);
  for (const auto& [id, batch] : batches_) {
    if (batch.row.finished) continue;
    for (const StayRow& stay : batch.stays) {
      if (const auto place = number_of(stay.place)) {
        from[*place] = std::min(from[*place], stay.since);
      }
    }
  }
  for (std::size_t i = 0; i < places_.size(); ++i) {
    if (places_[i].watered) from[i] = std::min(from[i], places_[i].watered->at);
    from[i] = reaching_back(from[i]);
  }
  return from;
}

void SeasonBook::follow(Batch& batch) {
  batch.stages.clear();
  if (batch.crop == nullptr || batch.row.finished) return;
  for (const CropStage& stage : batch.crop->stages) {
    const auto from = begin_of(batch, stage);
    batch.stages.push_back(from ? follow(batch, stage, *from) : Parts{});
  }
}

SeasonBook::Parts SeasonBook::follow(const Batch& batch, const CropStage& stage,
                                     Instant from) {
  Parts parts;
  for (std::size_t i = 0; i < batch.stays.size(); ++i) {
    const auto place = number_of(batch.stays[i].place);
    if (!place) continue;
    const bool is_last = i + 1 == batch.stays.size();
    const Instant to = is_last ? kForEver : batch.stays[i + 1].since;
    const Instant since = std::max(from, batch.stays[i].since);
    parts.emplace_back(*place,
                       places_[*place].hours.follow(since, to, warmth_for(stage)));
  }
  return parts;
}

// When the stage that it is counted from was reached; the sowing, where that is none.
// REQUIRES: the books hold all hours since then.
std::optional<Instant> SeasonBook::begin_of(const Batch& batch,
                                            const CropStage& stage) const {
  const auto earlier =
      std::ranges::find(batch.crop->stages, stage.after, &CropStage::name);
  if (stage.after.empty() || earlier == batch.crop->stages.end()) {
    return batch.stays.front().since;
  }
  const auto from = begin_of(batch, *earlier);
  const HourWorth worth = warmth_for(*earlier);
  std::int64_t amount = 0;
  for (std::size_t i = 0; from && i < batch.stays.size(); ++i) {
    const auto place = number_of(batch.stays[i].place);
    if (!place) continue;
    const HourBook& book = places_[*place].hours;
    const auto newest = book.newest(Channel::kAirTemperature);
    if (!newest) continue;
    Instant to = *newest + hours{1};
    if (i + 1 < batch.stays.size()) to = std::min(to, batch.stays[i + 1].since);
    const Instant since = std::max(*from, batch.stays[i].since);
    for (Instant hour = std::chrono::ceil<hours>(since); hour < to; hour += hours{1}) {
      amount += worth(book.means(hour)).value_or(0);
      if (amount >= warmth_wanted(*earlier)) return hour + hours{1};
    }
  }
  return std::nullopt;
}

bool SeasonBook::has_reached(const Batch& batch, std::string_view stage) const {
  for (std::size_t i = 0; i < batch.stages.size(); ++i) {
    const CropStage& one = batch.crop->stages[i];
    if (one.name == stage) {
      return warmth_of(batch.stages[i]).amount >= warmth_wanted(one);
    }
  }
  return false;
}

// True: a stage that another is counted from has been reached since sums were made.
bool SeasonBook::waits_for_stage(const Batch& batch) const {
  for (std::size_t i = 0; i < batch.stages.size(); ++i) {
    const CropStage& stage = batch.crop->stages[i];
    const bool has_begun = !batch.stages[i].empty();
    if (!has_begun && has_reached(batch, stage.after)) return true;
  }
  return false;
}

Sum SeasonBook::warmth_of(const Parts& parts) const {
  Sum sum;
  for (const auto& [place, number] : parts) {
    const Sum part = places_[place].hours.followed(number);
    sum.amount += part.amount;
    sum.hours += part.hours;
  }
  return sum;
}

void SeasonBook::follow_dryness(std::size_t place) {
  PlaceBook& book = places_[place];
  book.dryness.reset();
  if (!book.watered) return;
  book.dryness = book.hours.follow(book.watered->at, kForEver, &drying_of);
}

void SeasonBook::take(const ActionRow& action, Instant now, Changes& changes) {
  if (action.verb == "water") {
    const auto place = number_of(action.place);
    if (!place) return;
    const WateringRow row{.place = action.place, .at = std::min(action.at, now)};
    changes.waterings.push_back(row);
    PlaceBook& book = places_[*place];
    if (book.watered && row.at < book.watered->at) return;
    book.watered = row;
    book.dryness.reset();
    is_stale_ = true;
    return;
  }
  if (action.verb != "sow" && action.verb != "move" && action.verb != "finish") return;
  const auto word = batch_from_json(action.detail);
  if (!word) {
    return log_(LogLevel::kError,
                "what was said of a batch was not taken: " + word.error().message);
  }
  if (action.verb == "sow") return sow(*word, now, changes);
  const auto batch = batches_.find(word->batch.id);
  if (batch == batches_.end() || batch->second.row.finished) {
    return log_(LogLevel::kWarning, "no batch \"" + word->batch.id + "\" stands: its " +
                                        action.verb + " was not taken");
  }
  if (action.verb == "move") {
    move(*word, changes);
  } else {
    finish(*word, changes);
  }
}

void SeasonBook::sow(const BatchWord& word, Instant now, Changes& changes) {
  if (batches_.contains(word.batch.id) || !number_of(word.place)) {
    return log_(LogLevel::kWarning, "the batch \"" + word.batch.id +
                                        "\" was not taken: its id is taken, or its place "
                                        "is none of the garden's");
  }
  Batch& batch = batches_[word.batch.id];
  batch.row = word.batch;
  batch.crop = garden_.crops.find(word.batch.crop);
  changes.batches[batch.row.id] = batch.row;
  stay(batch, {batch.row.id, word.since.value_or(now), word.place}, changes);
}

void SeasonBook::move(const BatchWord& word, Changes& changes) {
  Batch& batch = batches_.at(word.batch.id);
  if (!number_of(word.place) || !word.since) return;
  if (!batch.stays.empty() && *word.since <= batch.stays.back().since) {
    return log_(LogLevel::kWarning, "the move of the batch \"" + word.batch.id +
                                        "\" was not taken: it lies before the last one");
  }
  batch.row.next_place = word.batch.next_place;
  changes.batches[batch.row.id] = batch.row;
  stay(batch, {batch.row.id, *word.since, word.place}, changes);
}

void SeasonBook::stay(Batch& batch, const StayRow& row, Changes& changes) {
  batch.stays.push_back(row);
  batch.stages.clear();
  changes.stays.push_back(row);
  is_stale_ = true;
}

void SeasonBook::finish(const BatchWord& word, Changes& changes) {
  Batch& batch = batches_.at(word.batch.id);
  batch.row.finished = word.batch.finished;
  batch.stages.clear();
  changes.batches[batch.row.id] = batch.row;
  is_stale_ = true;
}

void SeasonBook::describe(Situation& situation) const {
  const std::vector<KeepAbove> limits = keep_aboves(situation.now);
  for (std::size_t i = 0; i < places_.size(); ++i) {
    const PlaceBook& book = places_[i];
    PlaceView& view = situation.places[i];
    view.keep_above = limits[i].limit;
    view.hours = &book.hours;
    if (!book.moisture.empty()) view.soil_moisture = book.moisture.begin()->second;
    if (!book.dryness) continue;
    view.dryness =
        Dryness{.since = book.watered->at, .demand = book.hours.followed(*book.dryness)};
  }
  for (const auto& [id, batch] : batches_) {
    if (auto view = view_of(batch, situation.now)) {
      situation.batches.push_back(std::move(*view));
    }
  }
}

std::optional<BatchView> SeasonBook::view_of(const Batch& batch, Instant now) const {
  if (batch.row.finished || batch.crop == nullptr || batch.stays.empty()) {
    return std::nullopt;
  }
  const auto place = number_of(batch.stays.back().place);
  if (!place) return std::nullopt;
  const auto next = number_of(batch.row.next_place);
  BatchView view{.row = &batch.row,
                 .crop = batch.crop,
                 .place = &garden_.places[*place],
                 .since = batch.stays.back().since,
                 .next = next ? &garden_.places[*next] : nullptr,
                 .hardening = hardening_of(*batch.crop, batch.stays, garden_, now)};
  for (std::size_t i = 0; i < batch.stages.size(); ++i) {
    view.stages.push_back(
        {.stage = &batch.crop->stages[i], .warmth = warmth_of(batch.stages[i])});
  }
  return view;
}

std::vector<KeepAbove> SeasonBook::keep_aboves(Instant now) const {
  std::vector<std::vector<Tenant>> tenants(places_.size());
  for (const auto& [id, batch] : batches_) {
    if (batch.row.finished || batch.crop == nullptr || batch.stays.empty()) continue;
    const auto place = number_of(batch.stays.back().place);
    if (!place) continue;
    tenants[*place].push_back(
        {id, batch.crop, hardening_of(*batch.crop, batch.stays, garden_, now)});
  }
  std::vector<KeepAbove> limits;
  for (std::size_t i = 0; i < places_.size(); ++i) {
    limits.push_back(keep_above_of(garden_.places[i], tenants[i]));
  }
  return limits;
}

}  // namespace rimeward
