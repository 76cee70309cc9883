#include "daemon/notice/batch_words.h"

#include <algorithm>

#include <fmt/format.h>

namespace rimeward {

std::string batch_text(const BatchView& batch) {
  const std::string_view crop = plural_of(*batch.crop);
  const std::string id = folded_name(batch.row->id);
  const auto names = names_of(*batch.crop);
  const bool says_the_crop = std::ranges::any_of(
      names, [&](std::string_view name) { return folded_name(name) == id; });
  if (says_the_crop) return std::string(crop);
  return fmt::format("{} ({})", crop, batch.row->id);
}

std::string_view plural_of(const Crop& crop) {
  return crop.plural.empty() ? crop.name : crop.plural;
}

}  // namespace rimeward
