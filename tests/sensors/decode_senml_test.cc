#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <random>
#include <string>
#include <utility>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "sensors/decoders.h"
#include "sensors/iso_time.h"
#include "sensors/senml_pack.h"
#include "tests/support/hostile.h"

namespace rimeward {
namespace {

using namespace std::string_view_literals;

constexpr auto kAir = Channel::kAirTemperature;
constexpr auto kHumidity = Channel::kHumidity;
constexpr auto kVoltage = Channel::kBatteryVoltage;
constexpr auto kSoil = Channel::kSoilTemperature;

std::string bytes_of(std::string_view hex) {
  std::string bytes;
  for (std::size_t i = 0; i + 1 < hex.size(); i += 2) {
    const std::string pair(hex.substr(i, 2));
    bytes += static_cast<char>(std::strtoul(pair.c_str(), nullptr, 16));
  }
  return bytes;
}

std::string shown(const SenmlTime& time) {
  if (time.at) return " @" + format_utc(*time.at);
  return time.ago.count() == 0 ? "" : fmt::format(" -{} ms", time.ago.count());
}

// One line a record: its name's end after the last ":" or "/" where `short_names`, value,
// unit and time.
std::string resolved(std::string_view payload, bool short_names = false) {
  const auto records = resolved_senml(payload);
  if (!records) return "refused: " + records.error().message;
  std::string text;
  for (const SenmlRecord& record : *records) {
    const std::size_t cut = short_names ? record.name.find_last_of(":/") + 1 : 0;
    text += fmt::format("{} {} {}{}\n", record.name.substr(cut),
                        record.value ? fmt::format("{}", *record.value) : "-",
                        record.unit, shown(record.time));
  }
  return text;
}

PayloadSpec naming(std::map<Channel, std::string> names) {
  PayloadSpec spec;
  spec.where = std::move(names);
  return spec;
}

// The samples as "temperature 21.5 @2026-04-12T18:03:20Z, humidity 63", or why none.
std::string outcome(std::string_view payload, const PayloadSpec& spec = {}) {
  const auto decoded = decode_senml({payload}, spec, {});
  if (!decoded) return "refused: " + decoded.error().message;
  REQUIRE(decoded->facts.empty());
  std::string text;
  for (const Sample& sample : decoded->samples) {
    text +=
        fmt::format("{}{} {:g}{}", text.empty() ? "" : ", ", traits(sample.channel).name,
                    sample.value, shown({.at = sample.measured_at, .ago = sample.ago}));
  }
  return text;
}

// The packs of RFC 8428, section 5.1, read from the specification's own files.
constexpr std::string_view kSingle =
    R"([{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}])";
constexpr std::string_view kTwo =
    R"([{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},
        {"n":"current","u":"A","v":1.2}])";
constexpr std::string_view kPast =
    R"([{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,
         "n":"voltage","u":"V","v":120.1},
        {"n":"current","t":-5,"v":1.2},{"n":"current","t":-4,"v":1.3},
        {"n":"current","t":-3,"v":1.4},{"n":"current","t":-2,"v":1.5},
        {"n":"current","t":-1,"v":1.6},{"n":"current","v":1.7}])";
constexpr std::string_view kStream =
    R"([{"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":21.2},
        {"t":10,"v":21.3},{"t":20,"v":21.4},{"t":30,"v":21.4},{"t":40,"v":21.5},
        {"t":50,"v":21.5},{"t":60,"v":21.5},{"t":70,"v":21.6},{"t":80,"v":21.7}])";
constexpr std::string_view kMoving =
    R"([{"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},
        {"u":"lon","v":24.30621},{"u":"lat","v":60.07965},
        {"t":60,"v":20.3},{"u":"lon","t":60,"v":24.30622},{"u":"lat","t":60,"v":60.07965},
        {"t":120,"v":20.7},{"u":"lon","t":120,"v":24.30623},
        {"u":"lat","t":120,"v":60.07966},{"u":"%EL","t":150,"v":98},
        {"t":180,"v":21.2},{"u":"lon","t":180,"v":24.30628},
        {"u":"lat","t":180,"v":60.07967}])";
