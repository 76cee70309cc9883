// The table of all notice rules, from rules.def.

#include <algorithm>
#include <array>

#include "daemon/notice/rule.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr std::array kRules{
#define RULE(kind, every, raise_after, clear_after, follows, takes_over) \
  Rule{#kind, every, {raise_after, clear_after}, follows, takes_over, &find_##kind},
#include "daemon/notice/rules.def"
#undef RULE
};

}  // namespace

std::span<const Rule> all_rules() {
  return kRules;
}

std::vector<Finding> find_by_place(
    const Situation& situation,
    std::optional<Finding> (*find)(const Situation& situation, const PlaceView& view)) {
  std::vector<Finding> findings;
  for (const PlaceView& view : situation.places) {
    if (auto finding = find(situation, view)) findings.push_back(*std::move(finding));
  }
  return findings;
}

std::string_view place_name(const Situation& situation, std::string_view id) {
  const auto found = std::ranges::find_if(
      situation.places, [id](const PlaceView& view) { return view.place->id == id; });
  return found == situation.places.end() ? id : std::string_view(found->place->name);
}

std::vector<Finding> find_by_sensor(
    const Situation& situation,
    std::optional<Finding> (*find)(const Situation& situation, const SensorView& view)) {
  std::vector<Finding> findings;
  for (const SensorView& view : situation.sensors) {
    if (auto finding = find(situation, view)) findings.push_back(*std::move(finding));
  }
  return findings;
}

}  // namespace rimeward
