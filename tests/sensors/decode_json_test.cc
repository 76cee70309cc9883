#include <limits>
#include <random>
#include <string>

#include <doctest/doctest.h>

#include "sensors/decoders.h"
#include "sensors/iso_time.h"
#include "tests/support/hostile.h"

namespace rimeward {
namespace {

using namespace std::string_view_literals;

constexpr auto kAir = Channel::kAirTemperature;
constexpr auto kHumidity = Channel::kHumidity;
constexpr auto kVoltage = Channel::kBatteryVoltage;

PayloadSpec pointing(std::map<Channel, std::string> pointers) {
  PayloadSpec spec;
  spec.where = std::move(pointers);
  return spec;
}

// The samples as "temperature 21.5, humidity 63", or "refused: <why>".
std::string outcome(std::string_view payload, const PayloadSpec& spec = {}) {
  const auto decoded = decode_json({payload}, spec, {});
  if (!decoded) return "refused: " + decoded.error().message;
  std::string text;
  for (const Sample& sample : decoded->samples) {
    std::string value = std::to_string(sample.value);
    value.erase(value.find_last_not_of('0') + 1);
    if (value.ends_with('.')) value.pop_back();
    text += (text.empty() ? "" : ", ") + std::string(traits(sample.channel).name) + " " +
            value;
  }
  return text;
}

std::string time_of(std::string_view payload, const PayloadSpec& spec = {}) {
  const auto decoded = decode_json({payload}, spec, {});
  if (!decoded) return "refused: " + decoded.error().message;
  const auto& at = decoded->samples.at(0).measured_at;
  return at ? format_utc(*at) : "none";
}

TEST_CASE("pointers find what RFC 6901, section 5, says they find") {
  // The document and the values are the RFC's.
  constexpr std::string_view kDocument = R"({"foo": ["bar", "baz"], "": 0, "a/b": 1,
      "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5, "k\"l": 6, " ": 7, "m~n": 8})";
  const std::pair<std::string, std::string> rows[] = {
      {"/", "0"},     {"/a~1b", "1"}, {"/c%d", "2"}, {"/e^f", "3"},  {"/g|h", "4"},
      {"/i\\j", "5"}, {"/k\"l", "6"}, {"/ ", "7"},   {"/m~0n", "8"},
  };
  for (const auto& [pointer, value] : rows) {
    CAPTURE(pointer);
    CHECK(outcome(kDocument, pointing({{kAir, pointer}})) == "temperature " + value);
  }
  CHECK(outcome(kDocument, pointing({{kAir, "/foo"}})) ==
        "refused: at \"/foo\": expected a number, got an array");
  CHECK(outcome(kDocument, pointing({{kAir, "/foo/0"}})) ==
        "refused: at \"/foo/0\": expected a number, got \"bar\"");
  CHECK(outcome(kDocument, pointing({{kAir, ""}})) ==
        "refused: at \"\": expected a number, got an object");
  for (const std::string_view nothing :
       {"/nonexistent", "/foo/2", "/foo/-", "/foo/01", "/foo/0/x", "/a/b",
        "/foo/00000000000000000000000000", "/foo/+0"}) {
    CAPTURE(nothing);
    CHECK(outcome(kDocument, pointing({{kAir, std::string(nothing)}})) ==
          "refused: nothing at \"" + std::string(nothing) + "\"");
  }
  CHECK(outcome(kDocument, pointing({{kAir, "foo"}})) ==
        "refused: \"foo\" is no JSON pointer");
  CHECK(outcome(kDocument, pointing({{kAir, "/m~2n"}})) ==
        "refused: \"/m~2n\" is no JSON pointer");
}

TEST_CASE("pointers lead into any JSON, also an array or a bare number") {
  CHECK(outcome("[[20.5, 60]]", pointing({{kAir, "/0/0"}, {kHumidity, "/0/1"}})) ==
        "temperature 20.5, humidity 60");
  CHECK(outcome("20.5", pointing({{kAir, ""}})) == "temperature 20.5");
}

