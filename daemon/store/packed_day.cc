#include "daemon/store/packed_day.h"

#include <array>
#include <limits>
#include <memory>
#include <numeric>
#include <optional>
#include <stdexcept>

#include <zlib.h>

namespace rimeward {
namespace {

constexpr char kFormat = 1;
constexpr std::size_t kHeadBytes = 5;  // the format and the check
// Of what is inflated: the most that a day can take, a reading a second of the largest
// numbers. A damaged stream cannot ask for more memory.
constexpr std::size_t kMostBytes = std::size_t{kSecondsADay} * 15 + 32;

// Some kilobytes are packed at a time: a window and a table for that many, rather than
// zlib's quarter of a megabyte.
constexpr int kWindowBits = 12;
constexpr int kMemoryLevel = 6;
// What ending a block early may take besides, generously.
constexpr std::size_t kBlockBytes = 64;

// Differences are taken modulo 2^64, so that no pair of values overflows.
std::int64_t difference(std::int64_t from, std::int64_t to) {
  return static_cast<std::int64_t>(static_cast<std::uint64_t>(to) -
                                   static_cast<std::uint64_t>(from));
}

std::int64_t sum(std::int64_t one, std::int64_t other) {
  return static_cast<std::int64_t>(static_cast<std::uint64_t>(one) +
                                   static_cast<std::uint64_t>(other));
}

std::uint64_t size_of(std::int64_t number) {
  const auto bits = static_cast<std::uint64_t>(number);
  return number < 0 ? 0 - bits : bits;
}

class Writer {
 public:
  void whole(std::uint64_t number) {
    for (; number >= 0x80; number >>= 7U)
      bytes_ += static_cast<char>((number & 0x7fU) | 0x80U);
    bytes_ += static_cast<char>(number);
  }
  void signed_whole(std::int64_t number) {
    const auto bits = static_cast<std::uint64_t>(number);
    whole((bits << 1U) ^ (number < 0 ? ~std::uint64_t{0} : 0));
  }
  const std::string& bytes() const { return bytes_; }

 private:
  std::string bytes_;
};

class Reader {
 public:
  explicit Reader(std::string_view bytes) : bytes_(bytes) {}

  // Nothing past the end, and where no number of 64 bits stands.
  std::optional<std::uint64_t> whole() {
    std::uint64_t number = 0;
    for (unsigned shift = 0; shift < 64 && !bytes_.empty(); shift += 7) {
      const auto byte = static_cast<unsigned char>(bytes_.front());
      bytes_.remove_prefix(1);
      if (shift == 63 && byte > 1) return std::nullopt;
      number |= std::uint64_t{byte & 0x7fU} << shift;
      if (byte < 0x80) return number;
    }
    return std::nullopt;
  }
  std::optional<std::int64_t> signed_whole() {
    const auto zigzag = whole();
    if (!zigzag) return std::nullopt;
    return static_cast<std::int64_t>((*zigzag >> 1U) ^ (0 - (*zigzag & 1U)));
  }
  bool is_at_end() const { return bytes_.empty(); }
  std::size_t left() const { return bytes_.size(); }

