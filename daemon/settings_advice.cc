#include "daemon/settings_advice.h"

#include <chrono>
#include <string_view>

#include <fmt/format.h>

#include "daemon/settings_parts.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// Drier air than this is damp to nobody.
constexpr Range kHumidities{50, 100};
// Where the fungi grow at all; a value in degrees Fahrenheit is beyond it.
constexpr Range kTemperatures{0, 40};
constexpr DurationRange kSpans{1h, 24h};
// In kPa h: a dull winter day brings about 1, a month of heat 1000.
constexpr Range kDemands{1, 1000};
constexpr Range kPercents{0, 100};

void read_temperature(Keys& keys, std::string_view key, Celsius& temperature) {
  if (const auto found = keys.number(key, kTemperatures)) temperature = Celsius{*found};
}

void read_humidity(Keys& keys, RelativeHumidity& humidity) {
  if (const auto found = keys.number("humidity", kHumidities)) {
    humidity = RelativeHumidity{*found};
  }
}

// Air is known by the hour, so that half hours would mean nothing.
void read_hours(Keys& keys, std::chrono::hours& span) {
  const auto found = keys.duration("for", kSpans);
  if (!found) return;
  span = std::chrono::floor<std::chrono::hours>(*found);
  if (span != *found) keys.mistake("for", "is no number of whole hours; write \"6 h\"");
}

void read_demand(Keys& keys, std::string_view key, KilopascalHours& demand) {
  if (const auto found = keys.number(key, kDemands)) demand = KilopascalHours{*found};
}

void read_damp(Keys keys, DampLimits& damp) {
  read_humidity(keys, damp.humidity);
  read_temperature(keys, "warmer_than", damp.warmer_than);
  read_temperature(keys, "cooler_than", damp.cooler_than);
  if (damp.cooler_than <= damp.warmer_than) {
    keys.mistake(keys.has("cooler_than") ? "cooler_than" : "warmer_than",
                 fmt::format("cooler_than, {}, is not above warmer_than, {}; raise "
                             "cooler_than or lower warmer_than",
                             damp.cooler_than.degrees, damp.warmer_than.degrees));
  }
  read_hours(keys, damp.for_hours);
  keys.refuse_unread();
}

void read_blight(Keys keys, BlightLimits& blight) {
  read_temperature(keys, "low", blight.low);
  read_humidity(keys, blight.humidity);
  read_hours(keys, blight.for_hours);
  keys.refuse_unread();
}

void read_dry(Keys keys, DryLimits& dry) {
  read_demand(keys, "covered", dry.covered);
  read_demand(keys, "open", dry.open);
  keys.refuse_unread();
}

}  // namespace

void read_advice(Keys& file, Advice& advice) {
  read_damp(file.table("damp"), advice.damp);
  read_blight(file.table("blight"), advice.blight);
  read_dry(file.table("dry"), advice.dry);
}

void read_water_marks(Keys& place_keys, Place& place) {
  if (const auto found = place_keys.number("dry_after", kDemands)) {
    place.dry_after = KilopascalHours{*found};
  }
  if (const auto found = place_keys.number("soil_moisture_low", kPercents)) {
    place.soil_moisture_low = *found;
  }
}

}  // namespace rimeward