constexpr std::string_view kTypes =
    R"([{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},
        {"n":"label","vs":"Machine Room"},{"n":"open","vb":false},
        {"n":"nfv-reader","vd":"aGkgCg"}])";
constexpr std::string_view kCollection =
    R"([{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},
        {"n":"humidity","u":"%RH","v":30},
        {"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},
        {"n":"humidity","u":"%RH","v":67}])";
// Section 6: the second pack of section 5.1.2.
constexpr std::string_view kPastInCbor =
    "87a721781b75726e3a6465763a6f773a3130653230373361303130383030363a22fb41d303a15b0010"
    "6223614120050067766f6c7461676501615602fb405e066666666666a3006763757272656e74062402"
    "fb3ff3333333333333a3006763757272656e74062302fb3ff4cccccccccccda3006763757272656e74"
    "062202fb3ff6666666666666a3006763757272656e74062102f93e00a3006763757272656e74062002"
    "fb3ff999999999999aa3006763757272656e74060002fb3ffb333333333333";

TEST_CASE("the packs of RFC 8428, section 5.1, resolve as it says") {
  // 5.1.1
  CHECK(resolved(kSingle) == "urn:dev:ow:10e2073a01080063 23.1 Cel\n");
  // 5.1.2, first
  CHECK(resolved(kTwo) ==
        "urn:dev:ow:10e2073a01080063:voltage 120.1 V\n"
        "urn:dev:ow:10e2073a01080063:current 1.2 A\n");
  // 5.1.2, second; in the order of time, as section 4.6 has it.
  CHECK(resolved(kPast, true) ==
        "current 1.2 A @2010-06-08T18:01:11Z\n"
        "current 1.3 A @2010-06-08T18:01:12Z\n"
        "current 1.4 A @2010-06-08T18:01:13Z\n"
        "current 1.5 A @2010-06-08T18:01:14Z\n"
        "current 1.6 A @2010-06-08T18:01:15Z\n"
        "voltage 120.1 V @2010-06-08T18:01:16Z\n"
        "current 1.7 A @2010-06-08T18:01:16Z\n");
  // 5.1.2, stream
  CHECK(resolved(kStream, true) ==
        "10e2073a01080063 21.2 %RH @2011-10-31T13:24:24Z\n"
        "10e2073a01080063 21.3 %RH @2011-10-31T13:24:34Z\n"
        "10e2073a01080063 21.4 %RH @2011-10-31T13:24:44Z\n"
        "10e2073a01080063 21.4 %RH @2011-10-31T13:24:54Z\n"
        "10e2073a01080063 21.5 %RH @2011-10-31T13:25:04Z\n"
        "10e2073a01080063 21.5 %RH @2011-10-31T13:25:14Z\n"
        "10e2073a01080063 21.5 %RH @2011-10-31T13:25:24Z\n"
        "10e2073a01080063 21.6 %RH @2011-10-31T13:25:34Z\n"
        "10e2073a01080063 21.7 %RH @2011-10-31T13:25:44Z\n");
  // 5.1.3, as 5.1.4 prints it resolved
  CHECK(resolved(kMoving, true) ==
        "10e2073a01080063 20 %RH @2011-10-31T13:24:24Z\n"
        "10e2073a01080063 24.30621 lon @2011-10-31T13:24:24Z\n"
        "10e2073a01080063 60.07965 lat @2011-10-31T13:24:24Z\n"
        "10e2073a01080063 20.3 %RH @2011-10-31T13:25:24Z\n"
        "10e2073a01080063 24.30622 lon @2011-10-31T13:25:24Z\n"
        "10e2073a01080063 60.07965 lat @2011-10-31T13:25:24Z\n"
        "10e2073a01080063 20.7 %RH @2011-10-31T13:26:24Z\n"
        "10e2073a01080063 24.30623 lon @2011-10-31T13:26:24Z\n"
        "10e2073a01080063 60.07966 lat @2011-10-31T13:26:24Z\n"
        "10e2073a01080063 98 %EL @2011-10-31T13:26:54Z\n"
        "10e2073a01080063 21.2 %RH @2011-10-31T13:27:24Z\n"
        "10e2073a01080063 24.30628 lon @2011-10-31T13:27:24Z\n"
        "10e2073a01080063 60.07967 lat @2011-10-31T13:27:24Z\n");
  // 5.1.5
  CHECK(resolved(kTypes, true) == "temp 23.1 Cel\nlabel - \nopen - \nnfv-reader - \n");
  // 5.1.6
  CHECK(resolved(kCollection) ==
        "2001:db8::2/temperature 25.2 Cel @2011-10-31T16:27:09Z\n"
        "2001:db8::2/humidity 30 %RH @2011-10-31T16:27:09Z\n"
        "2001:db8::1/temperature 12.3 Cel @2011-10-31T16:27:09Z\n"
        "2001:db8::1/humidity 67 %RH @2011-10-31T16:27:09Z\n");
}

