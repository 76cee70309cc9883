#include "daemon/base/garden.h"

#include <fmt/format.h>

namespace rimeward {

std::string route_name(const RouteSettings& route, std::size_t index) {
  return fmt::format("{}-{}", route.kind, index + 1);
}

}  // namespace rimeward
