// What a class saved of itself, spoilt: for tests of what it must not be restored from.

#pragma once

#include <string>
#include <string_view>
#include <vector>

#include <doctest/doctest.h>

namespace rimeward {

// The text with one part of it changed. REQUIRES: it holds that part.
inline std::string with_changed(std::string text, std::string_view from,
                                std::string_view to) {
  const auto at = text.find(from);
  REQUIRE(at != std::string::npos);
  return text.replace(at, from.size(), to);
}

// Each of the texts is refused, in words that begin so.
template <class Saved>
void check_not_restored(const std::vector<std::string>& texts, std::string_view words) {
  for (const std::string& text : texts) {
    CAPTURE(text);
    const auto restored = Saved::restore(text);
    REQUIRE_FALSE(restored);
    CHECK(restored.error().message.starts_with(words));
  }
}

}  // namespace rimeward