TEST_CASE("the CBOR of RFC 8428, section 6, is the pack that it is the CBOR of") {
  const std::string bytes = bytes_of(kPastInCbor);
  REQUIRE(bytes.size() == 195);
  CHECK(resolved(bytes) == resolved(kPast));
  CHECK(outcome(bytes) == outcome(kPast));
  // With the tag that says that it is CBOR, and as a stream, whose length is not said.
  CHECK(resolved("\xd9\xd9\xf7" + bytes) == resolved(kPast));
  CHECK(resolved("\x9f" + bytes.substr(1) + "\xff") == resolved(kPast));
}

TEST_CASE("records of known units become samples, and the others are passed over") {
  CHECK(outcome(kSingle) == "temperature 23.1");
  CHECK(outcome(kTwo) == "battery_voltage 120.1");
  CHECK(outcome(kPast) == "battery_voltage 120.1 @2010-06-08T18:01:16Z");
  CHECK(outcome(kMoving) ==
        "humidity 20 @2011-10-31T13:24:24Z, "
        "humidity 20.3 @2011-10-31T13:25:24Z, "
        "humidity 20.7 @2011-10-31T13:26:24Z, "
        "battery 98 @2011-10-31T13:26:54Z, "
        "humidity 21.2 @2011-10-31T13:27:24Z");
  CHECK(outcome(kTypes) == "temperature 23.1");
  CHECK(outcome(R"([{"bn":"frame:","n":"air","u":"K","v":271.65},
                    {"n":"soil","u":"Cel","v":4.5},{"n":"p","u":"Pa","v":93620},
                    {"n":"moisture","u":"/","v":0.31},{"n":"rssi","u":"dBW","v":-101}])") ==
        "temperature -1.5, soil_temperature 4.5, pressure 936.2, soil_moisture 31, "
        "signal -71");
}

TEST_CASE("two records of one channel are not chosen between") {
  CHECK(
      outcome(kCollection) ==
      "refused: temperature is in more than one record, \"2001:db8::2/temperature\" and "
      "\"2001:db8::1/temperature\": say in which, as temperature = "
      "\"2001:db8::2/temperature\"");
}

TEST_CASE("names say which records are read, and then only these are") {
  CHECK(outcome(kCollection, naming({{kAir, "2001:db8::1/temperature"}})) ==
        "temperature 12.3 @2011-10-31T16:27:09Z");
  CHECK(outcome(kCollection, naming({{kAir, "8::2/temperature"}})) ==
        "refused: no record is named \"8::2/temperature\"");
  CHECK(outcome(kCollection,
                naming({{kAir, "db8::2/temperature"}, {kHumidity, "db8::2/humidity"}})) ==
        "temperature 25.2 @2011-10-31T16:27:09Z, humidity 30 @2011-10-31T16:27:09Z");
  // One that finds nothing costs the others nothing.
  CHECK(outcome(kTypes, naming({{kAir, "temp"}, {kHumidity, "rh"}})) ==
        "temperature 23.1");
  CHECK(outcome(kTypes, naming({{kAir, "t"}, {kHumidity, "rh"}})) ==
        "refused: no record is named \"t\" nor by any other name given");
}

