// unpacked(): whatever a damaged store holds for a packed day, it is refused or is a day,
// which packs and comes out the same.
//
// An input is the numbers of a day as daemon/store/packed_day.h has them, under a check
// and a compression that are right, or, after a first byte of '1', the bytes as they are.

#include <string>

#include <zlib.h>

#include "daemon/store/packed_day.h"
#include "tests/fuzz/demands.h"

using namespace rimeward;

namespace {

std::string in_form(std::string_view numbers) {
  const auto* const bytes = reinterpret_cast<const Bytef*>(numbers.data());
  const auto check = crc32(0, bytes, static_cast<uInt>(numbers.size()));
  std::string out{'\1'};
  for (unsigned shift = 0; shift < 32; shift += 8)
    out += static_cast<char>((check >> shift) & 0xffU);
  std::string zlib(compressBound(numbers.size()), '\0');
  uLongf size = zlib.size();
  compress(reinterpret_cast<Bytef*>(zlib.data()), &size, bytes, numbers.size());
  return out + zlib.substr(2, size - 6);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  fuzz::Input input(data, size);
  const bool as_it_is = input.choice(2) == 1;
  const std::string bytes = as_it_is ? std::string(input.rest()) : in_form(input.rest());
  const auto day = unpacked(bytes);
  if (!day) {
    fuzz::demand_words(day.error().message);
    return 0;
  }
  std::int32_t last = -1;
  for (const DayReading& reading : *day) {
    fuzz::demand(reading.second > last && reading.second < kSecondsADay,
                 "seconds of a day, in order");
    last = reading.second;
  }
  fuzz::demand(unpacked(packed(*day)) == *day, "the day that was packed");
  return 0;
}