TEST_CASE("where pointers are given, only what they point at is read") {
  constexpr std::string_view kPayload =
      R"({"temperature": 1, "humidity": 50, "air": {"t": 2}})";
  CHECK(outcome(kPayload, pointing({{kAir, "/air/t"}})) == "temperature 2");
  // One that finds nothing costs the others nothing.
  CHECK(outcome(kPayload, pointing({{kAir, "/air/t"}, {kHumidity, "/air/h"}})) ==
        "temperature 2");
  CHECK(outcome(R"({"air": {"t": 2, "h": null}})",
                pointing({{kAir, "/air/t"}, {kHumidity, "/air/h"}})) == "temperature 2");
  CHECK(outcome(kPayload, pointing({{kAir, "/x"}, {kHumidity, "/y"}})) ==
        "refused: nothing at \"/x\" nor at any other pointer");
  CHECK(outcome(R"({"air": true})", pointing({{kAir, "/air"}})) ==
        "refused: at \"/air\": expected a number, got true");
  CHECK(outcome(R"({"air": "21.5 C"})", pointing({{kAir, "/air"}})) ==
        "refused: at \"/air\": expected a number, got \"21.5 C\"");
}

TEST_CASE("the usual keys are found without pointers") {
  CHECK(outcome(R"({"temperature": 21.5, "humidity": 63})") ==
        "temperature 21.5, humidity 63");
  CHECK(outcome(R"({"temp": -0.1, "rh": 100, "soil_temperature": 9, "battery": 80})") ==
        "temperature -0.1, humidity 100, soil_temperature 9, battery 80");
  CHECK(outcome(R"({"rssi": -71, "pressure": 936.2, "temperature": 0})") ==
        "temperature 0, pressure 936.2, signal -71");
  CHECK(outcome(R"({"forecast_low": -1.5})") == "forecast_low -1.5");
  CHECK(outcome(R"({"temperature": 4, "tonight_low": -2})") ==
        "temperature 4, forecast_low -2");
  // Neither is of tonight, as far as the key tells.
  CHECK(outcome(R"({"low": -1.5, "forecast": 3})") ==
        "refused: none of the usual keys in {forecast, low}: give pointers");
  // The more telling key wins: "t" may be anything.
  CHECK(outcome(R"({"t": 99, "temperature": 4})") == "temperature 4");
  CHECK(outcome(R"({"temperature": 4, "temperature": 5})") == "temperature 5");
}

TEST_CASE("temperatures in degrees Fahrenheit are converted, and nothing else is") {
  PayloadSpec spec;
  spec.scale = TemperatureScale::kFahrenheit;
  // The fixed points of the scale: 32 and 212 degrees F; -40 is the same on both.
  CHECK(outcome(R"({"temperature": 32, "soil_temperature": 212, "humidity": 50})",
                spec) == "temperature 0, humidity 50, soil_temperature 100");
  CHECK(outcome(R"({"forecast_low": 23})", spec) == "forecast_low -5");
  CHECK(outcome(R"({"temp": "-40", "pressure": 1000, "light": 5, "battery": 80})",
                spec) == "temperature -40, light 5, pressure 1000, battery 80");
  CHECK(outcome(R"({"voltage": 3, "rssi": -71, "soil_moisture": 30})", spec) ==
        "soil_moisture 30, battery_voltage 3, signal -71");
  spec.where = {{kAir, "/a"}, {Channel::kSoilTemperature, "/b"}, {kHumidity, "/c"}};
  CHECK(outcome(R"({"a": 32, "b": 212, "c": 50})", spec) ==
        "temperature 0, humidity 50, soil_temperature 100");
}