TEST_CASE("a name may be the end of a record's, from one of its parts on") {
  constexpr std::string_view kPack =
      R"([{"bn":"urn:dev:mac:0024befffe804ff1/bed-","n":"temperature","u":"Cel","v":7}])";
  for (const std::string_view name :
       {"temperature", "bed-temperature", "0024befffe804ff1/bed-temperature",
        "urn:dev:mac:0024befffe804ff1/bed-temperature"}) {
    CAPTURE(name);
    CHECK(outcome(kPack, naming({{kSoil, std::string(name)}})) == "soil_temperature 7");
  }
  for (const std::string_view name :
       {"", "erature", "Temperature", "-temperature", "bed", "f1/bed-temperature",
        "xurn:dev:mac:0024befffe804ff1/bed-temperature"}) {
    CAPTURE(name);
    CHECK(
        outcome(kPack, naming({{kSoil, std::string(name)}})).starts_with("refused: no "));
  }
  CHECK(outcome(kCollection, naming({{kAir, "temperature"}})) == outcome(kCollection));
}

TEST_CASE("a record that its owner named must be of a unit of its channel, or of none") {
  CHECK(outcome(kCollection, naming({{kAir, "2001:db8::2/humidity"}})) ==
        "refused: \"2001:db8::2/humidity\": in \"%RH\", which is no unit of temperature");
  constexpr std::string_view kBare = R"([{"n":"t","v":50},{"n":"h","v":60}])";
  CHECK(outcome(kBare) ==
        "refused: no record is of a channel by its unit, which are: none");
  PayloadSpec spec = naming({{kAir, "t"}, {kHumidity, "h"}});
  CHECK(outcome(kBare, spec) == "temperature 50, humidity 60");
  spec.scale = TemperatureScale::kFahrenheit;
  CHECK(outcome(kBare, spec) == "temperature 10, humidity 60");
  CHECK(outcome(kTypes, naming({{kAir, "label"}})) ==
        "refused: no record named \"label\" has a number");
}

TEST_CASE("a pack without any channel says what it saw") {
  CHECK(
      outcome(R"([{"n":"x","u":"lon","v":1},{"n":"x","u":"A","v":2},{"n":"y","v":3}])") ==
      "refused: no record is of a channel by its unit, which are: none, \"A\", \"lon\"");
  CHECK(outcome(R"([{"n":"x","vs":"on"}])") == "refused: no record has a number");
  CHECK(outcome("[]") == "refused: no record has a number");
}

TEST_CASE("times below 2^28 are counted from now, and others are instants") {
  // RFC 8428, section 4.5.3.
  const auto at = [](std::string_view t) {
    return outcome(fmt::format(R"([{{"n":"x","u":"Cel","v":1,"t":{}}}])", t));
  };
  CHECK(at("0") == "temperature 1");
  CHECK(at("-5") == "temperature 1 -5000 ms");
  CHECK(at("-4.5") == "temperature 1 -5000 ms");
  CHECK(at("-268435456") == "temperature 1 -268435456000 ms");
  CHECK(at("268435456") == "temperature 1 @1978-07-04T21:24:16Z");
  CHECK(at("1276020076.999") == "temperature 1 @2010-06-08T18:01:16Z");
  CHECK(at("253402300799") == "temperature 1 @9999-12-31T23:59:59Z");
  // Less than a second ahead is now.
  CHECK(at("0.9") == "temperature 1");
  CHECK(at("20") == "refused: \"x\": measured 20 s from now");
  CHECK(at("268435455") == "refused: \"x\": measured 268435455 s from now");
  CHECK(at("-268435457") == "refused: record 1: the time -268435457 s is no time");
  CHECK(at("1e300") == "refused: record 1: the time 1e+300 s is no time");
  // What is not read may lie ahead.
  CHECK(outcome(R"([{"n":"x","u":"Cel","v":1},{"n":"y","u":"A","v":1,"t":20}])") ==
        "temperature 1");
}

