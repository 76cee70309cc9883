#include <string>

#include <doctest/doctest.h>

#include "sensors/decoders.h"

namespace rimeward {
namespace {

using namespace std::string_view_literals;

std::string refusal(std::string_view payload) {
  PayloadSpec spec;
  spec.lone_channel = Channel::kAirTemperature;
  const auto decoded = decode_number({payload}, spec, {});
  return decoded ? "" : decoded.error().message;
}

TEST_CASE("one number is a value of the channel that the sensor reports") {
  struct Row {
    std::string_view payload;
    double value;
  };
  for (const Row& row :
       {Row{"21.5", 21.5}, Row{"-0.1", -0.1}, Row{"0", 0}, Row{"+3.25", 3.25},
        Row{" 63\r\n", 63}, Row{"\t7 ", 7}, Row{"1e2", 100}, Row{".5", 0.5},
        Row{"1e308", 1e308}, Row{"-40.", -40}}) {
    CAPTURE(row.payload);
    PayloadSpec spec;
    spec.lone_channel = Channel::kHumidity;
    const auto decoded = decode_number({row.payload}, spec, {});
    REQUIRE(decoded);
    REQUIRE(decoded->samples.size() == 1);
    CHECK(decoded->samples[0].channel == Channel::kHumidity);
    CHECK(decoded->samples[0].value == row.value);
    CHECK_FALSE(decoded->samples[0].measured_at);
  }
}

TEST_CASE("a number in degrees Fahrenheit is converted where it is a temperature") {
  PayloadSpec spec;
  spec.scale = TemperatureScale::kFahrenheit;
  const auto value = [&](std::string_view payload, Channel channel) {
    spec.lone_channel = channel;
    return decode_number({payload}, spec, {}).value().samples.at(0).value;
  };
  // The fixed points of the scale; -40 is the same on both.
  CHECK(value("32", Channel::kAirTemperature) == 0);
  CHECK(value("212", Channel::kSoilTemperature) == doctest::Approx(100));
  CHECK(value("-40", Channel::kAirTemperature) == doctest::Approx(-40));
  CHECK(value("50", Channel::kHumidity) == 50);
  CHECK(value("50", Channel::kBatteryPercent) == 50);
}

TEST_CASE("a number of which nobody has said the channel is refused") {
  CHECK(decode_number({"21.5"}, {}, {}).error().message ==
        "a bare number, which could be of any channel: say of which");
}

TEST_CASE("a unit after the number is refused by name") {
  CHECK(refusal("21.5 °C") ==
        "expected one number and nothing after it, found \"°C\" after 21.5");
  CHECK(refusal("21.5 C") ==
        "expected one number and nothing after it, found \"C\" after 21.5");
  CHECK(refusal("63%") ==
        "expected one number and nothing after it, found \"%\" after 63");
  CHECK(refusal("21,5") ==
        "expected one number and nothing after it, found \",5\" after 21");
  CHECK(refusal("0x10") ==
        "expected one number and nothing after it, found \"x10\" after 0");
  CHECK(refusal("21.5 63") ==
        "expected one number and nothing after it, found \"63\" after 21.5");
  CHECK(refusal("21.5\0"sv) ==
        "expected one number and nothing after it, found \"\\x00\" after 21.5");
}

TEST_CASE("what is no number is refused and shown without its control characters") {
  CHECK(refusal("") == "the payload is empty");
  CHECK(refusal(" \n") == "expected one number, got only white space");
  CHECK(refusal("nan") == "expected one number, got \"nan\"");
  CHECK(refusal("-inf") == "expected one number, got \"-inf\"");
  CHECK(refusal("Infinity") == "expected one number, got \"Infinity\"");
  CHECK(refusal("+-1") == "expected one number, got \"+-1\"");
  CHECK(refusal("--1") == "expected one number, got \"--1\"");
  CHECK(refusal("-") == "expected one number, got \"-\"");
  CHECK(refusal("offline") == "expected one number, got \"offline\"");
  CHECK(refusal("\x1b[2J\xff"sv) == "expected one number, got \"\\x1b[2J\\xff\"");
  CHECK(refusal("1e400") == "a number beyond all range: \"1e400\"");
  CHECK(refusal("{\"temperature\": 21.5}") ==
        "expected one number, got \"{\\\"temperature\\\": 21.5}\"");
  CHECK(refusal(std::string(70'000, '1')) == "payload of 70000 bytes: more than 65536");
}

TEST_CASE("decoders are found by the names of their list") {
  REQUIRE(all_decoders().size() >= 2);
  for (const Decoder& decoder : all_decoders()) {
    CHECK(find_decoder(decoder.name) == &decoder);
    CHECK_FALSE(decoder.reads.empty());
  }
  CHECK(find_decoder("json")->decode({"{\"t\": 21.5}"}, {}, {}).has_value());
  CHECK_FALSE(find_decoder("json")->decode({"21.5"}, {}, {}).has_value());
  CHECK(find_decoder("jsn") == nullptr);
  CHECK(find_decoder("") == nullptr);
}

}  // namespace
}  // namespace rimeward
