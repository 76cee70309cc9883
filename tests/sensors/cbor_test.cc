#include "sensors/cbor.h"

#include <cmath>
#include <cstdlib>
#include <random>
#include <string>

#include <doctest/doctest.h>

#include "sensors/decoders.h"

namespace rimeward {
namespace {

std::string bytes_of(std::string_view hex) {
  std::string bytes;
  for (std::size_t i = 0; i + 1 < hex.size(); i += 2) {
    const std::string pair(hex.substr(i, 2));
    bytes += static_cast<char>(std::strtoul(pair.c_str(), nullptr, 16));
  }
  return bytes;
}

// As JSON text, or "refused: <why>".
std::string outcome(std::string_view bytes) {
  const auto value = parsed_cbor(bytes);
  return value ? value->dump() : "refused: " + value.error().message;
}

std::string of_hex(std::string_view hex) {
  return outcome(bytes_of(hex));
}

TEST_CASE("the examples of RFC 8949, appendix A, read as it says") {
  // From memory.
  const std::pair<std::string_view, std::string_view> rows[] = {
      {"00", "0"},
      {"17", "23"},
      {"1818", "24"},
      {"1903e8", "1000"},
      {"1a000f4240", "1000000"},
      {"1b000000e8d4a51000", "1000000000000"},
      {"1bffffffffffffffff", "18446744073709551615"},
      {"20", "-1"},
      {"3863", "-100"},
      {"3903e7", "-1000"},
      {"3bffffffffffffffff", "-1.8446744073709552e+19"},
      {"f90000", "0.0"},
      {"f93c00", "1.0"},
      {"f93e00", "1.5"},
      {"f97bff", "65504.0"},
      {"f90001", "5.960464477539063e-08"},
      {"f90400", "6.103515625e-05"},
      {"f9c400", "-4.0"},
      {"fb3ff199999999999a", "1.1"},
      {"fa47c35000", "100000.0"},
      {"fb7e37e43c8800759c", "1e+300"},
      {"fbc010666666666666", "-4.1"},
      {"f4", "false"},
      {"f5", "true"},
      {"f6", "null"},
      {"f7", "null"},
      {"f0", "null"},
      {"f8ff", "null"},
      {"60", "\"\""},
      {"6449455446", "\"IETF\""},
      {"62c3bc", "\"\xc3\xbc\""},
      {"c11a514b67b0", "1363896240"},
      {"80", "[]"},
      {"83010203", "[1,2,3]"},
      {"8301820203820405", "[1,[2,3],[4,5]]"},
      {"a0", "{}"},
      {"a201020304", R"({"1":2,"3":4})"},
      {"a26161016162820203", R"({"a":1,"b":[2,3]})"},
      {"9fff", "[]"},
      {"9f018202039f0405ffff", "[1,[2,3],[4,5]]"},
      {"bf61610161629f0203ffff", R"({"a":1,"b":[2,3]})"},
      {"d9d9f783010203", "[1,2,3]"},
  };
  for (const auto& [hex, text] : rows) {
    CAPTURE(hex);
    CHECK(of_hex(hex) == text);
  }
  CHECK(std::isnan(parsed_cbor(bytes_of("f97e00"))->get<double>()));
  CHECK(std::isinf(parsed_cbor(bytes_of("f9fc00"))->get<double>()));
}

TEST_CASE("a decimal fraction is the number that it is") {
  // RFC 8949, section 3.4.4: 273.15 (from memory).
  CHECK(of_hex("c48221196ab3") == "273.15");
  CHECK(of_hex("c48200182a") == "42.0");
  CHECK(of_hex("c4822038d6") == "-21.5");
  CHECK(of_hex("c4821903e801") ==
        "refused: not CBOR that can be read: at byte 7 of 6: a number beyond all range, "
        "1e1000");
  CHECK(of_hex("c4820102").starts_with("20"));
  for (const std::string_view hex : {"c401", "c48101", "c483010203", "c482f93c0001"}) {
    CAPTURE(hex);
    CHECK(of_hex(hex).find("a decimal fraction is not of two integers") !=
          std::string::npos);
  }
}

TEST_CASE("what is no CBOR is refused and says where") {
  CHECK(outcome("") == "refused: the payload is empty");
  CHECK(of_hex("18") == "refused: not CBOR: cut short after byte 1");
  CHECK(of_hex("8301") == "refused: not CBOR: cut short after byte 2");
  CHECK(of_hex("0000") ==
        "refused: not CBOR that can be read: at byte 2 of 2: 1 bytes after its end");
  CHECK(of_hex("1c") ==
        "refused: not CBOR that can be read: at byte 1 of 1: 0x1c begins nothing");
  CHECK(of_hex("a2010201f6") ==
        "refused: not CBOR that can be read: at byte 6 of 5: key \"1\" twice");
  for (const std::string_view hex : {"7f6161ff", "5f4161ff", "ff", "1f", "df00"}) {
    CAPTURE(hex);
    CHECK(of_hex(hex).find("only arrays and maps may come without their length") !=
          std::string::npos);
  }
  for (const std::string_view hex : {"a18001", "a1f501", "a1410001", "bf7f", "bff5"}) {
    CAPTURE(hex);
    CHECK(of_hex(hex).find("a key is neither a text nor an integer") !=
          std::string::npos);
  }
}

TEST_CASE("what CBOR says of its own size and depth is not believed") {
  // Four thousand million and more elements, pairs and bytes, of which none comes.
  for (const std::string_view hex :
       {"9bffffffffffffffff", "bbffffffffffffffff", "7bffffffffffffffff",
        "5bffffffffffffffff", "9affffffff00", "baffffffff0000"}) {
    CAPTURE(hex);
    CHECK(of_hex(hex).find("cut short") != std::string::npos);
  }
  const auto nested = [](char level, std::size_t depth) {
    return outcome(std::string(depth, level) + std::string(1, '\0'));
  };
  CHECK(nested('\x81', 31) == std::string(31, '[') + "0" + std::string(31, ']'));
  CHECK(nested('\x81', 32) == "refused: nested more than 32 deep");
  CHECK(nested('\x81', 65'535) == "refused: nested more than 32 deep");
  CHECK(nested('\x9f', 65'535) == "refused: nested more than 32 deep");
  CHECK(nested('\xc6', 65'535) == "refused: nested more than 32 deep");
  CHECK(outcome(std::string(65'537, '\x80')) ==
        "refused: payload of 65537 bytes: more than 65536");
}

TEST_CASE("any bytes are read or refused, never thrown at the caller") {
  std::mt19937 random(8949);  // fixed, so that a failure comes again
  for (int round = 0; round < 50'000; ++round) {
    std::string bytes(1 + random() % 24, '\0');
    for (char& byte : bytes)
      byte = static_cast<char>(random() % 256);
    // Half of them begin as something that goes on.
    if (round % 2 == 0) bytes[0] = "\x83\x9f\xa3\xbf\xc4\x82\xd9\x9b"[random() % 8];
    const auto value = parsed_cbor(bytes);
    if (!value) REQUIRE_FALSE(value.error().message.empty());
  }
}

}  // namespace
}  // namespace rimeward