TEST_CASE("a key that says its scale is believed, whatever the scale of the others") {
  PayloadSpec fahrenheit;
  fahrenheit.scale = TemperatureScale::kFahrenheit;
  for (const PayloadSpec& spec : {PayloadSpec{}, fahrenheit}) {
    for (const char* key : {"temperature_C", "temperature_c", "temp_C", "temp_c"}) {
      CAPTURE(key);
      CHECK(outcome("{\"" + std::string(key) + "\": 10}", spec) == "temperature 10");
    }
    for (const char* key : {"temperature_F", "temperature_f", "temp_F", "temp_f"}) {
      CAPTURE(key);
      CHECK(outcome("{\"" + std::string(key) + "\": 50}", spec) == "temperature 10");
    }
    CHECK(outcome(R"({"soil_temperature_F": 50})", spec) == "soil_temperature 10");
    CHECK(outcome(R"({"soil_temp_c": 10})", spec) == "soil_temperature 10");
    CHECK(outcome(R"({"forecast_low_F": 50})", spec) == "forecast_low 10");
    // Celsius before Fahrenheit, both before a key that says nothing.
    CHECK(outcome(R"({"temperature_F": 50, "temp_c": 10.25})", spec) ==
          "temperature 10.25");
    CHECK(outcome(R"({"temperature": 49, "temp_f": 50})", spec) == "temperature 10");
    CHECK(outcome(R"({"temperature_C": null, "temp_f": 50})", spec) == "temperature 10");
    // What stands at the top is the message's own, on whatever scale.
    CHECK(outcome(R"({"temp_f": 50, "device": {"temperature_C": 40}})", spec) ==
          "temperature 10");
  }
  CHECK(outcome(R"({"a": {"temp_f": 50}, "b": {"temp_c": 10}})") ==
        "refused: temperature stands in several places: say which by a pointer");
  CHECK(outcome(R"({"temp_f": "mild"})") ==
        "refused: at \"/temp_f\": expected a number, got \"mild\"");
}

TEST_CASE("a key that says its scale is believed where a pointer leads to it, too") {
  PayloadSpec spec = pointing({{kAir, "/air/temp_f"}});
  CHECK(outcome(R"({"air": {"temp_f": 50}})", spec) == "temperature 10");
  spec.scale = TemperatureScale::kFahrenheit;
  spec.where = {{kAir, "/air/temp_c"}};
  CHECK(outcome(R"({"air": {"temp_c": 10}})", spec) == "temperature 10");
  // "probe_f" may be the sixth probe.
  CHECK(outcome(R"({"probe_f": 10})", pointing({{kAir, "/probe_f"}})) ==
        "temperature 10");
  CHECK(outcome(R"({"temp_f": 50})", pointing({{kHumidity, "/temp_f"}})) ==
        "humidity 50");
}

TEST_CASE("numbers in strings count, null is absent") {
  CHECK(outcome(R"({"temperature": "21.5", "humidity": " 63 "})") ==
        "temperature 21.5, humidity 63");
  CHECK(outcome(R"({"temperature": null, "humidity": 63})") == "humidity 63");
  CHECK(outcome(R"({"temperature": null, "temp": 4})") == "temperature 4");
}

TEST_CASE("usual keys are looked for one level down, where one place alone has them") {
  CHECK(outcome(R"({"air": {"temperature": 3, "humidity": 90}})") ==
        "temperature 3, humidity 90");
  CHECK(outcome(R"({"temperature": 3, "device": {"temperature": 40}})") ==
        "temperature 3");
  CHECK(outcome(R"({"a": {"temperature": 3}, "b": {"humidity": 90}})") ==
        "temperature 3, humidity 90");
  CHECK(outcome(R"({"a": {"temperature": 3}, "b": {"temperature": 4, "humidity": 9}})") ==
        "humidity 9");
  CHECK(outcome(R"({"a": {"temperature": 3}, "b": {"temperature": 4}})") ==
        "refused: temperature stands in several places: say which by a pointer");
  CHECK(outcome(R"({"a": {"b": {"temperature": 3}}})") ==
        "refused: none of the usual keys in {a}: give pointers");
}

