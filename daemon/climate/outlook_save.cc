// NightOutlook's state as JSON: numbers in the shortest form that reads back as the same
// double.

#include <algorithm>
#include <array>
#include <cstdint>
#include <string>
#include <string_view>
#include <tuple>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/climate/outlook.h"
#include "daemon/climate/saved_json.h"

namespace rimeward {
namespace {

using Json = nlohmann::json;

// Bounds the seconds and days that are read: sums of them cannot overflow.
constexpr std::int64_t kBeyondAllTimes = 1'000'000'000'000;

constexpr int kVersion = 1;  // of the text; restore() refuses another

Json as_json(std::optional<Celsius> temperature) {
  return temperature ? Json(temperature->degrees) : Json(nullptr);
}

double number(const Json& json) {
  if (!json.is_number()) unsound("expected a number");
  return json.get<double>();
}

std::optional<Celsius> temperature(const Json& json) {
  if (json.is_null()) return std::nullopt;
  return Celsius{number(json)};
}

Json as_json(SunTime time) {
  return time.time_since_epoch().count();
}

SunTime sun_time(const Json& json) {
  return SunTime{std::chrono::duration<double>{number(json)}};
}

// Texts from before the pressure was looked at have `earlier_size` numbers: the rest are
// 0.
template <std::size_t kSize>
std::array<double, kSize> numbers(const Json& json, std::size_t earlier_size) {
  if (!json.is_array() || (json.size() != kSize && json.size() != earlier_size))
    unsound("a list has the wrong length");
  std::array<double, kSize> values{};
  for (std::size_t i = 0; i < json.size(); ++i)
    values.at(i) = number(json[i]);
  return values;
}

FeatureArray feature_numbers(const Json& json) {
  return numbers<kMostFeatures>(json, kMostFeatures - kPressureFeatures);
}

Json as_json(const Learned& learned) {
  return {{"precision", learned.precision},
          {"information", learned.information},
          {"coefficients", learned.coefficients},
          {"variance", learned.variance},
          {"weight", learned.weight},
          {"stretch_below", learned.stretch_below},
          {"stretch_above", learned.stretch_above}};
}

Learned learned_from(const Json& json) {
  Learned learned;
  learned.precision = numbers<std::tuple_size_v<decltype(Learned::precision)>>(
      json.at("precision"), packed_size(kMostFeatures - kPressureFeatures));
  learned.information = feature_numbers(json.at("information"));
  learned.coefficients = feature_numbers(json.at("coefficients"));
  learned.variance = number(json.at("variance"));
  learned.weight = number(json.at("weight"));
  learned.stretch_below = number(json.at("stretch_below"));
  learned.stretch_above = number(json.at("stretch_above"));
  return learned;
}

Json as_json(const Outlook& outlook) {
  return {{"solar_day", outlook.solar_day},
          {"moment", name_of(outlook.moment)},
          {"issued_at", as_json(outlook.issued_at)},
          {"sunset", as_json(outlook.sunset)},
          {"sunrise", as_json(outlook.sunrise)},
          {"low", outlook.low.degrees},
          {"low10", outlook.low10.degrees},
          {"low90", outlook.low90.degrees},
          {"running_low", as_json(outlook.running_low)},
          {"air", outlook.air.degrees},
          {"dew_point", as_json(outlook.dew_point)},
          {"last_low", as_json(outlook.last_low)},
          {"spread_below", outlook.spread_below.degrees},
          {"spread_above", outlook.spread_above.degrees},
          {"leverage", outlook.leverage},
          {"lows_known", outlook.lows_known},
          {"features", outlook.features}};
}

Moment moment_from(const Json& json) {
  const auto name = json.get<std::string>();
  const auto found = std::ranges::find_if(
      kMoments, [&name](Moment moment) { return name_of(moment) == name; });
  if (found == kMoments.end()) unsound("no such moment");
  return *found;
}

Outlook outlook_from(const Json& json) {
  const auto dew_point = temperature(json.at("dew_point"));
  return {.solar_day = json.at("solar_day").get<std::int64_t>(),
          .moment = moment_from(json.at("moment")),
          .issued_at = sun_time(json.at("issued_at")),
          .sunset = sun_time(json.at("sunset")),
          .sunrise = sun_time(json.at("sunrise")),
          .low = {number(json.at("low"))},
          .low10 = {number(json.at("low10"))},
          .low90 = {number(json.at("low90"))},
          .running_low = temperature(json.at("running_low")),
          .air = {number(json.at("air"))},
          .dew_point = dew_point,
          .last_low = temperature(json.at("last_low")),
          .spread_below = {number(json.at("spread_below"))},
          .spread_above = {number(json.at("spread_above"))},
          .leverage = number(json.at("leverage")),
          .humidity_known = dew_point.has_value(),
          .lows_known = json.value("lows_known", true),
          .features = feature_numbers(json.at("features"))};
}

// What save() wrote, as plain values.
struct Saved {
  std::array<Learned, kMoments.size()> learned;
  std::optional<std::int64_t> first_reading;  // seconds since 1970
  std::optional<std::int64_t> solar_day;
  std::size_t next_event = 0;
  std::optional<Celsius> last_low;
  std::int64_t last_low_day = 0;
  std::optional<Celsius> usual_low;
  std::vector<Outlook> issued;
};

std::optional<std::int64_t> whole_number(const Json& json, const char* key) {
  if (!json.contains(key)) return std::nullopt;
  const auto number = json.at(key).get<std::int64_t>();
  if (number < -kBeyondAllTimes || number > kBeyondAllTimes) unsound("beyond all times");
  return number;
}

std::array<Learned, kMoments.size()> all_learned_from(const Json& json) {
  std::array<Learned, kMoments.size()> all;
  for (const Moment moment : kMoments) {
    all.at(index_of(moment)) = learned_from(json.at(std::string{name_of(moment)}));
  }
  return all;
}

std::vector<Outlook> outlooks_from(const Json& json) {
  std::vector<Outlook> outlooks;
  for (const Json& outlook : json)
    outlooks.push_back(outlook_from(outlook));
  return outlooks;
}

std::size_t event_number(const Json& json) {
  const auto number = json.get<std::size_t>();
  if (number > kMoments.size()) unsound("no such event");
  return number;
}

Saved saved_from(const Json& json) {
  return {.learned = all_learned_from(json.at("learned")),
          .first_reading = whole_number(json, "first_reading"),
          .solar_day = whole_number(json, "solar_day"),
          .next_event = event_number(json.at("next_event")),
          .last_low = temperature(json.at("last_low")),
          .last_low_day = whole_number(json, "last_low_day").value_or(0),
          .usual_low = temperature(json.at("usual_low")),
          .issued = outlooks_from(json.at("issued"))};
}

}  // namespace

std::string NightOutlook::save() const {
  Json json{{"version", kVersion},
            {"next_event", next_event_},
            {"usual_low", as_json(usual_low_)},
            {"issued", Json::array()}};
  for (const Moment moment : kMoments) {
    json["learned"][std::string{name_of(moment)}] =
        as_json(learners_.at(index_of(moment)).learned());
  }
  if (first_reading_) json["first_reading"] = first_reading_->time_since_epoch().count();
  if (plan_) json["solar_day"] = plan_->night.solar_day;
  json["last_low"] = nullptr;
  if (last_low_) {
    json["last_low"] = last_low_->low.degrees;
    json["last_low_day"] = last_low_->solar_day;
  }
  for (const Outlook& outlook : issued_)
    json["issued"].push_back(as_json(outlook));
  return json.dump();
}

Result<NightOutlook> NightOutlook::restore(Position position, const Prior& prior,
                                           std::string_view text) {
  const auto saved = read_saved("outlook", kVersion, text, &saved_from);
  if (!saved) return tl::unexpected(saved.error());
  NightOutlook engine(position, prior);
  for (const Moment moment : kMoments) {
    const std::size_t index = index_of(moment);
    const auto learner =
        Learner::restore(moment, prior.moments.at(index), saved->learned.at(index));
    if (!learner) {
      return refuse(
          fmt::format("saved outlook: what {} learned is not sound", name_of(moment)));
    }
    engine.learners_.at(index) = *learner;
  }
  if (saved->first_reading) {
    engine.first_reading_ = Instant{std::chrono::seconds{*saved->first_reading}};
  }
  if (saved->solar_day) engine.plan_ = plan_from(*saved->solar_day, position);
  engine.next_event_ = saved->next_event;
  if (saved->last_low) {
    engine.last_low_ = DatedLow{*saved->last_low, saved->last_low_day};
  }
  engine.usual_low_ = saved->usual_low;
  engine.issued_ = saved->issued;
  if (!engine.issued_.empty()) engine.current_ = engine.issued_.back();
  return engine;
}

}  // namespace rimeward
