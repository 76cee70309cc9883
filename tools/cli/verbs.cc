// The table of all verbs, from verbs.def, and the replies they give.

#include <algorithm>
#include <array>
#include <utility>

#include "tools/cli/verb.h"

namespace rimeward {

std::span<const Verb> all_verbs() {
  static const std::array verbs{
#define VERB(name, help) Verb{#name, help, describe_##name()},
#include "tools/cli/verbs.def"
#undef VERB
  };
  return verbs;
}

const Verb* find_verb(std::string_view name) {
  const std::span<const Verb> verbs = all_verbs();
  const auto found = std::ranges::find(verbs, name, &Verb::name);
  return found == verbs.end() ? nullptr : &*found;
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
