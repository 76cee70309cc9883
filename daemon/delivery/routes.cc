#include "daemon/delivery/routes.h"

#include <algorithm>
#include <array>

namespace rimeward {
namespace {

constexpr std::array kKinds{
#define ROUTE(name, does) RouteKind{#name, does, make_route_##name},
#include "daemon/delivery/routes.def"
#undef ROUTE
};

}  // namespace

std::span<const RouteKind> all_route_kinds() {
  return kKinds;
}

Routes make_routes(std::span<const RouteSettings> settings, const Outside& outside) {
  Routes routes;
  for (std::size_t i = 0; i < settings.size(); ++i) {
    const auto kind = std::ranges::find(kKinds, settings[i].kind, &RouteKind::name);
    if (kind == kKinds.end()) continue;
    routes.emplace(route_name(settings[i], i), kind->make(settings[i], outside));
  }
  return routes;
}

}  // namespace rimeward
