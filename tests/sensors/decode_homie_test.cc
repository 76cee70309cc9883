#include <cmath>
#include <random>
#include <string>
#include <utility>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "sensors/decoders.h"
#include "tests/support/hostile.h"

namespace rimeward {
namespace {

using namespace std::string_view_literals;

constexpr auto kAir = Channel::kAirTemperature;
constexpr auto kHumidity = Channel::kHumidity;

PayloadSpec naming(std::map<Channel, std::string> properties) {
  PayloadSpec spec;
  spec.where = std::move(properties);
  return spec;
}

// One device and what was learnt of it.
struct Device {
  PayloadSpec spec;
  Facts known;

  // The samples as "temperature 21.5", the new facts as "climate/temperature/$unit=°C",
  // "nothing" where there is neither, or "refused: <why>". Learns.
  std::string hears(std::string_view below, std::string_view payload) {
    const auto decoded = decode_homie({.bytes = payload, .below = below}, spec, known);
    if (!decoded) return "refused: " + decoded.error().message;
    std::string text;
    for (const Sample& sample : decoded->samples) {
      text += fmt::format("{}{} {:g}", text.empty() ? "" : ", ",
                          traits(sample.channel).name, sample.value);
    }
    for (const auto& [name, value] : decoded->facts) {
      text += fmt::format("{}{}={}", text.empty() ? "" : ", ", name, value);
      known.insert_or_assign(name, value);
    }
    return text.empty() ? "nothing" : text;
  }
};

// A device that has one property, "climate/temperature".
Device described(std::string_view unit, std::string_view datatype) {
  Device device;
  device.known["climate/temperature/$unit"] = unit;
  if (!datatype.empty()) device.known["climate/temperature/$datatype"] = datatype;
  return device;
}

std::string value(std::string_view payload, std::string_view datatype) {
  return described("°C", datatype).hears("climate/temperature", payload);
}

constexpr std::string_view kDescription = R"({"homie": "5.0", "version": 7,
  "name": "Frame probe", "nodes": {
    "climate": {"name": "Climate", "properties": {
      "temperature": {"name": "Air", "datatype": "float", "unit": "°C",
                      "format": "-40:85", "settable": false},
      "humidity": {"datatype": "float", "unit": "%"},
      "dew": {"datatype": "boolean"}}},
    "soil": {"properties": {"temperature": {"datatype": "float", "unit": "°F"},
                            "moisture": {"datatype": "integer", "unit": "%"}}},
    "power": {"properties": {"battery": {"datatype": "integer", "unit": "mV"},
                             "starts": {"datatype": "integer"}}}}})";

TEST_CASE("floats are read as convention 5, section Payload, allows them") {
  // The lists of valid and invalid payloads follow its rules; "+5" and "1,5" are
  // inferred.
  for (const std::string_view valid :
       {"21.5", "-0.1", "1e3", "2E-4", "-5", "0", "1e-3", ".5", "007"}) {
    CAPTURE(valid);
    CHECK(value(valid, "float") ==
          fmt::format("temperature {:g}", std::stod(std::string(valid))));
    CHECK(value(valid, "") == value(valid, "float"));
  }
  for (const std::string_view invalid :
       {"",     "-",       "NaN", "Infinity", "1,5",   " 1.0", "1.0 ",
        "+5",   "1e+3",    "1e",  "e5",       "1.2.3", "--1",  "1-",
        "0x10", "21.5 °C", "inf", "nan",      ".",     "1e999"}) {
    CAPTURE(invalid);
    CHECK(value(invalid, "float")
              .starts_with("refused: climate/temperature: expected a "
                           "number"));
  }
  CHECK(value("\0"sv, "float").starts_with("refused: "));
  CHECK(value("1,5", "float") ==
        "refused: climate/temperature: expected a number, got \"1,5\"");
}

TEST_CASE("integers are read as convention 5, section Payload, allows them") {
  CHECK(value("0", "integer") == "temperature 0");
  CHECK(value("-5", "integer") == "temperature -5");
  CHECK(value("9223372036854775807", "integer") == "temperature 9.22337e+18");
  for (const std::string_view invalid :
       {"", "-", "1.5", " 5", "+5", "1e3", "9223372036854775808", "5-", "5 "}) {
    CAPTURE(invalid);
    CHECK(value(invalid, "integer")
              .starts_with("refused: climate/temperature: expected "
                           "an integer"));
  }
}

