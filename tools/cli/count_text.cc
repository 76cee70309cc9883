#include "tools/cli/count_text.h"

#include <fmt/format.h>

namespace rimeward {

std::string count_text(std::int64_t count) {
  std::string text = fmt::format("{}", count);
  for (std::size_t end = text.size(); end > 3; end -= 3)
    text.insert(end - 3, 1, ',');
  return text;
}

}  // namespace rimeward
