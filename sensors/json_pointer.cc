#include "sensors/json_pointer.h"

#include <cstddef>

namespace rimeward {

std::optional<std::vector<std::string>> pointer_tokens(std::string_view pointer) {
  std::vector<std::string> tokens;
  for (std::size_t i = 0; i < pointer.size(); ++i) {
    if (pointer[i] == '/') {
      tokens.emplace_back();
      continue;
    }
    if (tokens.empty()) return std::nullopt;
    if (pointer[i] != '~') {
      tokens.back() += pointer[i];
      continue;
    }
    ++i;
    if (i == pointer.size() || (pointer[i] != '0' && pointer[i] != '1')) {
      return std::nullopt;
    }
    tokens.back() += pointer[i] == '0' ? '~' : '/';
  }
  return tokens;
}

}  // namespace rimeward