TEST_CASE("properties that are no numbers are passed over") {
  for (const std::string_view datatype :
       {"boolean", "string", "enum", "color", "datetime", "duration", "json"}) {
    CAPTURE(datatype);
    CHECK(value("21.5", datatype) == "nothing");
    CHECK(value("true", datatype) == "nothing");
  }
}

TEST_CASE("a device of convention 4 is read by what it told of itself, in any order") {
  Device device;
  CHECK(device.hears("$homie", "4.0.0") == "nothing");
  CHECK(device.hears("$name", "Frame probe") == "nothing");
  CHECK(device.hears("$state", "init") == "$state=init");
  CHECK(device.hears("$nodes", "climate,power") == "nothing");
  CHECK(device.hears("climate/$name", "Climate") == "nothing");
  CHECK(device.hears("climate/$properties", "temperature,humidity") == "nothing");
  CHECK(device.hears("climate/temperature", "21.5") ==
        "refused: the device has not described \"climate/temperature\" yet: its unit is "
        "not known");
  CHECK(device.hears("climate/temperature/$name", "Air") == "nothing");
  CHECK(device.hears("climate/temperature/$datatype", "float") ==
        "climate/temperature/$datatype=float");
  CHECK(device.hears("climate/temperature", "21.5").starts_with("refused: "));
  CHECK(device.hears("climate/temperature/$unit", "°C") ==
        "climate/temperature/$unit=°C");
  CHECK(device.hears("climate/temperature/$format", "-40:85") == "nothing");
  CHECK(device.hears("climate/temperature/$settable", "false") == "nothing");
  CHECK(device.hears("climate/temperature", "21.5") == "temperature 21.5");
  CHECK(device.hears("climate/humidity/$unit", "%") == "climate/humidity/$unit=%");
  CHECK(device.hears("climate/humidity", "63") == "humidity 63");
  CHECK(device.hears("power/battery/$unit", "V") == "power/battery/$unit=V");
  CHECK(device.hears("power/battery", "2.91") == "battery_voltage 2.91");
  CHECK(device.hears("$state", "ready") == "$state=ready");
  // Said again, it is nothing new; said otherwise, it is.
  CHECK(device.hears("$state", "ready") == "nothing");
  CHECK(device.hears("climate/temperature/$unit", "°C") == "nothing");
  CHECK(device.hears("climate/temperature/$unit", "°F") ==
        "climate/temperature/$unit=°F");
  CHECK(device.hears("climate/temperature", "50") == "temperature 10");
  CHECK(device.hears("$state", "lost") == "$state=lost");
}

TEST_CASE("a device of convention 5 is read by its description") {
  Device device;
  CHECK(device.hears("$state", "init") == "$state=init");
  CHECK(device.hears("climate/temperature", "21.5")
            .starts_with("refused: the device has "
                         "not described"));
  CHECK(device.hears("$description", kDescription) ==
        "climate/dew/$datatype=boolean, climate/humidity/$datatype=float, "
        "climate/humidity/$unit=%, climate/temperature/$datatype=float, "
        "climate/temperature/$unit=°C, power/battery/$datatype=integer, "
        "power/battery/$unit=mV, power/starts/$datatype=integer, power/starts/$unit=, "
        "soil/moisture/$datatype=integer, soil/moisture/$unit=%, "
        "soil/temperature/$datatype=float, soil/temperature/$unit=°F");
  CHECK(device.hears("$description", kDescription) == "nothing");
  CHECK(device.hears("$state", "ready") == "$state=ready");
  CHECK(device.hears("climate/temperature", "21.5") == "temperature 21.5");
  CHECK(device.hears("climate/humidity", "63.2") == "humidity 63.2");
  CHECK(device.hears("climate/dew", "true") == "nothing");
  CHECK(device.hears("soil/temperature", "50") == "soil_temperature 10");
  CHECK(device.hears("soil/moisture", "31") == "soil_moisture 31");
  CHECK(device.hears("power/battery", "2910") == "battery_voltage 2.91");
  CHECK(device.hears("power/starts", "12") == "nothing");
  CHECK(device.hears("climate/temperature/$target", "20") == "nothing");
}

TEST_CASE("what is no longer described does not stand in the way of what is") {
  Device device;
  device.hears("$description", kDescription);
  CHECK(device.hears("$description",
                     R"({"nodes": {"air": {"properties": {"temperature":
                        {"datatype": "float", "unit": "°C"}}}}})") ==
        "air/temperature/$datatype=float, air/temperature/$unit=°C, "
        "climate/humidity/$unit=, climate/temperature/$unit=, power/battery/$unit=, "
        "soil/moisture/$unit=, soil/temperature/$unit=");
  CHECK(device.hears("air/temperature", "4") == "temperature 4");
  CHECK(device.hears("climate/temperature", "4") == "nothing");

  Device old;
  old.hears("climate/temperature/$unit", "°C");
  CHECK(old.hears("climate/temperature/$unit", "") == "climate/temperature/$unit=");
  CHECK(old.hears("climate/temperature/$unit", "") == "nothing");
  CHECK(old.hears("climate/humidity/$unit", "") == "nothing");
}

