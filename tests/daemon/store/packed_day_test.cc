#include "daemon/store/packed_day.h"

#include <cmath>
#include <limits>
#include <random>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <zlib.h>

namespace rimeward {
namespace {

using Day = std::vector<DayReading>;

// A reading a minute, with the jitter of a cheap sensor's clock and its noise, in steps
// of a hundredth of a degree.
Day day_of_a_sensor(unsigned seed) {
  std::mt19937 random(seed);
  Day day;
  for (int minute = 0; minute < 1440; ++minute) {
    const int jitter = static_cast<int>(random() % 3);
    const double course = 8.0 - 6.0 * std::cos(minute * 2 * 3.14159 / 1440);
    const int noise = static_cast<int>(random() % 7) - 3;
    const auto hundredths = static_cast<std::int64_t>(course * 100) + noise;
    day.push_back({minute * 60 + jitter, hundredths * 10});
  }
  return day;
}

// As the header has it, by zlib's own means.
std::string in_form(const std::string& numbers) {
  std::string out{'\1'};
  const auto* const bytes = reinterpret_cast<const Bytef*>(numbers.data());
  const auto check = crc32(0, bytes, static_cast<uInt>(numbers.size()));
  for (unsigned shift = 0; shift < 32; shift += 8)
    out += static_cast<char>((check >> shift) & 0xffU);
  std::string zlib(compressBound(numbers.size()), '\0');
  uLongf size = zlib.size();
  REQUIRE(compress(reinterpret_cast<Bytef*>(zlib.data()), &size, bytes, numbers.size()) ==
          Z_OK);
  // The DEFLATE stream lies between two bytes of header and four of checksum (RFC 1950).
  return out + zlib.substr(2, size - 6);
}

TEST_CASE("a packed day comes out as it went in") {
  constexpr std::int64_t kLowest = std::numeric_limits<std::int64_t>::min();
  constexpr std::int64_t kHighest = std::numeric_limits<std::int64_t>::max();
  const std::vector<Day> days{
      {{0, 0}},
      {{86'399, -40'000}},
      {{5, kLowest}, {6, kHighest}, {7, kLowest}, {86'399, 0}},
      {{0, 20'120}, {60, 20'120}, {120, 20'120}},
      day_of_a_sensor(1),
  };
  for (const Day& day : days) {
    const auto out = unpacked(packed(day));
    REQUIRE(out.has_value());
    CHECK(*out == day);
  }
}

TEST_CASE("a day with a reading each second is packed whole") {
  std::mt19937_64 random(7);
  Day day;
  for (std::int32_t second = 0; second < kSecondsADay; ++second) {
    day.push_back({second, static_cast<std::int64_t>(random())});
  }
  CHECK(unpacked(packed(day)) == day);
}

TEST_CASE("a reading a minute takes a byte or less, noise and jitter included") {
  for (const unsigned seed : {1U, 2U, 3U}) {
    const Day day = day_of_a_sensor(seed);
    CHECK(packed(day).size() <= day.size());
  }
}

// 624485 is the worked example of the DWARF standard, version 4, section 7.6, for an
// unsigned LEB128 number: E5 8E 26.
TEST_CASE("the form is what the header says it is") {
  // Three readings, step 624485, the first at second 0 of value -1; gaps of 60 and 61
  // seconds; one step down, then two up. In zigzag order -1 is 1, 60 is 120, 2 is 4.
  const std::string numbers =
      std::string("\x03\xe5\x8e\x26", 4) + '\0' + std::string("\x01\x78\x02\x01\x04", 5);
  const auto day = unpacked(in_form(numbers));
  REQUIRE(day.has_value());
  CHECK(*day == Day{{0, -1}, {60, -624'486}, {121, 624'484}});
  CHECK(unpacked(packed(*day)) == *day);
}

// The bits that fill up the stream's last byte mean nothing.
TEST_CASE("no damaged byte of a packed day gives another day") {
  const Day day = day_of_a_sensor(4);
  const std::string good = packed(day);
  int harmless = 0;
  for (std::size_t at = 0; at < good.size(); ++at) {
    for (const int bit : {1, 16, 128}) {
      std::string bad = good;
      bad[at] = static_cast<char>(bad[at] ^ bit);
      CAPTURE(at);
      const auto out = unpacked(bad);
      if (out) ++harmless;
      CHECK((!out || *out == day));
    }
  }
  CHECK(harmless <= 3);
}

TEST_CASE("a packed day that is cut short or goes on is refused") {
  const std::string good = packed(day_of_a_sensor(5));
  for (std::size_t size = 0; size < good.size(); ++size) {
    CHECK_FALSE(unpacked(good.substr(0, size)).has_value());
  }
  CHECK_FALSE(unpacked(good + 'x').has_value());
}

TEST_CASE("a packed day of numbers that are no day is refused") {
  const auto refused = [](const std::string& numbers) {
    return !unpacked(in_form(numbers)).has_value();
  };
  const std::string zero(1, '\0');
  CHECK(refused(""));
  CHECK(refused(zero + "\1" + zero + zero));               // no reading
  CHECK(refused("\x01\x01\x80\xa3\x05" + zero));           // at second 86,400
  CHECK(refused("\x02\x01" + zero + zero + "\x02"));       // a value is missing
  CHECK(refused("\x02\x01" + zero + zero + zero + zero));  // the same second twice
  CHECK(refused("\x02\x01" + zero + zero + "\x01\x02"));   // the second before
  CHECK(refused("\x01\x01" + zero + zero + "\x01"));       // more than it says
  CHECK(refused("\xff\xff\xff\xff\xff\xff\xff\xff\xff\x7f"));
  CHECK_FALSE(refused("\x02\x01" + zero + zero + "\x02\x02"));
}

TEST_CASE("a day in a form of later versions is told apart from a damaged one") {
  std::string later = packed({{0, 1}});
  later.front() = 2;
  CHECK(unpacked(later).error().message ==
        "a packed day of a form that this program does not know");
}

TEST_CASE("a stream that would fill the memory is refused") {
  CHECK_FALSE(unpacked(in_form(std::string(100'000'000, '\1'))).has_value());
}

}  // namespace
}  // namespace rimeward
