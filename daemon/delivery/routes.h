// The routes of the settings file, made from the table in routes.def.

#pragma once

#include <chrono>
#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/delivery/route.h"

namespace rimeward {

// What routes may use of the world.
struct Outside {
  // Publishes to the broker with QoS 1 and waits for its word; false: not for certain.
  std::function<bool(const std::string& topic, const std::string& payload, bool retained,
                     std::chrono::milliseconds patience)>
      publish;
  // The program that carries e-mail and HTTP (daemon/post).
  std::filesystem::path post_program;
  std::string garden;  // its name, for whom a letter is from
};

struct RouteKind {
  std::string_view name;  // as in the settings file
  std::string_view does;  // one line for help texts
  std::unique_ptr<Route> (*make)(const RouteSettings& settings, const Outside& outside);
};

std::span<const RouteKind> all_route_kinds();

using Routes = std::map<std::string, std::unique_ptr<Route>>;

// By route_name(). A kind that is not known is left out: the settings have refused it
// before.
Routes make_routes(std::span<const RouteSettings> settings, const Outside& outside);

#define ROUTE(name, does)                                                 \
  std::unique_ptr<Route> make_route_##name(const RouteSettings& settings, \
                                           const Outside& outside);
#include "daemon/delivery/routes.def"
#undef ROUTE

}  // namespace rimeward