TEST_CASE("two properties of one channel are not chosen between") {
  Device device;
  device.hears("inside/temperature/$unit", "°C");
  CHECK(device.hears("inside/temperature", "4") == "temperature 4");
  device.hears("board/temperature/$unit", "°F");
  const std::string why =
      "refused: temperature is measured by more than one property, \"board/temperature\" "
      "and \"inside/temperature\": say by which, as temperature = \"board/temperature\"";
  CHECK(device.hears("inside/temperature", "4") == why);
  CHECK(device.hears("board/temperature", "40") == why);
  // The soil's is another channel, and a text none.
  device.hears("soil/temperature/$unit", "°C");
  CHECK(device.hears("soil/temperature", "4") == "soil_temperature 4");
  device.hears("board/temperature/$datatype", "string");
  CHECK(device.hears("inside/temperature", "4") == "temperature 4");
}

TEST_CASE("where its owner named properties, only these are read") {
  Device device{.spec = naming({{kAir, "inside/temperature"}}), .known = {}};
  device.hears("inside/temperature/$unit", "°C");
  device.hears("board/temperature/$unit", "°C");
  device.hears("inside/humidity/$unit", "%");
  CHECK(device.hears("inside/temperature", "4") == "temperature 4");
  CHECK(device.hears("board/temperature", "40") == "nothing");
  CHECK(device.hears("inside/humidity", "63") == "nothing");
  CHECK(device.hears("outside/temperature", "4") == "nothing");
}

TEST_CASE(
    "a property that its owner named must be in a unit of its channel, or in none") {
  Device device{.spec = naming({{kAir, "a/x"}, {kHumidity, "a/y"}}), .known = {}};
  CHECK(device.hears("a/x", "50") ==
        "refused: the device has not described \"a/x\" yet: its unit is not known");
  device.hears("a/x/$unit", "%");
  CHECK(device.hears("a/x", "50") ==
        "refused: a/x: in \"%\", which is no unit of temperature");
  device.hears("a/x/$unit", "");
  device.hears("a/y/$unit", "%");
  CHECK(device.hears("a/x", "50") == "temperature 50");
  CHECK(device.hears("a/y", "50") == "humidity 50");
  device.spec.scale = TemperatureScale::kFahrenheit;
  CHECK(device.hears("a/x", "50") == "temperature 10");
  CHECK(device.hears("a/y", "50") == "humidity 50");
}

TEST_CASE("a property without unit is known to have none once all has been described") {
  // Convention 4: a device is "ready" when it has sent all; "$unit" may be left out.
  Device device{.spec = naming({{kHumidity, "bed/moist"}}), .known = {}};
  device.hears("bed/moist/$datatype", "float");
  CHECK(device.hears("bed/moist", "31").starts_with("refused: "));
  device.hears("$state", "init");
  CHECK(device.hears("bed/moist", "31").starts_with("refused: "));
  device.hears("$state", "ready");
  CHECK(device.hears("bed/moist", "31") == "humidity 31");
  device.spec = {};
  CHECK(device.hears("bed/moist", "31") == "nothing");
}

TEST_CASE("commands to a device and topics without meaning tell nothing") {
  Device device;
  device.hears("$description", kDescription);
  for (const std::string_view below : {"climate/temperature/set",
                                       "climate/temperature/$unit/x",
                                       "climate",
                                       "x",
                                       "$stats/uptime",
                                       "$fw/name",
                                       "$implementation/config/set",
                                       "climate/$type",
                                       "/",
                                       "//",
                                       "climate/",
                                       "/temperature",
                                       "a b/c",
                                       "climate/temperature/",
                                       "$broadcast/alert",
                                       "$log/warn",
                                       "a/$unit",
                                       "/$unit",
                                       "//$unit",
                                       "x/y/$Unit"}) {
    CAPTURE(below);
    CHECK(device.hears(below, "21.5") == "nothing");
    CHECK(device.hears(below, "") == "nothing");
  }
  CHECK(device.hears("$state", "online") == "nothing");
  CHECK(device.hears("$state", "") == "nothing");
  CHECK(device.hears("$description", "") == "nothing");
  CHECK(device.hears("", "21.5") ==
        "refused: a device's own topic; its values come on topics below it");
}

