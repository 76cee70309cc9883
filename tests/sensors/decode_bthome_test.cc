#include <numeric>
#include <random>
#include <string>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "sensors/bytes.h"
#include "sensors/decoders.h"
#include "tests/support/hostile.h"

namespace rimeward {
namespace {

using namespace std::string_literals;

constexpr auto kAir = Channel::kAirTemperature;
constexpr auto kSoil = Channel::kSoilTemperature;
constexpr auto kHumidity = Channel::kHumidity;

// "temperature 25.06, humidity 50.55, packet 9", or "refused: <why>".
std::string outcome(std::string_view payload, const PayloadSpec& spec = {}) {
  const auto decoded = decode_bthome({payload}, spec, {});
  if (!decoded) return "refused: " + decoded.error().message;
  std::string text;
  for (const Sample& sample : decoded->samples) {
    text += fmt::format("{}{} {}", text.empty() ? "" : ", ", traits(sample.channel).name,
                        sample.value);
  }
  if (decoded->packet_id) {
    text += fmt::format("{}packet {}", text.empty() ? "" : ", ", *decoded->packet_id);
  }
  return text;
}

std::string bytes_of(std::string_view hex) {
  return bytes_from_hex(hex).value();
}

PayloadSpec choosing(std::map<Channel, std::string> where) {
  PayloadSpec spec;
  spec.where = std::move(where);
  return spec;
}

TEST_CASE("each object is the value that the format's own table prints for it") {
  struct Row {
    const char* object;
    const char* outcome;
  };
  // bthome.io/format, table of object ids, as restated; the last six rows from memory.
  for (const Row& row : {
           Row{"0161", "battery 97"},
           Row{"02CA09", "temperature 25.06"},
           Row{"03BF13", "humidity 50.55"},
           Row{"04138A01", "pressure 1008.83"},
           Row{"05138A14", "light 13460.67"},
           Row{"14020C", "soil_moisture 30.74"},
           Row{"2E23", "humidity 35"},
           Row{"2F23", "soil_moisture 35"},
           Row{"0C020C", "battery_voltage 3.074"},
           Row{"451101", "temperature 27.3"},
           Row{"4A020C", "battery_voltage 307.4"},
           Row{"57EA", "temperature -22"},
           Row{"58EA", "temperature -7.7"},
           Row{"0009", "packet 9"},
       }) {
    CAPTURE(row.object);
    CHECK(outcome("40"s + row.object) == row.outcome);
  }
}

TEST_CASE("a temperature below zero is below zero") {
  // Two's complement, worked by hand.
  CHECK(outcome("4002F6FF") == "temperature -0.1");
  CHECK(outcome("40020080") == "temperature -327.68");
  CHECK(outcome("4045F6FF") == "temperature -1");
  CHECK(outcome("40020000") == "temperature 0");
  CHECK(outcome("4003FFFF") == "humidity 655.35");
}

TEST_CASE("what a garden has no channel for is passed over by its length") {
  struct Row {
    const char* property;
    const char* object;
  };
  // bthome.io/format, table of object ids, as restated; those marked * from memory.
  for (const Row& row : {
           Row{"mass", "065E1F"},
           Row{"mass in lb *", "073E1D"},
           Row{"dewpoint", "08CA06"},
           Row{"count", "0960"},
           Row{"energy", "0A138A14"},
           Row{"power", "0B021B00"},
           Row{"pm2.5 *", "0D120C"},
           Row{"generic boolean *", "0F01"},
           Row{"co2", "12E204"},
           Row{"tvoc *", "133301"},
           Row{"battery low *", "1501"},
           Row{"window *", "2D01"},
           Row{"button *", "3A01"},
           Row{"dimmer *", "3C0103"},
           Row{"count of 16 bits", "3D0960"},
           Row{"count of 32 bits", "3E2A2C0960"},
           Row{"rotation *", "3F020C"},
           Row{"distance in mm", "400C00"},
           Row{"distance in m *", "414E00"},
           Row{"duration *", "424E3400"},
           Row{"current", "434E34"},
           Row{"speed *", "444E34"},
           Row{"UV index *", "4632"},
           Row{"volume *", "478756"},
           Row{"gas", "4B138A14"},
           Row{"gas of 32 bits *", "4C41018A01"},
           Row{"energy of 32 bits", "4D12138A14"},
           Row{"timestamp *", "505D396164"},
           Row{"acceleration *", "518756"},
           Row{"text *", "530C48656C6C6F20576F726C6421"},
           Row{"text, empty *", "5300"},
           Row{"raw *", "540C48656C6C6F20576F726C6421"},
           Row{"conductivity *", "56E803"},
           Row{"device type *", "F00100"},
           Row{"firmware *", "F100010204"},
           Row{"firmware of 24 bits *", "F2000106"},
       }) {
    CAPTURE(row.property);
    CHECK(outcome("4002CA09"s + row.object + "03BF13") ==
          "temperature 25.06, humidity 50.55");
    // Alone it is no fault, and no reading.
    CHECK(outcome("40"s + row.object) == "");
  }
}

TEST_CASE("bytes, hex, base64 and JSON around them say the same") {
  // Packet 5, battery 93 %, -3.5 degrees C, 88.2 %: a message of our own.
  const std::string hex = "400005015d02a2fe037422";
  const std::string same = "temperature -3.5, humidity 88.2, battery 93, packet 5";
  CHECK(outcome(bytes_of(hex)) == same);
  CHECK(outcome(hex) == same);
  CHECK(outcome("400005015D02A2FE037422\r\n") == same);
  CHECK(outcome("40 00 05 01 5d 02 a2 fe 03 74 22") == same);
  CHECK(outcome("QAAFAV0Cov4DdCI=") == same);
  CHECK(outcome("QAAFAV0Cov4DdCI") == same);
  for (const std::string& text : {hex, "QAAFAV0Cov4DdCI="s}) {
    CAPTURE(text);
    for (const char* key : {"service_data", "data", "bytes", "advertisement", "payload",
                            "fcd2", "0000fcd2-0000-1000-8000-00805f9b34fb"}) {
      CAPTURE(key);
      CHECK(outcome(fmt::format(R"({{"rssi":-71,"{}":"{}"}})", key, text)) == same);
      CHECK(outcome(fmt::format(R"({{"beacon":{{"{}":"{}"}}}})", key, text)) == same);
    }
  }
}

TEST_CASE("service data is found with its UUID and in an advertisement") {
  // bthome.io/format: the example of an advertisement.
  const std::string whole = "0201060B094449592D73656E736F720A16D2FC4002C40903BF13";
  const std::string same = "temperature 25, humidity 50.55";
  for (const std::string& hex :
       {whole, "D2FC4002C40903BF13"s, "4002C40903BF13"s, "0A16D2FC4002C40903BF13"s,
        // Flags and name after it; padded with zeros; beside other service data.
        "0A16D2FC4002C40903BF13020106"s, whole + "000000", "05160F180150" + whole}) {
    CAPTURE(hex);
    CHECK(outcome(hex) == same);
    CHECK(outcome(bytes_of(hex)) == same);
  }
  // The same message of our own as above.
  CHECK(outcome("0201060e16d2fc400005015d02a2fe037422") ==
        "temperature -3.5, humidity 88.2, battery 93, packet 5");
  CHECK(outcome("AgEGDhbS/EAABQFdAqL+A3Qi") ==
        "temperature -3.5, humidity 88.2, battery 93, packet 5");
  // A structure longer than what is left, and one that is not BTHome's.
  CHECK(outcome("0201060F16D2FC4002C40903BF13").starts_with("refused: expected BTHome"));
  CHECK(outcome("02010605160F180150").starts_with("refused: expected BTHome"));
}

TEST_CASE("encrypted data is refused with what to do about it") {
  const std::string why =
      "refused: its BTHome data is encrypted, and rimeward holds no keys: switch "
      "encryption off in the sensor";
  // bthome.io/encryption: the worked example's service data.
  const std::string data = "41a47266c95f730011223378237214";
  CHECK(outcome(data) == why);
  CHECK(outcome(bytes_of(data)) == why);
  CHECK(outcome("d2fc" + data) == why);
  CHECK(outcome(bytes_of("1216d2fc" + data)) == why);
  CHECK(outcome(R"({"data":")" + data + "\"}") == why);
}

TEST_CASE("another version than 2 is refused, and the trigger bit makes no difference") {
  CHECK(outcome("D2FC2002CA09") ==
        "refused: BTHome version 1; only version 2 can be read");
  CHECK(outcome("D2FC6002CA09") ==
        "refused: BTHome version 3; only version 2 can be read");
  // Without the UUID nothing says that these are BTHome.
  CHECK(outcome("2002CA09").starts_with("refused: expected BTHome data"));
  CHECK(outcome("6002CA09").starts_with("refused: expected BTHome data"));
  CHECK(outcome("5002CA09").starts_with("refused: expected BTHome data"));
  CHECK(outcome("4402CA09") == "temperature 25.06");
  CHECK(outcome("D2FC5002CA09") == "temperature 25.06");
}

TEST_CASE("an unknown object ends the message, and what precedes it counts") {
  CHECK(outcome("4002CA09EE0102") == "temperature 25.06");
  CHECK(outcome("4000090161EE") == "battery 97, packet 9");
  CHECK(outcome("40EE02CA09") ==
        "refused: no channel before object 0xee, which is of a kind that is not known");
  CHECK(outcome("400009EE02CA09") ==
        "refused: no channel before object 0xee, which is of a kind that is not known");
}

TEST_CASE("a message that is cut short is refused whole") {
  CHECK(outcome("4002CA") == "refused: cut short: object 0x02 has 1 of its 2 bytes");
  CHECK(outcome("4002CA090413") ==
        "refused: cut short: object 0x04 has 1 of its 3 bytes");
  CHECK(outcome("4002CA0901") == "refused: cut short: object 0x01 has 0 of its 1 bytes");
  CHECK(outcome("4002CA0953") == "refused: cut short: object 0x53 has no length");
  CHECK(outcome("4002CA09530548656C") ==
        "refused: cut short: object 0x53 has 3 of its 5 bytes");
  CHECK(outcome("40") == "refused: there is nothing in its BTHome data");
  CHECK(outcome("D2FC") == "refused: cut short: no device information follows the UUID");
}

TEST_CASE("of two values of a channel the owner says which") {
  // 25.06 and -3.5 degrees C, 50.55 %, in no order of ids.
  const std::string twice = "4003BF1302CA0902A2FE";
  CHECK(
      outcome(twice) ==
      "refused: temperature stands in it 2 times: say which, and name all that is to be "
      "read, such as temperature = \"1\", humidity = \"1\"");
  CHECK(outcome(twice, choosing({{kAir, "1"}, {kHumidity, "1"}})) ==
        "temperature 25.06, humidity 50.55");
  CHECK(outcome(twice, choosing({{kAir, "2"}})) == "temperature -3.5");
  CHECK(outcome(twice, choosing({{kHumidity, "1"}})) == "humidity 50.55");
  // One probe in the air and one in the soil.
  CHECK(outcome(twice, choosing({{kAir, "2"}, {kSoil, "1"}})) ==
        "temperature -3.5, soil_temperature 25.06");
  // Other objects of the kind count, too.
  CHECK(outcome("400C020C4A1E00", choosing({{Channel::kBatteryVoltage, "2"}})) ==
        "battery_voltage 3");
}

TEST_CASE("a choice that is not in the message costs the others nothing") {
  const std::string once = "40000902CA0903BF13";
  CHECK(outcome(once, choosing({{kAir, "2"}, {kHumidity, "1"}})) ==
        "humidity 50.55, packet 9");
  CHECK(outcome(once, choosing({{kAir, "2"}})) ==
        "refused: temperature \"2\" is not in it, there are 1");
  // A message about other things is none that went wrong.
  CHECK(outcome(once, choosing({{Channel::kLight, "1"}})) == "packet 9");
  for (const char* which :
       {"0", "-1", "1.0", "one", "", " 1", "1 ", "/air/t", "99999999999999999999999"}) {
    CAPTURE(which);
    CHECK(outcome(once, choosing({{kAir, which}})) ==
          fmt::format("refused: temperature: expected which of its kind, such as \"1\", "
                      "got \"{}\"",
                      which));
  }
}

TEST_CASE("a pointer says where in the JSON the data stands") {
  PayloadSpec spec;
  spec.data_pointer = "/beacons/1/d";
  CHECK(outcome(R"({"data":"400150","beacons":[{},{"d":"4002CA09"}]})", spec) ==
        "temperature 25.06");
  CHECK(outcome(R"({"beacons":[{},{"d":"off"}]})", spec) ==
        "refused: at \"/beacons/1/d\": expected BTHome data as hex or base64, got "
        "\"off\"");
  CHECK(outcome(R"({"beacons":[{},{"d":4002}]})", spec) ==
        "refused: at \"/beacons/1/d\": expected BTHome data as hex or base64, got 4002");
  CHECK(outcome(R"({"data":"400150"})", spec) == "refused: nothing at \"/beacons/1/d\"");
  CHECK(outcome("4002CA09", spec).starts_with("refused: not JSON: byte "));
  spec.data_pointer = "/0";
  CHECK(outcome(R"(["4002CA09"])", spec) == "temperature 25.06");
  spec.data_pointer = "d";
  CHECK(outcome(R"({"d":"4002CA09"})", spec) == "refused: \"d\" is no JSON pointer");
}

TEST_CASE("data in several of the objects within is not chosen between") {
  CHECK(outcome(R"({"a":{"data":"4002CA09"},"b":{"data":"400161"}})") ==
        "refused: BTHome data stands in several places: say which by a pointer, such as "
        "data = \"/sensor/data\"");
  // At the top it is the message's own; a text that is no BTHome is none of them.
  CHECK(outcome(R"({"data":"4002CA09","b":{"data":"400161"}})") == "temperature 25.06");
  CHECK(outcome(R"({"a":{"data":"hello"},"b":{"data":"400161"}})") == "battery 97");
  CHECK(outcome(R"({"data":"hello","payload":"400161"})") == "battery 97");
}

TEST_CASE("text that only looks like hex or base64 is not read as BTHome") {
  for (const char* text :
       {"",         " ",           "21.5",     "21",
        "ON",       "OFF",         "online",   "offline",
        "Open",     "temperature", "D=21.5",   "D.5",
        "T=21.5",   "Dry",         "A",        "E",
        "deadbeef", "cafe",        "DEADBEEF", "[]",
        "[400161]", "null",        "true",     "\"400161\"",
        "4g0161",   "40016",       "-400161",  "400161.0",
        "400161 %", "Q",           "QA==QA==", "2026-04-12T18:03:20Z"}) {
    CAPTURE(text);
    CHECK(outcome(text).starts_with("refused: "));
  }
  CHECK(outcome("ON") ==
        "refused: expected BTHome data as bytes, hex or base64, or in a JSON object, got "
        "\"ON\"");
  CHECK(outcome("\x1b\xff") ==
        "refused: expected BTHome data as bytes, hex or base64, or in a JSON object, got "
        "\"\\x1b\\xff\"");
  CHECK(outcome("{}") ==
        "refused: no BTHome data under the usual keys in {}: say where by a pointer, "
        "such as data = \"/sensor/data\"");
  CHECK(outcome(R"({"temperature":21.5,"data":"hello"})") ==
        "refused: no BTHome data under the usual keys in {data, temperature}: say where "
        "by a pointer, such as data = \"/sensor/data\"");
  CHECK(outcome(R"({"data":)").starts_with("refused: not JSON: byte "));
  CHECK(outcome(std::string(65'537, '4')) ==
        "refused: payload of 65537 bytes: more than 65536");
}

TEST_CASE("bytes that happen to be printable throughout are still bytes") {
  // Device information 0x40, humidity 0x2e of 35 %.
  CHECK(outcome("@.#") == "humidity 35");
  CHECK(outcome("@/#") == "soil_moisture 35");
}

// Whatever comes: values or an error, never a throw.
void check_sane(std::string_view payload, const PayloadSpec& spec) {
  const auto decoded = decode_bthome({payload}, spec, {});
  testing::check_sane(decoded);
  if (!decoded || !decoded->packet_id) return;
  REQUIRE(*decoded->packet_id >= 0);
  REQUIRE(*decoded->packet_id <= 255);
}

TEST_CASE("mangled messages are refused or read, never read beyond their end") {
  const std::string whole =
      "0201060b094449592d73656e736f721a16d2fc4400050c020c03bf134500fe5303616263540201f0"
      "0902";
  PayloadSpec chosen = choosing({{kAir, "1"}, {kSoil, "2"}});
  PayloadSpec pointed;
  pointed.data_pointer = "/a/data";
  std::mt19937 random(20260412);  // fixed, so that a failure comes again
  const std::string forms[] = {
      whole, bytes_of(whole), bytes_of("4000050c020c03bf134500fe5303616263"),
      "QAAFAV0Cov4DdCI=", R"({"a":{"data":"4000050c020c03bf134500fe5303616263"}})"};
  std::string any_byte(256, '\0');
  std::iota(any_byte.begin(), any_byte.end(), '\0');
  for (const std::string& good : forms) {
    REQUIRE(outcome(good).find("refused") == std::string::npos);
    // Each prefix in a buffer of its own, so that a sanitizer sees a step beyond.
    for (std::size_t length = 0; length < good.size(); ++length) {
      const std::string prefix = good.substr(0, length);
      check_sane(std::string_view(prefix.data(), prefix.size()), {});
    }
    for (int round = 0; round < 5'000; ++round) {
      const std::string bad = testing::mangled(good, any_byte, random);
      for (const PayloadSpec& spec : {PayloadSpec{}, chosen, pointed})
        check_sane(bad, spec);
    }
  }
}

}  // namespace
}  // namespace rimeward
