#include "sensors/cbor.h"

#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>
#include <optional>
#include <string>
#include <utility>

#include <fmt/format.h>

#include "sensors/decoders.h"
#include "sensors/escape.h"
#include "sensors/number.h"

namespace rimeward {
namespace {

using nlohmann::json;

constexpr int kDeepest = 32;

// The kinds of data item: RFC 8949, section 3.1.
enum class Major : std::uint8_t {
  kUnsigned = 0,
  kNegative = 1,
  kBytes = 2,
  kText = 3,
  kArray = 4,
  kMap = 5,
  kTag = 6,
  kSimple = 7,
};

// What the lowest five bits of a first byte say: section 3.
constexpr std::uint8_t kOneByte = 24;  // the argument follows, in 1 byte
constexpr std::uint8_t kEightBytes = 27;
constexpr std::uint8_t kIndefinite = 31;

// With major 7: section 3.3.
constexpr std::uint8_t kFalse = 20;
constexpr std::uint8_t kTrue = 21;
constexpr std::uint8_t kHalf = 25;
constexpr std::uint8_t kSingle = 26;
constexpr std::uint8_t kDouble = 27;

constexpr std::uint64_t kDecimalFraction = 4;  // section 3.4.4
constexpr unsigned char kBreak = 0xff;

struct Head {
  Major major{};
  std::uint8_t info = 0;
  std::uint64_t argument = 0;
};

// Section 3.3 and appendix D.
double half(std::uint64_t bits) {
  const auto fraction = static_cast<double>(bits & 0x3ffU);
  const int exponent = static_cast<int>((bits >> 10U) & 0x1fU);
  double size = 0;
  if (exponent == 0) {
    size = std::ldexp(fraction, -24);
  } else if (exponent != 31) {
    size = std::ldexp(fraction + 1024, exponent - 25);
  } else {
    size = fraction == 0 ? std::numeric_limits<double>::infinity()
                         : std::numeric_limits<double>::quiet_NaN();
  }
  return (bits & 0x8000U) == 0 ? size : -size;
}

json negative(std::uint64_t argument) {
  if (argument <= std::uint64_t{std::numeric_limits<std::int64_t>::max()}) {
    return -1 - static_cast<std::int64_t>(argument);
  }
  return -1.0 - static_cast<double>(argument);
}

json simple(const Head& head) {
  switch (head.info) {
    case kFalse:
      return false;
    case kTrue:
      return true;
    case kHalf:
      return half(head.argument);
    case kSingle:
      return std::bit_cast<float>(static_cast<std::uint32_t>(head.argument));
    case kDouble:
      return std::bit_cast<double>(head.argument);
    default:
      return nullptr;
  }
}

class Reader {
 public:
  explicit Reader(std::string_view bytes) : bytes_(bytes) {}

  Result<json> whole() {
    auto value = next(1);
    if (value && at_ != bytes_.size()) {
      return bad(fmt::format("{} bytes after its end", bytes_.size() - at_));
    }
    return value;
  }

 private:
  std::size_t left() const { return bytes_.size() - at_; }

  tl::unexpected<Error> bad(std::string_view what) const {
    return refuse(fmt::format("not CBOR that can be read: at byte {} of {}: {}", at_ + 1,
                              bytes_.size(), what));
  }

  tl::unexpected<Error> cut_short() const {
    return refuse(fmt::format("not CBOR: cut short after byte {}", bytes_.size()));
  }

  Result<Head> head() {
    if (left() == 0) return cut_short();
    const auto first = static_cast<unsigned char>(bytes_[at_]);
    Head head{.major = Major(first >> 5U), .info = std::uint8_t(first & 0x1fU)};
    if (head.info > kEightBytes && head.info != kIndefinite) {
      return bad(fmt::format("{:#04x} begins nothing", first));
    }
    ++at_;
    if (head.info < kOneByte) head.argument = head.info;
    if (head.info < kOneByte || head.info == kIndefinite) return head;
    const std::size_t size = std::size_t{1} << std::size_t(head.info - kOneByte);
    if (left() < size) return cut_short();
    for (const char byte : bytes_.substr(at_, size)) {
      head.argument = (head.argument << 8U) | static_cast<unsigned char>(byte);
    }
    at_ += size;
    return head;
  }