TEST_CASE("a description that is none is refused") {
  Device device;
  CHECK(device.hears("$description", "{").starts_with("refused: $description: not JSON"));
  CHECK(device.hears("$description", "[]") ==
        "refused: $description: expected an object, got an array");
  CHECK(device.hears("$description", std::string(65'536, '[')) ==
        "refused: $description: nested more than 32 deep");
  CHECK(device.hears("$description", std::string(65'537, ' ')) ==
        "refused: payload of 65537 bytes: more than 65536");
  // Parts of it that are of other types are passed over.
  for (const std::string_view odd :
       {R"({})", R"({"nodes": null})", R"({"nodes": []})", R"({"nodes": {"a": 1}})",
        R"({"nodes": {"a": {"properties": [1]}}})",
        R"({"nodes": {"a": {"properties": {"b": "c"}}}})",
        R"({"nodes": {"a b": {"properties": {"c": {"unit": "V"}}}}})",
        R"({"nodes": {"a": {"properties": {"$b": {"unit": "V"}}}}})"}) {
    CAPTURE(odd);
    CHECK(device.hears("$description", odd) == "nothing");
  }
  CHECK(device.hears("$description",
                     R"({"nodes": {"a": {"properties": {"b": {"unit": 5}}}}})") ==
        "a/b/$datatype=, a/b/$unit=");
}

TEST_CASE("facts are bounded in length and number, whatever a device describes") {
  Device device;
  const std::string id(64, 'i');
  const std::string name = id + "/" + id + "/$unit";
  CHECK(device.hears(name, std::string(64, 'u')) == name + "=" + std::string(64, 'u'));
  CHECK(device.hears("a/b/$unit", std::string(65, 'u')) == "nothing");
  CHECK(device.hears("i" + id + "/b/$unit", "V") == "nothing");
  CHECK(device.hears("b/i" + id + "/$unit", "V") == "nothing");
  // Units are shown and stored: only text.
  for (const std::string_view unit :
       {"\x1b[2J"sv, "\xff"sv, "a\nb"sv, "\0"sv, "\xe2\x80\xae"sv}) {
    CAPTURE(unit);
    CHECK(device.hears("a/b/$unit", unit) == "nothing");
  }
  CHECK(device.hears("a/b/$unit", "\"") == "a/b/$unit=\"");

  std::string many =
      R"({"nodes": {"n": {"properties": {"p": {}}}, "m": {"properties": {)";
  for (int i = 0; i < 1000; ++i)
    many += fmt::format("{}\"p{:04}\": {{\"unit\": \"V\"}}", i == 0 ? "" : ",", i);
  many += "}}}}";
  Device other;
  for (const std::size_t count : {64U, 128U, 192U, 256U, 256U}) {
    other.hears("$description", many);
    CHECK(other.known.size() == count);
  }
  for (int i = 0; i < 300; ++i)
    device.hears(fmt::format("n/p{}/$unit", i), "V");
  CHECK(device.known.size() == 256);
  // What is known already may still change.
  CHECK(device.hears("a/b/$unit", "V") == "a/b/$unit=V");
}

TEST_CASE("mangled messages are refused or read, never thrown at the caller") {
  const std::string good(kDescription);
  std::mt19937 random(5);  // fixed, so that a failure comes again
  Device device;
  device.hears("$description", good);
  const Facts known = device.known;
  const auto check_sane = [&](std::string_view below, std::string_view payload) {
    const auto decoded = decode_homie({.bytes = payload, .below = below}, {}, known);
    testing::check_sane(decoded);
    if (!decoded) return;
    REQUIRE(decoded->facts.size() <= 64);
    REQUIRE(decoded->samples.size() <= 1);
  };
  for (int round = 0; round < 10'000; ++round) {
    const std::string bad = testing::mangled(good, "{}[],:\"\\0e-$\x1b\xff", random);
    check_sane("$description", bad);
    std::string topic = "climate/temperature/$unit";
    topic.resize(random() % (topic.size() + 1));
    if (!topic.empty()) topic[random() % topic.size()] = "/$a\xff"[random() % 4];
    std::string number = "-21.5e-1";
    number[random() % number.size()] = static_cast<char>(random() % 256);
    check_sane(topic, number);
    check_sane("climate/temperature", number);
    check_sane("soil/moisture", number);
  }
}

}  // namespace
}  // namespace rimeward
