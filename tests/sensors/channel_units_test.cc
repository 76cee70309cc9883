#include "sensors/channel_units.h"

#include <string>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

using enum UnitNotation;

double converted(UnitNotation notation, std::string_view text, double value) {
  const MeasuringUnit* unit = find_unit(notation, text);
  REQUIRE(unit != nullptr);
  const auto result = in_channel_unit(*unit, value);
  REQUIRE(result.has_value());
  return *result;
}

// The channel's name, or "none".
std::string channel(UnitNotation notation, std::string_view text, std::string_view name) {
  const MeasuringUnit* unit = find_unit(notation, text);
  REQUIRE(unit != nullptr);
  const auto found = channel_of(*unit, name);
  return found ? std::string(traits(*found).name) : "none";
}

TEST_CASE("temperatures become degrees Celsius by the fixed points of their scales") {
  // Ice and steam points and where the scales meet: NIST SP 811, appendix B (from
  // memory).
  CHECK(converted(kHomie, "°F", 32) == 0);
  CHECK(converted(kHomie, "°F", 212) == doctest::Approx(100));
  CHECK(converted(kHomie, "°F", -40) == doctest::Approx(-40));
  CHECK(converted(kHomie, "K", 273.15) == 0);
  CHECK(converted(kHomie, "K", 0) == -273.15);
  CHECK(converted(kSenml, "K", 373.15) == doctest::Approx(100));
  CHECK(converted(kSenml, "Cel", -3.5) == -3.5);
}

