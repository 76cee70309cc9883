#include "daemon/base/log.h"

#include <utility>

#include <fmt/format.h>

namespace rimeward {
namespace {

constexpr std::size_t kMostKinds = 500;

}  // namespace

std::optional<std::string> RepeatLimit::pass(const std::string& key,
                                             const std::string& line, Instant now) {
  const auto found = seen_.find(key);
  if (found == seen_.end()) {
    if (seen_.size() >= kMostKinds) seen_.clear();
    seen_.emplace(key, Seen{.logged = now});
    return line;
  }
  Seen& seen = found->second;
  if (now - seen.logged < quiet_) {
    ++seen.held_back;
    return std::nullopt;
  }
  const int held_back = std::exchange(seen.held_back, 0);
  seen.logged = now;
  if (held_back == 0) return line;
  return fmt::format("{} ({} more since the last such line)", line, held_back);
}

}  // namespace rimeward