 private:
  std::string_view bytes_;
};

// The largest whole number by which all differences of values can be divided.
std::uint64_t step_of(const std::vector<DayReading>& readings) {
  std::uint64_t step = 0;
  for (std::size_t i = 1; i < readings.size(); ++i) {
    step = std::gcd(step, size_of(difference(readings[i - 1].value, readings[i].value)));
  }
  return step == 0 ? 1 : step;
}

std::int64_t divided(std::int64_t number, std::uint64_t step) {
  const std::uint64_t count = size_of(number) / step;
  return static_cast<std::int64_t>(number < 0 ? 0 - count : count);
}

Bytef* zlib_bytes(const char* bytes) {
  // zlib's interface is without const; it does not write there.
  return reinterpret_cast<Bytef*>(const_cast<char*>(bytes));
}

// The two kinds of numbers apart, as blocks that each have the codes that fit them.
std::string deflated(std::string_view times, std::string_view values) {
  z_stream stream{};
  if (deflateInit2(&stream, Z_BEST_COMPRESSION, Z_DEFLATED, -kWindowBits, kMemoryLevel,
                   Z_FILTERED) != Z_OK) {
    throw std::bad_alloc();
  }
  const std::unique_ptr<z_stream, decltype(&deflateEnd)> guard(&stream, &deflateEnd);
  std::string out(deflateBound(&stream, times.size() + values.size()) + kBlockBytes,
                  '\0');
  stream.next_out = zlib_bytes(out.data());
  stream.avail_out = static_cast<uInt>(out.size());
  stream.next_in = zlib_bytes(times.data());
  stream.avail_in = static_cast<uInt>(times.size());
  const int first = deflate(&stream, Z_BLOCK);
  stream.next_in = zlib_bytes(values.data());
  stream.avail_in += static_cast<uInt>(values.size());
  if (first != Z_OK || deflate(&stream, Z_FINISH) != Z_STREAM_END) {
    throw std::logic_error("a day of readings did not fit the room that zlib asked for");
  }
  out.resize(stream.total_out);
  return out;
}

// Nothing where the stream is damaged, cut short, followed by more, or too long.
std::optional<std::string> inflated(std::string_view bytes) {
  z_stream stream{};
  if (inflateInit2(&stream, -MAX_WBITS) != Z_OK) throw std::bad_alloc();
  const std::unique_ptr<z_stream, decltype(&inflateEnd)> guard(&stream, &inflateEnd);
  stream.next_in = zlib_bytes(bytes.data());
  stream.avail_in = static_cast<uInt>(bytes.size());
  std::string out;
  std::array<char, 4096> piece;
  int state = Z_OK;
  while (state == Z_OK && out.size() <= kMostBytes) {
    stream.next_out = zlib_bytes(piece.data());
    stream.avail_out = static_cast<uInt>(piece.size());
    state = inflate(&stream, Z_NO_FLUSH);
    out.append(piece.data(), piece.size() - stream.avail_out);
  }
  if (state == Z_MEM_ERROR) throw std::bad_alloc();
  if (state != Z_STREAM_END || stream.avail_in != 0) return std::nullopt;
  return out;
}

std::string check_of(std::string_view numbers) {
  const auto sum =
      crc32(0, zlib_bytes(numbers.data()), static_cast<uInt>(numbers.size()));
  std::string bytes;
  for (unsigned shift = 0; shift < 32; shift += 8)
    bytes += static_cast<char>((sum >> shift) & 0xffU);
  return bytes;
}

// The seconds after the first, into `readings`; false where they are none of a day.
bool read_seconds(Reader& reader, std::vector<DayReading>& readings) {
  std::int64_t gap = 0;
  for (std::size_t i = 1; i < readings.size(); ++i) {
    const auto more = reader.signed_whole();
    if (!more || size_of(*more) > 2 * kSecondsADay) return false;
    gap += *more;
    const std::int64_t second = readings[i - 1].second + gap;
    if (gap <= 0 || second >= kSecondsADay) return false;
    readings[i].second = static_cast<std::int32_t>(second);
  }
  return true;
}

bool read_values(Reader& reader, std::uint64_t step, std::vector<DayReading>& readings) {
  for (std::size_t i = 1; i < readings.size(); ++i) {
    const auto steps = reader.signed_whole();
    if (!steps) return false;
    const auto change = static_cast<std::uint64_t>(*steps) * step;
    readings[i].value = sum(readings[i - 1].value, static_cast<std::int64_t>(change));
  }
  return true;
}

std::optional<std::vector<DayReading>> read(std::string_view numbers) {
  Reader reader(numbers);
  const auto count = reader.whole();
  const auto step = reader.whole();
  const auto second = reader.whole();
  const auto value = reader.signed_whole();
  if (!count || !step || !second || !value) return std::nullopt;
  if (*count == 0 || *count > kSecondsADay || *second >= kSecondsADay) {
    return std::nullopt;
  }
  if (reader.left() < 2 * (*count - 1)) return std::nullopt;
  std::vector<DayReading> readings(static_cast<std::size_t>(*count));
  readings.front() = {static_cast<std::int32_t>(*second), *value};
  if (!read_seconds(reader, readings) || !read_values(reader, *step, readings)) {
    return std::nullopt;
  }
  if (!reader.is_at_end()) return std::nullopt;
  return readings;
}

}  // namespace

std::string packed(const std::vector<DayReading>& readings) {
  Writer times;
  const std::uint64_t step = step_of(readings);
  times.whole(readings.size());
  times.whole(step);
  times.whole(static_cast<std::uint64_t>(readings.front().second));
  times.signed_whole(readings.front().value);
  std::int32_t gap = 0;
  for (std::size_t i = 1; i < readings.size(); ++i) {
    const std::int32_t next = readings[i].second - readings[i - 1].second;
    times.signed_whole(next - gap);
    gap = next;
  }
  Writer values;
  for (std::size_t i = 1; i < readings.size(); ++i) {
    values.signed_whole(
        divided(difference(readings[i - 1].value, readings[i].value), step));
  }
  return kFormat + check_of(times.bytes() + values.bytes()) +
         deflated(times.bytes(), values.bytes());
}

Result<std::vector<DayReading>> unpacked(std::string_view bytes) {
  if (bytes.empty()) return refuse("a packed day without a byte");
  if (bytes.front() != kFormat) {
    return refuse("a packed day of a form that this program does not know");
  }
  const auto damaged = refuse("a packed day whose bytes are damaged");
  if (bytes.size() <= kHeadBytes) return damaged;
  const auto numbers = inflated(bytes.substr(kHeadBytes));
  if (!numbers || check_of(*numbers) != bytes.substr(1, kHeadBytes - 1)) return damaged;
  auto readings = read(*numbers);
  if (!readings) return damaged;
  return *std::move(readings);
}

}  // namespace rimeward
