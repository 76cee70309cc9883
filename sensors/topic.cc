#include "sensors/topic.h"

#include <cstddef>

namespace rimeward {
namespace {

constexpr std::size_t kLongestTopic = 65'535;  // its length travels in two bytes

bool has_valid_bytes(std::string_view text) {
  return !text.empty() && text.size() <= kLongestTopic &&
         text.find('\0') == std::string_view::npos;
}

// Takes the levels of a topic from the front. An empty level counts: "/finance" has two.
class Levels {
 public:
  explicit Levels(std::string_view text) : rest_(text) {}

  bool at_end() const { return at_end_; }

  // REQUIRES: not at_end().
  std::string_view next() {
    const std::size_t slash = rest_.find('/');
    const std::string_view level = rest_.substr(0, slash);
    at_end_ = slash == std::string_view::npos;
    if (!at_end_) rest_.remove_prefix(slash + 1);
    return level;
  }

 private:
  std::string_view rest_;
  bool at_end_ = false;
};

bool is_valid_level(std::string_view level) {
  return level == "+" || level == "#" || level.find_first_of("+#") == level.npos;
}

}  // namespace

bool is_valid_topic(std::string_view topic) {
  return has_valid_bytes(topic) && topic.find_first_of("+#") == std::string_view::npos;
}

bool is_valid_filter(std::string_view filter) {
  if (!has_valid_bytes(filter)) return false;
  Levels levels(filter);
  while (!levels.at_end()) {
    const std::string_view level = levels.next();
    if (!is_valid_level(level)) return false;
    if (level == "#") return levels.at_end();
  }
  return true;
}

bool topic_matches(std::string_view filter, std::string_view topic) {
  if (topic.starts_with('$') && (filter.starts_with('+') || filter.starts_with('#'))) {
    return false;
  }
  Levels wanted(filter);
  Levels given(topic);
  while (!wanted.at_end()) {
    const std::string_view want = wanted.next();
    if (want == "#") return true;  // also where the topic has ended: the parent level
    if (given.at_end()) return false;
    const std::string_view have = given.next();
    if (want != "+" && want != have) return false;
  }
  return given.at_end();
}

}  // namespace rimeward
