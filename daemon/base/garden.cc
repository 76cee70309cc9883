#include "daemon/base/garden.h"

#include <fmt/format.h>

namespace rimeward {

bool is_forecast(const Sensor& sensor) {
  const PayloadSpec& payload = sensor.payload;
  return payload.lone_channel == Channel::kForecastLow ||
         (payload.where.size() == 1 && payload.where.contains(Channel::kForecastLow));
}

std::string route_name(const RouteSettings& route, std::size_t index) {
  return fmt::format("{}-{}", route.kind, index + 1);
}

}  // namespace rimeward