TEST_CASE("the base fields are those of the record or of the last one before it") {
  // RFC 8428, section 4.1: base time and time, base value and value add up.
  CHECK(resolved(R"([{"bn":"a:","bt":1e9,"bu":"Cel","bv":20,"n":"x","v":1.5},
                     {"n":"y","t":-1,"v":-0.5},{"n":"z","u":"%RH","v":3},
                     {"bn":"b","bt":2e9,"bv":0,"bu":"K"}])") ==
        "a:y 19.5 Cel @2001-09-09T01:46:39Z\n"
        "a:x 21.5 Cel @2001-09-09T01:46:40Z\n"
        "a:z 23 %RH @2001-09-09T01:46:40Z\n"
        "b 0 K @2033-05-18T03:33:20Z\n");
  // Section 4.5.4: what is missing counts as 0.
  CHECK(resolved(R"([{"bn":"a","bv":20.5}])") == "a 20.5 \n");
  CHECK(resolved(R"([{"bn":"a","bv":20.5},{"vs":"on"}])") == "a 20.5 \na - \n");
}

TEST_CASE("a record has one value, or a sum") {
  // RFC 8428, section 4.2.
  CHECK(resolved(R"([{"n":"x","u":"J","s":5}])") == "x - J\n");
  CHECK(resolved(R"([{"n":"x","u":"Cel","s":5,"v":2}])") == "x 2 Cel\n");
  CHECK(resolved(R"([{"n":"x","bs":5}])") == "x - \n");
  CHECK(resolved(R"([{"n":"x","bv":20,"s":5}])") == "x - \n");
  CHECK(resolved(R"([{"n":"x"}])") == "refused: record 1: no value");
  CHECK(resolved(R"([{"n":"x","v":1},{"n":"y","ut":1}])") ==
        "refused: record 2: no value");
  CHECK(resolved(R"([{"n":"x","v":1,"vs":"1"}])") ==
        "refused: record 1: more than one value");
  CHECK(resolved(R"([{"n":"x","vb":true,"vd":""}])") ==
        "refused: record 1: more than one value");
}

TEST_CASE("versions above 10 are refused, and older ones read") {
  // RFC 8428, section 4.4.
  const auto version = [](std::string_view text) {
    return resolved(fmt::format(R"([{{"bver":{},"n":"x","v":1}}])", text));
  };
  CHECK(version("10") == "x 1 \n");
  CHECK(version("5") == "x 1 \n");
  CHECK(version("11") ==
        "refused: record 1: version 11: newer than 10, which is understood");
  for (const std::string_view text : {"0", "-1", "5.5", "\"10\"", "null", "[]"}) {
    CAPTURE(text);
    CHECK(version(text).starts_with("refused: record 1: \"bver\": expected a version"));
  }
}

TEST_CASE("unknown labels are passed over unless they end in _") {
  // RFC 8428, section 4.4.
  CHECK(resolved(R"([{"n":"x","v":1,"zz":{"a":[1]},"_z":2}])") == "x 1 \n");
  CHECK(resolved(R"([{"n":"x","v":1},{"n":"y","v":1,"calibration_":2}])") ==
        "refused: record 2: \"calibration_\" must be understood (RFC 8428, section 4.4) "
        "and is not");
  CHECK(
      resolved(bytes_of("81a300617802016278"
                        "5f02")) ==
      "refused: record 1: \"x_\" must be understood (RFC 8428, section 4.4) and is not");
}

TEST_CASE("names are of the characters that RFC 8428, section 4.5.1, allows") {
  const auto named = [](std::string_view name) {
    return resolved(fmt::format(R"([{{"n":"{}","v":1}}])", name));
  };
  CHECK(named("0Az-:./_9") == "0Az-:./_9 1 \n");
  CHECK(named("") == "refused: record 1: no name");
  CHECK(resolved(R"([{"v":1}])") == "refused: record 1: no name");
  CHECK(named("_x") == "refused: record 1: \"_x\" is no name (RFC 8428, section 4.5.1)");
  for (const std::string_view name : {"-x", ":x", ".x", "/x", "x y", "x\xc3\xa9", "x,y",
                                      "x+", "x\\u0000", "x\\n", "(x)", "x#"}) {
    CAPTURE(name);
    CHECK(named(name).ends_with("is no name (RFC 8428, section 4.5.1)"));
  }
  CHECK(named(std::string(256, 'x')) == std::string(256, 'x') + " 1 \n");
  CHECK(named(std::string(257, 'x')) ==
        "refused: record 1: \"n\": longer than 256 bytes");
  CHECK(resolved(R"([{"bn":")" + std::string(200, 'x') + R"(","n":")" +
                 std::string(57, 'x') + R"(","v":1}])")
            .ends_with("is no name (RFC 8428, section 4.5.1)"));
}

