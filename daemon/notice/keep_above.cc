#include "daemon/notice/keep_above.h"

namespace rimeward {
namespace {

// Where nothing is known of what grows there: no frost. Common practice, no source.
constexpr Celsius kUsual{0};

}  // namespace

KeepAbove keep_above_of(const Place& place, std::span<const Tenant> tenants) {
  if (place.keep_above) return {.limit = place.keep_above, .is_set = true};
  KeepAbove most;
  for (const Tenant& tenant : tenants) {
    const Celsius needs = keep_above(*tenant.crop, tenant.hardening);
    if (most.limit && needs <= *most.limit) continue;
    most = {.limit = needs, .batch = tenant.batch};
  }
  if (!most.limit && place.kind != PlaceKind::kOutdoors) most.limit = kUsual;
  return most;
}

}  // namespace rimeward
