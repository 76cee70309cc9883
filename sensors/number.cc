#include "sensors/number.h"

#include <charconv>
#include <cmath>

namespace rimeward {
namespace {

constexpr std::string_view kWhite = " \t\r\n";

}  // namespace

LeadingNumber leading_number(std::string_view text) {
  const std::size_t sign = text.starts_with('+') ? 1 : 0;
  const std::string_view digits = text.substr(sign);
  if (sign == 1 && digits.starts_with('-')) return {NumberFault::kNotANumber, 0, 0};
  double value = 0;
  const auto [end, fault] =
      std::from_chars(digits.data(), digits.data() + digits.size(), value);
  const std::size_t length = sign + static_cast<std::size_t>(end - digits.data());
  if (fault == std::errc::result_out_of_range) {
    return {NumberFault::kTooLarge, 0, length};
  }
  // from_chars also reads "nan" and "inf".
  if (fault != std::errc{} || !std::isfinite(value)) {
    return {NumberFault::kNotANumber, 0, 0};
  }
  return {NumberFault::kNone, value, length};
}

std::string_view trimmed(std::string_view text) {
  const std::size_t first = text.find_first_not_of(kWhite);
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(kWhite) + 1 - first);
}

}  // namespace rimeward