TEST_CASE("fields of the wrong type are refused and named") {
  const auto with = [](std::string_view field) {
    return resolved(fmt::format(R"([{{"n":"x","v":1}},{{"bn":"x",{}}}])", field));
  };
  CHECK(with(R"("v":"21.5")") ==
        "refused: record 2: \"v\": expected a number, got \"21.5\"");
  CHECK(with(R"("v":1,"t":"now")") ==
        "refused: record 2: \"t\": expected a number, got \"now\"");
  CHECK(with(R"("v":1,"bt":null)") ==
        "refused: record 2: \"bt\": expected a number, got null");
  CHECK(with(R"("v":1,"bv":[1])") ==
        "refused: record 2: \"bv\": expected a number, got an array");
  CHECK(with(R"("v":1,"u":1)") == "refused: record 2: \"u\": expected a text, got 1");
  CHECK(with(R"("v":1,"bu":true)") ==
        "refused: record 2: \"bu\": expected a text, got true");
  CHECK(with(R"("v":1,"n":{})") ==
        "refused: record 2: \"n\": expected a text, got an object");
  CHECK(resolved("[1]") == "refused: record 1: expected an object, got 1");
  CHECK(resolved("[[]]") == "refused: record 1: expected an object, got an array");
}

TEST_CASE("a sender that has no number to give costs the others nothing") {
  CHECK(outcome(R"([{"n":"t","u":"Cel","v":null},{"n":"h","u":"%RH","v":63}])") ==
        "humidity 63");
  // NaN, infinity and -infinity as half, single and double floats.
  for (const std::string_view none :
       {"f97e00", "f97c00", "f9fc00", "fa7fc00000", "fb7ff0000000000000"}) {
    CAPTURE(none);
    const std::string pack =
        "82a300617401634365"
        "6c02" +
        std::string(none) +
        "a30061680163255248"
        "02183f";
    CHECK(outcome(bytes_of(pack)) == "humidity 63");
  }
  // In a field that the others rest on it is a mistake.
  CHECK(resolved(bytes_of("81a300617402"
                          "01"
                          "22f97e00")) ==
        "refused: record 1: \"bt\": expected a number, got null");
}

TEST_CASE("CBOR may give numbers as integers, floats of any size and decimal fractions") {
  // RFC 8428, section 6. {n: "t", u: "Cel", v: ...}
  for (const std::string_view value :
       {"f94d60", "fa41ac0000", "fb4035800000000000", "c4822018d7"}) {
    CAPTURE(value);
    CHECK(outcome(bytes_of("81a300617401634365"
                           "6c02" +
                           std::string(value))) == "temperature 21.5");
  }
  CHECK(outcome(bytes_of("81a300617401634365"
                         "6c0229")) == "temperature -10");
}

TEST_CASE("of a label that stands twice the last counts in JSON, and none in CBOR") {
  CHECK(outcome(R"([{"n":"x","u":"Cel","v":1,"v":2}])") == "temperature 2");
  CHECK(resolved(bytes_of("81a3006178020102"
                          "02"))
            .ends_with("key \"2\" twice"));
}

TEST_CASE("of one channel and second the last record is the sample") {
  CHECK(outcome(R"([{"bn":"x","bu":"Cel","bt":1276020076,"v":1},{"t":0.4,"v":2},
                    {"t":0.2,"v":3},{"t":1,"v":4}])") ==
        "temperature 2 @2010-06-08T18:01:16Z, temperature 4 @2010-06-08T18:01:17Z");
  CHECK(outcome(R"([{"n":"x","u":"Cel","v":1},{"n":"x","u":"Cel","v":2}])") ==
        "temperature 2");
}

