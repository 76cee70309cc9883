#include "daemon/store/stays.h"

#include <algorithm>
#include <chrono>

namespace rimeward {
namespace {

// Where plants stand out of a greenhouse's warmth.
bool hardens(PlaceKind kind) {
  return kind == PlaceKind::kFrame || kind == PlaceKind::kBed ||
         kind == PlaceKind::kOutdoors;
}

}  // namespace

Hardening hardening_of(const Crop& crop, std::span<const StayRow> stays,
                       const Garden& garden, Instant now) {
  std::chrono::seconds out{0};
  for (std::size_t i = 0; i < stays.size(); ++i) {
    const auto place = std::ranges::find(garden.places, stays[i].place, &Place::id);
    if (place == garden.places.end() || !hardens(place->kind)) continue;
    const Instant until = i + 1 < stays.size() ? stays[i + 1].since : now;
    out += std::max(until, stays[i].since) - stays[i].since;
  }
  return out >= std::chrono::days{crop.hardening_nights} ? Hardening::kHardened
                                                         : Hardening::kSoft;
}

}  // namespace rimeward
