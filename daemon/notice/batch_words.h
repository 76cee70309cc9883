// How notices speak of batches. Pure.

#pragma once

#include <string>
#include <string_view>

#include "daemon/notice/situation.h"

namespace rimeward {

// "chillies"; with its id where that says more than the crop: "chillies (early-ones)".
std::string batch_text(const BatchView& batch);

// The crop's name for many: its plural, or its name where it has none.
std::string_view plural_of(const Crop& crop);

}  // namespace rimeward