TEST_CASE("an unusable value under a usual key is passed over beside a good one") {
  CHECK(outcome(R"({"temperature": 3, "battery": "ok", "light": true})") ==
        "temperature 3");
  CHECK(outcome(R"({"temperature": 3, "battery": {"voltage": 2.9}})") ==
        "temperature 3, battery_voltage 2.9");
  CHECK(outcome(R"({"temperature": "21.5 °C"})") ==
        "refused: at \"/temperature\": expected a number, got \"21.5 °C\"");
  CHECK(outcome(R"({"temperature": false})") ==
        "refused: at \"/temperature\": expected a number, got false");
}

TEST_CASE("a payload without a value says what it has instead") {
  CHECK(outcome("{}") == "refused: none of the usual keys in {}: give pointers");
  CHECK(outcome(R"({"state": "on", "a\u001bb": 1})") ==
        "refused: none of the usual keys in {a\\x1bb, state}: give pointers");
  CHECK(outcome("[21.5]") == "refused: expected an object, got an array");
  CHECK(outcome("21.5") == "refused: expected an object, got 21.5");
  CHECK(outcome("null") == "refused: expected an object, got null");
}

TEST_CASE("the payload's time is read as text with an offset, seconds or milliseconds") {
  const auto with = [](std::string_view time) {
    return time_of("{\"temperature\": 1, \"time\": " + std::string(time) + "}");
  };
  CHECK(with(R"("2026-04-12T20:03:20+02:00")") == "2026-04-12T18:03:20Z");
  CHECK(with("1776017000") == "2026-04-12T18:03:20Z");
  CHECK(with("1776017000.999") == "2026-04-12T18:03:20Z");
  CHECK(with("1776017000999") == "2026-04-12T18:03:20Z");
  CHECK(with(R"("1776017000")") == "2026-04-12T18:03:20Z");
  CHECK(with("0") == "1970-01-01T00:00:00Z");
  CHECK(with("100000000000") == "5138-11-16T09:46:40Z");
  CHECK(with("100000000001") == "1973-03-03T09:46:40Z");
  CHECK(with("null") == "none");
  for (const std::string_view key : {"time", "timestamp", "measured_at", "ts"}) {
    CAPTURE(key);
    CHECK(time_of("{\"temperature\": 1, \"" + std::string(key) + "\": 1776017000}") ==
          "2026-04-12T18:03:20Z");
  }
  CHECK(time_of(R"({"air": {"temperature": 1, "ts": 1776017000}})") ==
        "2026-04-12T18:03:20Z");
  CHECK(time_of(R"({"temperature": 1})") == "none");
}

TEST_CASE("a time that nobody pointed at never costs the reading") {
  for (const std::string_view time : {"\"2026-04-12T20:03:20\"", "\"soon\"", "true", "-5",
                                      "1e300", "{}", "\"nan\"", "[1776017000]"}) {
    CAPTURE(time);
    CHECK(time_of("{\"temperature\": 1, \"time\": " + std::string(time) + "}") == "none");
  }
}

TEST_CASE("a time pointer is followed alone, and must lead to a time or nowhere") {
  PayloadSpec spec;
  spec.time_pointer = "/at";
  CHECK(time_of(R"({"temperature": 1, "at": 1776017000, "time": 5})", spec) ==
        "2026-04-12T18:03:20Z");
  CHECK(time_of(R"({"temperature": 1, "time": 1776017000})", spec) == "none");
  CHECK(time_of(R"({"temperature": 1, "at": null})", spec) == "none");
  CHECK(time_of(R"({"temperature": 1, "at": "2026-04-12T20:03:20"})", spec) ==
        "refused: at \"/at\": expected a time such as \"2026-04-12T18:03:20Z\" or unix "
        "seconds, got \"2026-04-12T20:03:20\"");
  spec.time_pointer = "at";
  CHECK(time_of(R"({"temperature": 1})", spec) == "refused: \"at\" is no JSON pointer");
}