  // Takes the end of what came without its length, if it comes next.
  bool takes_break() {
    if (left() == 0 || static_cast<unsigned char>(bytes_[at_]) != kBreak) return false;
    ++at_;
    return true;
  }

  Result<json> next(int depth) {
    if (depth > kDeepest)
      return refuse(fmt::format("nested more than {} deep", kDeepest));
    const auto head = this->head();
    if (!head) return tl::unexpected(head.error());
    const bool contains = head->major == Major::kArray || head->major == Major::kMap;
    if (head->info == kIndefinite && !contains) {
      return bad("only arrays and maps may come without their length");
    }
    switch (head->major) {
      case Major::kUnsigned:
        return head->argument;
      case Major::kNegative:
        return negative(head->argument);
      case Major::kBytes:
      case Major::kText:
        return text(*head);
      case Major::kArray:
        return array(*head, depth);
      case Major::kMap:
        return map(*head, depth);
      case Major::kTag:
        return tagged(*head, depth);
      case Major::kSimple:
        return simple(*head);
    }
    return bad("no kind of value");
  }

  Result<json> text(const Head& head) {
    if (head.argument > left()) return cut_short();
    const auto size = static_cast<std::size_t>(head.argument);
    at_ += size;
    return json(bytes_.substr(at_ - size, size));
  }

  // Whether an array or a map of so many that has `count` so far goes on.
  bool goes_on(const Head& head, std::size_t count) {
    if (head.info == kIndefinite) return !takes_break();
    return count < head.argument;
  }

  Result<json> array(const Head& head, int depth) {
    json all = json::array();
    while (goes_on(head, all.size())) {
      auto one = next(depth + 1);
      if (!one) return one;
      all.push_back(*std::move(one));
    }
    return all;
  }

  Result<json> map(const Head& head, int depth) {
    json all = json::object();
    while (goes_on(head, all.size())) {
      auto name = key();
      if (!name) return tl::unexpected(name.error());
      auto value = next(depth + 1);
      if (!value) return value;
      if (all.contains(*name))
        return bad(fmt::format("key \"{}\" twice", escaped(*name)));
      all.emplace(*std::move(name), *std::move(value));
    }
    return all;
  }

  Result<std::string> key() {
    const auto head = this->head();
    if (!head) return tl::unexpected(head.error());
    if (head->info != kIndefinite) {
      if (head->major == Major::kUnsigned) return std::to_string(head->argument);
      if (head->major == Major::kNegative) return negative(head->argument).dump();
      if (head->major == Major::kText) {
        auto name = text(*head);
        if (!name) return tl::unexpected(name.error());
        return name->get<std::string>();
      }
    }
    return bad("a key is neither a text nor an integer");
  }

  Result<json> tagged(const Head& head, int depth) {
    auto content = next(depth + 1);
    if (!content || head.argument != kDecimalFraction) return content;
    const bool pair = content->is_array() && content->size() == 2 &&
                      (*content)[0].is_number_integer() &&
                      (*content)[1].is_number_integer();
    if (!pair) return bad("a decimal fraction is not of two integers");
    // By its text, which is rounded once; a product of powers of ten would be twice.
    const std::string decimal = (*content)[1].dump() + "e" + (*content)[0].dump();
    const LeadingNumber number = leading_number(decimal);
    if (number.fault != NumberFault::kNone) {
      return bad(fmt::format("a number beyond all range, {}", decimal));
    }
    return number.value;
  }

  const std::string_view bytes_;
  std::size_t at_ = 0;
};

}  // namespace

Result<nlohmann::json> parsed_cbor(std::string_view bytes) {
  if (const auto fits = payload_fits(bytes); !fits) return refuse(fits.error().message);
  return Reader(bytes).whole();
}

}  // namespace rimeward
