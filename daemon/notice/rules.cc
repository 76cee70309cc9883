// The table of all notice rules, from rules.def.

#include <algorithm>
#include <array>

#include "daemon/notice/rule.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr std::array kRules{
#define RULE(kind, every, raise_after, clear_after, follows, takes_over, is_one, \
             remind_before)                                                      \
  Rule{#kind,         every,       {raise_after, clear_after},                   \
       follows,       takes_over,  is_one,                                       \
       remind_before, &find_##kind},
#include "daemon/notice/rules.def"
#undef RULE
};

template <class View>
std::vector<Finding> found_in(const std::vector<View>& views, const Situation& situation,
                              std::optional<Finding> (*find)(const Situation& situation,
                                                             const View& view)) {
  std::vector<Finding> findings;
  for (const View& view : views) {
    if (auto finding = find(situation, view)) findings.push_back(*std::move(finding));
  }
  return findings;
}

}  // namespace

std::span<const Rule> all_rules() {
  return kRules;
}

std::vector<Finding> find_by_place(
    const Situation& situation,
    std::optional<Finding> (*find)(const Situation& situation, const PlaceView& view)) {
  return found_in(situation.places, situation, find);
}

std::vector<Finding> find_by_sensor(
    const Situation& situation,
    std::optional<Finding> (*find)(const Situation& situation, const SensorView& view)) {
  return found_in(situation.sensors, situation, find);
}

const PlaceView* view_of(const Situation& situation, std::string_view id) {
  const auto found = std::ranges::find_if(
      situation.places, [id](const PlaceView& view) { return view.place->id == id; });
  return found == situation.places.end() ? nullptr : &*found;
}

std::string_view place_name(const Situation& situation, std::string_view id) {
  const PlaceView* view = view_of(situation, id);
  return view == nullptr ? id : std::string_view(view->place->name);
}

}  // namespace rimeward
