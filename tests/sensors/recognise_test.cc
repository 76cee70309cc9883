#include "sensors/recognise.h"

#include <string>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "sensors/bytes.h"

namespace rimeward {
namespace {

using namespace std::string_literals;
using namespace std::string_view_literals;

constexpr auto kYard = "garden/yard/climate"sv;

// "json: temperature 3; bthome: battery 97; a bare number", or "nothing".
std::string shown(const Recognition& seen) {
  std::string text;
  const auto add = [&](std::string_view part) {
    text += text.empty() ? "" : "; ";
    text += part;
  };
  for (const Recognised& way : seen.ways) {
    std::string values;
    for (const Sample& sample : way.decoded.samples) {
      values += fmt::format(" {} {:.6g}", traits(sample.channel).name, sample.value);
    }
    for (const auto& [name, value] : way.decoded.facts)
      values += fmt::format(" {}={}", name, value);
    add(fmt::format("{}:{}", way.decoder->name, values));
  }
  if (seen.bare_number) add("a bare number");
  return text.empty() ? "nothing" : text;
}

std::string seen(std::string_view payload, std::string_view topic = kYard,
                 const PayloadSpec& spec = {}) {
  return shown(recognise(topic, {payload}, spec, {}));
}

std::string seen_below(std::string_view below, std::string_view payload) {
  return shown(
      recognise("homie/5/probe/"s + std::string(below), {payload, below}, {}, {}));
}

TEST_CASE("each format is known by what it truly holds") {
  CHECK(seen(R"({"temperature": 3, "humidity": 90})") ==
        "json: temperature 3 humidity 90");
  CHECK(seen(R"([{"n":"urn:dev:mac:0024befffe804ff1:temp","u":"Cel","v":3}])") ==
        "senml: temperature 3");
  // One record of CBOR: {0: "t", 1: "Cel", 2: 3}.
  CHECK(seen("\x81\xa3\x00\x61t\x01\x63"
             "Cel\x02\x03"sv) == "senml: temperature 3");
  CHECK(seen("4002CA09") == "bthome: temperature 25.06");
  CHECK(seen("QALKCQ==") == "bthome: temperature 25.06");
  CHECK(seen(bytes_from_hex("4002CA09").value()) == "bthome: temperature 25.06");
  CHECK(seen(R"({"service_data": "4002CA09"})") == "bthome: temperature 25.06");
}

TEST_CASE("what holds nothing that can be measured is nothing") {
  for (const auto payload :
       {""sv, " "sv, "ON"sv, "online"sv, "{}"sv, "[]"sv, "null"sv, "true"sv, "nan"sv,
        "21.5 C"sv, "21,5"sv, R"({"state": "on"})"sv, "\xff\xfe"sv, "[21.5]"sv,
        R"("21.5")"sv, "{\"temperature\": "sv, "D=21.5"sv, "cafe"sv,
        // A BTHome button, and one that tells only its packet's number.
        "403A01"sv, "40000A"sv,
        // Encrypted.
        "41a47266c95f730011223378237214"sv,
        // SenML of no channel.
        R"([{"n":"door","vs":"open"}])"sv}) {
    CAPTURE(payload);
    CHECK(seen(payload) == "nothing");
  }
  CHECK(seen(std::string(65'537, '1')) == "nothing");
}

TEST_CASE("a bare number is of the channel that its topic's last level names") {
  struct Row {
    const char* topic;
    const char* outcome;
  };
  for (const Row& row : {
           Row{"garden/yard/temperature", "number: temperature 21.5"},
           Row{"garden/yard/Temperature", "number: temperature 21.5"},
           Row{"temp", "number: temperature 21.5"},
           Row{"garden/yard/temperature_C", "number: temperature 21.5"},
           Row{"garden/yard/HUMIDITY", "number: humidity 21.5"},
           Row{"/rh", "number: humidity 21.5"},
           Row{"garden/bed/soil_temperature", "number: soil_temperature 21.5"},
           Row{"garden/bed/soilMoisture", "number: soil_moisture 21.5"},
           Row{"garden/bed/soilmoisture", "number: soil_moisture 21.5"},
           Row{"garden/bed/battery", "number: battery 21.5"},
           Row{"garden/bed/battery_voltage", "number: battery_voltage 21.5"},
           Row{"garden/bed/light", "number: light 21.5"},
           Row{"garden/bed/signal", "number: signal 21.5"},
           Row{"garden/forecast_low", "number: forecast_low 21.5"},
           Row{"region/tonight_low", "number: forecast_low 21.5"},
           // A letter may be anything, and only the last level is looked at, whole.
           Row{"garden/yard/t", "a bare number"},
           Row{"garden/yard/V", "a bare number"},
           Row{"garden/temperature/yard", "a bare number"},
           Row{"garden/yard/temperature2", "a bare number"},
           Row{"garden/yard/soil temperature", "a bare number"},
           Row{"garden/yard/temperature/", "a bare number"},
           Row{"garden/yard/probe", "a bare number"},
           Row{"garden/forecast", "a bare number"},
           Row{"garden/low", "a bare number"},
           Row{"", "a bare number"},
       }) {
    CAPTURE(row.topic);
    CHECK(seen("21.5", row.topic) == row.outcome);
  }
  const auto way = recognise("garden/yard/humidity", {"81"}, {}, {}).ways.at(0);
  CHECK(way.spec.lone_channel == Channel::kHumidity);
  CHECK(way.decoder == find_decoder("number"));
}

TEST_CASE("the channel that the owner said stands before the topic's") {
  PayloadSpec spec;
  spec.lone_channel = Channel::kSoilTemperature;
  CHECK(seen("21.5", "garden/yard/probe", spec) == "number: soil_temperature 21.5");
  CHECK(seen("21.5", "garden/yard/humidity", spec) == "number: soil_temperature 21.5");
  CHECK(recognise("x", {"21.5"}, spec, {}).ways.at(0).spec.lone_channel ==
        Channel::kSoilTemperature);
  // Of other formats the channel is none of the message's business.
  const auto json = recognise("garden/yard/humidity", {R"({"temp": 3})"}, {}, {});
  CHECK_FALSE(json.ways.at(0).spec.lone_channel);
}

TEST_CASE("a topic that says another scale than the owner names no channel") {
  PayloadSpec fahrenheit;
  fahrenheit.scale = TemperatureScale::kFahrenheit;
  CHECK(seen("50", "garden/yard/temperature_F") == "a bare number");
  CHECK(seen("50", "garden/yard/temperature_F", fahrenheit) == "number: temperature 10");
  CHECK(seen("50", "garden/yard/temperature_C", fahrenheit) == "a bare number");
  CHECK(seen("50", "garden/yard/temperature", fahrenheit) == "number: temperature 10");
}

TEST_CASE("what could be two things is given as both") {
  // A number, and BTHome's battery of 97 % in hex.
  CHECK(seen("400161", "garden/yard/light") ==
        "number: light 400161; bthome: battery 97");
  CHECK(seen("400161", "garden/yard/probe") == "bthome: battery 97; a bare number");
  CHECK(seen(R"({"service_data": "400161", "rssi": -71})") ==
        "json: signal -71; bthome: battery 97");
  CHECK(seen(R"({"temperature": 3, "data": "4002CA09"})") ==
        "json: temperature 3; bthome: temperature 25.06");
  // What begins like BTHome but is cut short is a number alone.
  CHECK(seen("4002", "garden/yard/light") == "number: light 4002");
  CHECK(seen(R"({"temperature": 3, "data": "4002CA"})") == "json: temperature 3");
}

TEST_CASE("formats that span topics are asked below a sensor's topic, and alone") {
  CHECK(seen_below("climate/temperature/$unit", "°C") ==
        "homie: climate/temperature/$unit=°C");
  CHECK(seen_below("climate/temperature", "21.5") == "nothing");
  CHECK(seen_below("climate/temperature", R"({"temperature": 3})") == "nothing");
  CHECK(seen_below("climate/temperature", "4002CA09") == "nothing");
  const Facts known{{"climate/temperature/$unit", "°C"}};
  CHECK(shown(recognise("homie/5/probe/climate/temperature",
                        {"21.5", "climate/temperature"}, {}, known)) ==
        "homie: temperature 21.5");
  CHECK(seen("ready", "homie/5/probe/$state") == "nothing");
}

TEST_CASE("the owner's words on where things stand hold for every way") {
  PayloadSpec spec;
  spec.where = {{Channel::kHumidity, "/air/rh"}};
  CHECK(seen(R"({"air": {"rh": 90, "temperature": 3}})", kYard, spec) ==
        "json: humidity 90");
  CHECK(seen("4002CA09", kYard, spec) == "nothing");
}

}  // namespace
}  // namespace rimeward
