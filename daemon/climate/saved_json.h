// How the classes of this folder read back the JSON text that they saved of themselves:
// with the parser's own exceptions for a missing key or a wrong type, and unsound() for
// the rest, for a check at each of hundreds of numbers would hide what is read. For their
// .cc files only.

#pragma once

#include <stdexcept>
#include <string>
#include <string_view>
#include <type_traits>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sensors/result.h"

namespace rimeward {

// Within read_saved(): it cannot have been saved.
[[noreturn]] inline void unsound(const std::string& why) {
  throw std::invalid_argument(why);
}

// What `read` makes of the text, or why the text cannot be what a class saved at that
// version of its form: "saved lifts: of another version".
template <class Read>
auto read_saved(std::string_view what, int version, std::string_view text,
                const Read& read)
    -> Result<std::invoke_result_t<Read, const nlohmann::json&>> {
  try {
    const auto json = nlohmann::json::parse(text);
    if (json.at("version").get<int>() != version) unsound("of another version");
    return read(json);
  } catch (const nlohmann::json::exception& why) {
    return refuse(fmt::format("saved {}: {}", what, why.what()));
  } catch (const std::invalid_argument& why) {
    return refuse(fmt::format("saved {}: {}", what, why.what()));
  }
}

}  // namespace rimeward
