// The table of all verbs, from verbs.def, and the replies they give.

#include <algorithm>
#include <array>
#include <cstddef>
#include <string_view>
#include <utility>
#include <vector>

#include "tools/cli/verb.h"

namespace rimeward {
namespace {

// As it is typed: a verb of two words has a hyphen, which C++ does not allow in a name.
template <std::size_t size>
constexpr std::array<char, size> with_hyphens(const char (&name)[size]) {
  std::array<char, size> result{};
  std::ranges::replace_copy(name, result.begin(), '_', '-');
  return result;
}

std::vector<Verb> verbs_of_table() {
  std::vector<Verb> verbs;
  std::string_view group;
#define GROUP(title) group = title;
#define VERB(word, says)                                                   \
  static constexpr auto word##_typed = with_hyphens(#word);                \
  verbs.push_back({.name = {word##_typed.data(), word##_typed.size() - 1}, \
                   .help = says,                                           \
                   .group = group,                                         \
                   .details = describe_##word()});
#include "tools/cli/verbs.def"
#undef VERB
  return verbs;
}

}  // namespace

std::span<const Verb> all_verbs() {
  static const std::vector<Verb> verbs = verbs_of_table();
  return verbs;
}

const Verb* find_verb(std::string_view name) {
  const std::span<const Verb> verbs = all_verbs();
  const auto found = std::ranges::find(verbs, name, &Verb::name);
  return found == verbs.end() ? nullptr : &*found;
}

bool goes_with(const Parameter& parameter, std::string_view step) {
  std::string_view steps = parameter.goes_with;
  if (steps.empty()) return true;
  while (!steps.empty()) {
    const std::size_t end = std::min(steps.find(' '), steps.size());
    if (steps.substr(0, end) == step) return true;
    steps.remove_prefix(std::min(end + 1, steps.size()));
  }
  return false;
}

Reply said(std::string text) {
  return {.status = 0, .text = std::move(text), .trouble = {}};
}

Reply could_not(std::string trouble) {
  return {.status = 1, .text = {}, .trouble = std::move(trouble)};
}

Reply misused(std::string trouble) {
  return {.status = 2, .text = {}, .trouble = std::move(trouble)};
}

}  // namespace rimeward
