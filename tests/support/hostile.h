// Payloads that nobody should send, and what must hold of a decoder that gets one.

#pragma once

#include <cmath>
#include <random>
#include <string>
#include <string_view>

#include <doctest/doctest.h>

#include "sensors/decoders.h"

namespace rimeward::testing {

// `text` with one to four bytes changed, cut out or inserted; what is inserted is one of
// `inserts`. Never empty. The same `random` gives the same text again.
inline std::string mangled(std::string text, std::string_view inserts,
                           std::mt19937& random) {
  const auto changes = 1 + random() % 4;
  for (unsigned change = 0; change < changes; ++change) {
    if (text.empty()) text = "x";
    const std::size_t at = random() % text.size();
    switch (random() % 3) {
      case 0:
        text[at] = static_cast<char>(random() % 256);
        break;
      case 1:
        text.erase(at, random() % 8);
        break;
      default:
        text.insert(at, 1, inserts[random() % inserts.size()]);
        break;
    }
  }
  return text.empty() ? "x" : text;
}

// Finite values, or an error that can be shown as it is; that nothing was thrown is clear
// from being here.
inline void check_sane(const Result<Decoded>& decoded) {
  using namespace std::string_view_literals;
  if (!decoded) {
    REQUIRE_FALSE(decoded.error().message.empty());
    REQUIRE(decoded.error().message.find_first_of("\n\x1b\0"sv) == std::string::npos);
    return;
  }
  for (const Sample& sample : decoded->samples)
    REQUIRE(std::isfinite(sample.value));
}

}  // namespace rimeward::testing