TEST_CASE("what is not JSON is refused with the byte where it stops being so") {
  CHECK(outcome("") == "refused: the payload is empty");
  CHECK(outcome(R"({"temperature": })") ==
        "refused: not JSON: byte 17 of 17, near \"rature\\\": }\"");
  CHECK(outcome(R"({"temperature": 21)") ==
        "refused: not JSON: byte 18 of 18, near \"ature\\\": 21\"");
  CHECK(outcome(R"({"temperature": 21} {)") ==
        "refused: not JSON: byte 21 of 21, near \"re\\\": 21} {\"");
  CHECK(outcome("\x1b") == "refused: not JSON: byte 1 of 1, near \"\\x1b\"");
  for (const auto payload :
       {"nan"sv, "{'temperature': 1}"sv, "{\"temperature\": NaN}"sv,
        "{\"temperature\": 01}"sv, "{\"temperature\": +1}"sv, "{\"temperature\": 1,}"sv,
        "{temperature: 1}"sv, "\0"sv, "{\"temperature\": 1}\0"sv,
        "{\"\xff\": 1, \"temperature\": 2}"sv, "\""sv, "\"\\"sv,
        "{\"temperature\": .5}"sv, "// {}\n{\"temperature\": 1}"sv, "]"sv, "tru"sv}) {
    CAPTURE(payload);
    CHECK(outcome(payload).starts_with("refused: not JSON: byte "));
  }
}

TEST_CASE("a number that no double holds is refused") {
  CHECK(outcome(R"({"temperature": 1e400})") ==
        "refused: not JSON that can be read: a number beyond all range");
  CHECK(outcome(R"({"temperature": "1e400"})") ==
        "refused: at \"/temperature\": expected a number, got \"1e400\"");
  CHECK(outcome(R"({"temperature": "nan"})") ==
        "refused: at \"/temperature\": expected a number, got \"nan\"");
  CHECK(decode_json({R"({"temperature": 18446744073709551616})"}, {}, {}).has_value());
}

TEST_CASE("depth and size are bounded before anything is built") {
  const auto nested = [](std::size_t depth) {
    return std::string(depth, '[') + "1" + std::string(depth, ']');
  };
  std::string to_the_one;
  for (int i = 0; i < 32; ++i) {
    to_the_one += "/0";
  }
  CHECK(outcome(nested(32), pointing({{kAir, to_the_one}})) == "temperature 1");
  CHECK(outcome(nested(33)) == "refused: nested more than 32 deep");
  CHECK(outcome(std::string(65'536, '[')) == "refused: nested more than 32 deep");
  CHECK(outcome(std::string(65'537, ' ')) ==
        "refused: payload of 65537 bytes: more than 65536");
  // Brackets in a string are text.
  CHECK(outcome(R"({"temperature": 1, "note": ")" + std::string(100, '[') + "\\\"[\"}") ==
        "temperature 1");
  const std::string padded = R"({"temperature": 1})" + std::string(65'518, ' ');
  REQUIRE(padded.size() == kLargestPayload);
  CHECK(outcome(padded) == "temperature 1");
}

// Whatever comes: values or an error, never a throw.
void check_sane(std::string_view payload, const PayloadSpec& spec) {
  const auto decoded = decode_json({payload}, spec, {});
  testing::check_sane(decoded);
  if (decoded) REQUIRE_FALSE(decoded->samples.empty());
}

TEST_CASE("mangled payloads are refused or read, never thrown at the caller") {
  const std::string good =
      R"({"time":"2026-04-12T18:03:20Z","air":{"temperature":-3.5,"humidity":"99"},)"
      R"("battery":{"voltage":2.91e0},"list":[1,null,true,"\u00e9\n"]})";
  PayloadSpec pointed = pointing({{kAir, "/air/temperature"}, {kVoltage, "/list/0"}});
  pointed.time_pointer = "/time";
  std::mt19937 random(20260412);  // fixed, so that a failure comes again
  for (int round = 0; round < 20'000; ++round) {
    const std::string bad = testing::mangled(good, "{}[],:\"\\0e-\x1b\xff", random);
    check_sane(bad, {});
    check_sane(bad, pointed);
  }
  for (std::size_t length = 0; length < good.size(); ++length) {
    check_sane(std::string_view(good).substr(0, length), {});
  }
}

}  // namespace
}  // namespace rimeward