TEST_CASE("other units become those of the channels") {
  // The standard atmosphere is 101,325 Pa: NIST SP 811, appendix B (from memory).
  CHECK(converted(kSenml, "Pa", 101'325) == doctest::Approx(1013.25));
  CHECK(converted(kSenml, "hPa", 1013.25) == 1013.25);
  CHECK(converted(kHomie, "kPa", 101.325) == doctest::Approx(1013.25));
  CHECK(converted(kHomie, "mbar", 1013.25) == 1013.25);
  // Scales of the secondary units: RFC 8798, section 3 (from memory).
  CHECK(converted(kSenml, "mV", 2910) == doctest::Approx(2.91));
  CHECK(converted(kSenml, "dBm", -71) == -71);
  CHECK(converted(kSenml, "dBW", -101) == -71);
  CHECK(converted(kSenml, "/100", 63) == 63);
  // RFC 8428, section 12.1, note 2: "%" is a ratio there, and no percentage.
  CHECK(converted(kSenml, "%", 0.63) == doctest::Approx(63));
  CHECK(converted(kSenml, "/", 0.63) == doctest::Approx(63));
  CHECK(converted(kHomie, "%", 63) == 63);
}

TEST_CASE("a unit is known to the letter, and only where it is written so") {
  for (const std::string_view text :
       {"cel", "A", "lon", "C", "", "%rh", "LX", "m/s", "degC"}) {
    CAPTURE(text);
    CHECK(find_unit(kSenml, text) == nullptr);
    CHECK(find_unit(kHomie, text) == nullptr);
  }
  CHECK(find_unit(kHomie, "Cel") == nullptr);
  CHECK(find_unit(kHomie, "%RH") == nullptr);
  // Which SenML's registry lacks, and could mean nothing else.
  CHECK(find_unit(kSenml, "°C") != nullptr);
}

TEST_CASE("a unit that one channel alone is measured in is of that channel") {
  CHECK(channel(kSenml, "%RH", "urn:dev:ow:10e2073a01080063") == "humidity");
  CHECK(channel(kSenml, "%EL", "x") == "battery");
  CHECK(channel(kSenml, "lx", "x") == "light");
  CHECK(channel(kSenml, "Pa", "x") == "pressure");
  CHECK(channel(kSenml, "V", "urn:dev:ow:10e2073a01080063:voltage") == "battery_voltage");
  CHECK(channel(kHomie, "mV", "power/cell") == "battery_voltage");
  CHECK(channel(kHomie, "dBm", "radio/rssi") == "signal");
}

TEST_CASE("a temperature is the soil's where its name says so, and else the air's") {
  for (const std::string_view name :
       {"climate/temperature", "urn:dev:ow:10e2073a01080063", "t", "",
        "playground/temperature", "background-temperature", "soil/air-temperature",
        "urn:dev:mac:0024befffe804ff1:soil-station:airTemp"}) {
    CAPTURE(name);
    CHECK(channel(kHomie, "°C", name) == "temperature");
  }
  for (const std::string_view name :
       {"soil/temperature", "climate/soil-temperature", "soilTemperature", "SOIL_T",
        "ground/temperature", "pea-bed:ground-temp", "topsoil", "air/soil-temperature",
        "pea-bed:groundTemperature", "soil:temperature"}) {
    CAPTURE(name);
    CHECK(channel(kHomie, "°C", name) == "soil_temperature");
  }
}

TEST_CASE("what is only forecast is never taken for what is measured") {
  for (const std::string_view name :
       {"forecast-low", "forecast/low", "region:forecast_low", "night/forecastLow",
        "tonight/low", "weather/low-tonight", "soil/forecast-low"}) {
    CAPTURE(name);
    CHECK(channel(kHomie, "°F", name) == "forecast_low");
    CHECK(channel(kSenml, "Cel", name) == "forecast_low");
  }
  for (const std::string_view name :
       {"forecast/temperature", "forecast:high", "soil/forecast", "Forecast",
        "forecast/tomorrow/temperature"}) {
    CAPTURE(name);
    CHECK(channel(kHomie, "°C", name) == "none");
  }
  CHECK(channel(kHomie, "hPa", "forecast/pressure") == "none");
  CHECK(channel(kSenml, "%RH", "forecast/humidity") == "none");
  CHECK(channel(kHomie, "%", "forecast-low/humidity") == "none");
}

TEST_CASE("a percentage is of what its name says, or of nothing") {
  for (const std::string_view name :
       {"climate/humidity", "climate/Relative-Humidity", "air/rh", "humidity-2",
        "insideHumidity", "humidity/value", "climate/h"}) {
    CAPTURE(name);
    CHECK(channel(kHomie, "%", name) == "humidity");
  }
  for (const std::string_view name :
       {"soil/moisture", "bed/soil-moisture", "soilMoisture2", "VWC", "soil/humidity",
        "ground-humidity", "moisture/value"}) {
    CAPTURE(name);
    CHECK(channel(kHomie, "%", name) == "soil_moisture");
  }
  for (const std::string_view name :
       {"battery/level", "device/battery", "batteryLevel", "power/batt-percent"}) {
    CAPTURE(name);
    CHECK(channel(kHomie, "%", name) == "battery");
  }
  for (const std::string_view name :
       {"light/brightness", "radio/signal", "tank/level", "north/path", ""}) {
    CAPTURE(name);
    CHECK(channel(kHomie, "%", name) == "none");
  }
  // The last level that says anything counts.
  CHECK(channel(kHomie, "%", "battery/humidity") == "humidity");
  CHECK(channel(kHomie, "%", "humidity/battery") == "battery");
}

TEST_CASE("the voltage that a probe in soil measured is not the battery's") {
  CHECK(channel(kHomie, "V", "soil/raw") == "none");
  CHECK(channel(kHomie, "mV", "bed/moisture-voltage") == "none");
  CHECK(channel(kHomie, "V", "soil/battery") == "battery_voltage");
  CHECK(channel(kHomie, "V", "soil/vbat") == "battery_voltage");
}

TEST_CASE("what its owner chose must be in a unit of its channel") {
  const auto in_celsius = TemperatureScale::kCelsius;
  const auto reading = [&](Channel of, const Measured& measured) -> std::string {
    const auto value = in_unit_of(of, measured, kSenml, in_celsius);
    return value ? std::to_string(*value) : "refused: " + value.error().message;
  };
  CHECK(reading(Channel::kSoilTemperature, {283.15, "K"}) == "10.000000");
  CHECK(reading(Channel::kSoilMoisture, {31, "%RH"}) == "31.000000");
  CHECK(reading(Channel::kForecastLow, {272.15, "K"}) == "-1.000000");
  CHECK(reading(Channel::kForecastLow, {1, "hPa"}) ==
        "refused: in \"hPa\", which is no unit of forecast_low");
  CHECK(reading(Channel::kBatteryPercent, {0.5, "/"}) == "50.000000");
  CHECK(reading(Channel::kAirTemperature, {63, "%RH"}) ==
        "refused: in \"%RH\", which is no unit of temperature");
  CHECK(reading(Channel::kBatteryVoltage, {1.2, "A"}) ==
        "refused: in \"A\", which is no unit of battery_voltage");
  CHECK(reading(Channel::kLight, {1, "lx\x1b[2J"}) ==
        "refused: in \"lx\\x1b[2J\", which is no unit of light");
}

TEST_CASE("without unit it is in its channel's, and a temperature on its owner's scale") {
  const auto fahrenheit = TemperatureScale::kFahrenheit;
  CHECK(in_unit_of(Channel::kAirTemperature, {50, ""}, kHomie, fahrenheit).value() ==
        doctest::Approx(10));
  CHECK(in_unit_of(Channel::kHumidity, {50, ""}, kHomie, fahrenheit).value() == 50);
  // A unit that is said stands against the scale that is supposed.
  CHECK(in_unit_of(Channel::kAirTemperature, {50, "°C"}, kHomie, fahrenheit).value() ==
        50);
}

TEST_CASE("what grows beyond all range in another unit is refused") {
  const auto huge = in_channel_unit(*find_unit(kHomie, "kPa"), 1e308);
  REQUIRE_FALSE(huge.has_value());
  CHECK(huge.error().message == "a number beyond all range");
}

}  // namespace
}  // namespace rimeward
