// The temperature below which the plants in a place must not go, and where it is from.
// Pure.

#pragma once

#include <optional>
#include <span>
#include <string>

#include "daemon/base/crop.h"
#include "daemon/base/garden.h"

namespace rimeward {

// A batch as far as it asks for warmth.
struct Tenant {
  std::string batch;  // its id
  const Crop* crop = nullptr;
  Hardening hardening = Hardening::kSoft;
};

struct KeepAbove {
  std::optional<Celsius> limit{};  // absent: nothing to protect here
  std::string batch{};  // the batch that asks for it; empty: set for the place, or usual
  bool is_set = false;  // in the settings file
};

// As set for the place; else what the most delicate of its batches needs; else the usual
// for places that are not outdoors, 0 degrees C.
KeepAbove keep_above_of(const Place& place, std::span<const Tenant> tenants);

}  // namespace rimeward
