#include "daemon/base/crop.h"

#include <algorithm>
#include <cstdlib>

#include "daemon/base/text.h"

namespace rimeward {
namespace {

// The sources are in crop.h.
constexpr Celsius kTenderAbove{5};
constexpr Celsius kHalfHardyAbove{1};
constexpr Celsius kHardyAtLeast{-2};
constexpr Celsius kKillsSoftHardy{-3};
constexpr Kelvins kLeafBelowAir{2};

}  // namespace

std::string_view name_of(Tenderness tenderness) {
  switch (tenderness) {
    case Tenderness::kTender:
      return "tender";
    case Tenderness::kHalfHardy:
      return "half-hardy";
    case Tenderness::kHardy:
      return "hardy";
  }
  std::abort();
}

Celsius keep_above(const Crop& crop) {
  if (crop.keep_above) return *crop.keep_above;
  switch (crop.tenderness) {
    case Tenderness::kTender:
      return crop.unhardened.chilling.value_or(kTenderAbove);
    case Tenderness::kHalfHardy:
      return kHalfHardyAbove;
    case Tenderness::kHardy:
      return std::clamp(crop.unhardened.killing.value_or(kKillsSoftHardy) + kLeafBelowAir,
                        kHardyAtLeast, kHalfHardyAbove);
  }
  std::abort();
}

Celsius keep_above(const Crop& crop, Hardening hardening) {
  const bool stands_more = hardening == Hardening::kHardened &&
                           crop.tenderness == Tenderness::kHardy &&
                           crop.hardened.killing && !crop.keep_above;
  if (!stands_more) return keep_above(crop);
  return std::min(*crop.hardened.killing + kLeafBelowAir, keep_above(crop));
}

std::string folded_name(std::string_view name) {
  std::string folded(name);
  for (char& letter : folded) {
    if (letter >= 'A' && letter <= 'Z') letter = static_cast<char>(letter - 'A' + 'a');
    if (letter == '-') letter = ' ';
  }
  return folded;
}

std::vector<std::string_view> names_of(const Crop& crop) {
  std::vector<std::string_view> names{crop.id, crop.name, crop.plural};
  names.insert(names.end(), crop.other_names.begin(), crop.other_names.end());
  return names;
}

const Crop* CropTable::find(std::string_view id) const {
  const auto found = std::ranges::find(crops_, id, &Crop::id);
  return found == crops_.end() ? nullptr : &*found;
}

const Crop* CropTable::named(std::string_view text) const {
  const std::string wanted = folded_name(text);
  // One crop's name may be another's with an s.
  for (const char* ending : {"", "s"}) {
    const auto is_meant = [&](std::string_view name) {
      return folded_name(name) + ending == wanted;
    };
    const auto found = std::ranges::find_if(crops_, [&](const Crop& crop) {
      return std::ranges::any_of(names_of(crop), is_meant);
    });
    if (found != crops_.end()) return &*found;
  }
  return nullptr;
}

const Crop* CropTable::nearest(std::string_view text) const {
  std::vector<std::string> folded;
  for (const Crop& crop : crops_) {
    for (const std::string_view name : names_of(crop)) {
      folded.push_back(folded_name(name));
    }
  }
  const std::vector<std::string_view> names(folded.begin(), folded.end());
  const auto meant = rimeward::nearest(folded_name(text), names);
  return meant ? named(*meant) : nullptr;
}

}  // namespace rimeward