TEST_CASE("what is no pack is refused") {
  CHECK(outcome("") == "refused: the payload is empty");
  CHECK(outcome(R"({"n":"x","v":1})") ==
        "refused: begins neither as a JSON nor as a CBOR array");
  CHECK(outcome("21.5") == "refused: begins neither as a JSON nor as a CBOR array");
  CHECK(outcome("\xd9\xd9\xf7\x01"sv) == "refused: expected an array of records, got 1");
  CHECK(outcome("[{").starts_with("refused: not JSON"));
  CHECK(outcome("\x81"sv).starts_with("refused: not CBOR"));
  CHECK(outcome(R"([{"n":"x","v":1e999}])").starts_with("refused: not JSON"));
  CHECK(outcome(R"([{"n":"x","u":"Cel","bv":1e308,"v":1e308}])") ==
        "refused: record 1: a value beyond all range");
  CHECK(outcome(R"([{"n":"x","u":"dBm","v":1e308},{"n":"x","u":"/","v":1e308}])") ==
        "signal 1e+308");
  CHECK(outcome(R"([{"n":"battery","u":"/","v":1e308}])") ==
        "refused: \"battery\": a number beyond all range");
}

TEST_CASE("size and depth are bounded before anything is built") {
  CHECK(outcome(std::string(65'536, '[')) == "refused: nested more than 32 deep");
  CHECK(outcome(std::string(65'536, '\x81')) == "refused: nested more than 32 deep");
  CHECK(outcome(std::string(65'537, ' ')) ==
        "refused: payload of 65537 bytes: more than 65536");
  // Every record has the long base name and unit, as far as these may be long.
  std::string pack = R"([{"bn":")" + std::string(256, 'x') + R"(","bu":")" +
                     std::string(256, 'y') + R"(","v":1})";
  while (pack.size() < 65'500)
    pack += R"(,{"v":1})";
  const auto records = resolved_senml(pack + "]");
  REQUIRE(records.has_value());
  CHECK(records->size() > 8'000);
  CHECK(resolved(R"([{"bu":")" + std::string(257, 'y') + R"(","n":"x","v":1}])") ==
        "refused: record 1: \"bu\": longer than 256 bytes");
}

// Whatever comes: a result with finite values, one of a channel and time, or an error.
void check_sane(std::string_view payload, const PayloadSpec& spec) {
  const auto decoded = decode_senml({payload}, spec, {});
  testing::check_sane(decoded);
  if (!decoded) return;
  REQUIRE_FALSE(decoded->samples.empty());
  for (const Sample& sample : decoded->samples) {
    REQUIRE(sample.ago >= std::chrono::seconds{0});
    REQUIRE(std::ranges::count_if(decoded->samples, [&](const Sample& other) {
              return other.channel == sample.channel && other.ago == sample.ago &&
                     other.measured_at == sample.measured_at;
            }) == 1);
  }
}

TEST_CASE("mangled packs are refused or read, never thrown at the caller") {
  const std::string in_cbor = bytes_of(kPastInCbor);
  const PayloadSpec named = naming({{kAir, "temperature"}, {kVoltage, "voltage"}});
  std::mt19937 random(8428);  // fixed, so that a failure comes again
  for (int round = 0; round < 10'000; ++round) {
    for (const std::string_view good : {kMoving, kPast, kCollection}) {
      const std::string bad =
          testing::mangled(std::string(good), "{}[],:\"\\0e-_\x1b\xff", random);
      check_sane(bad, {});
      check_sane(bad, named);
    }
    const std::string bad =
        testing::mangled(in_cbor, "\x81\x9f\xa1\xbf\xff\xf9\xfb\xc4\x60", random);
    check_sane(bad, {});
    check_sane(bad, named);
  }
  for (std::size_t length = 0; length < in_cbor.size(); ++length)
    check_sane(std::string_view(in_cbor).substr(0, length), {});
}

}  // namespace
}  // namespace rimeward
