// The table of all notice rules, from rules.def.

#include <array>

#include "daemon/notice/rule.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr std::array kRules{
#define RULE(kind, raise_after, clear_after, follows, takes_over) \
  Rule{#kind, {raise_after, clear_after}, follows, takes_over, &find_##kind},
#include "daemon/notice/rules.def"
#undef RULE
};

}  // namespace

std::span<const Rule> all_rules() {
  return kRules;
}

}  // namespace rimeward
