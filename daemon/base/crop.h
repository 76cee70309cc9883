// What is known of a crop: the figures that warmth and cold are reckoned with. Read from
// config/crops.toml and the gardener's own file by daemon/crops.h. Plain values.

#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "sensors/units.h"

namespace rimeward {

// The trade's classes. `tender` is harmed by cold above freezing, `half-hardy` stands
// cool nights but no frost, `hardy` stands frost once hardened.
enum class Tenderness { kTender, kHalfHardy, kHardy };

std::string_view name_of(Tenderness tenderness);  // "half-hardy"

// A stage that warmth brings about: so many degree days above `base`, counted from the
// sowing, or from an earlier stage.
struct CropStage {
  std::string name;                // "emergence", "transplanting", "first picking"
  double heat_sum = 0;             // degree C days
  Celsius base{};                  // of this stage
  std::optional<Celsius> upper{};  // warmth above it counts no more (horizontal cut-off)
  std::string after{};             // the stage that it is counted from; empty: the sowing
};

// Temperatures of one state of a plant. Absent: no figure is known.
struct ColdLimits {
  std::optional<Celsius> chilling{};  // harm without frost below this
  std::optional<Celsius> killing{};   // dead, or half of them, at this
};

struct Crop {
  std::string id;    // "courgette"; as in the settings file: lower-case, hyphens
  std::string name;  // as said in a sentence: "courgette"
  Tenderness tenderness = Tenderness::kTender;
  Celsius base{};                   // no growth below
  std::optional<Celsius> upper{};   // no more growth above
  std::vector<CropStage> stages{};  // each behind the one that it is counted from
  ColdLimits unhardened{};
  ColdLimits hardened{};
  // Below which it should not go, where the crop's own differs from its tenderness.
  std::optional<Celsius> keep_above{};
  int hardening_nights = 7;  // above keep-above before it may move out
  std::string plural{};      // as said in a sentence: "courgettes", "sweet corn"
  std::vector<std::string> other_names{};  // "zucchini"
};

// The temperature below which a crop should not go while it is young and soft: its own
// `keep_above`; else by its tenderness, with a figure of the crop's where there is one:
//   tender      its chilling temperature, or 5 C, the cold end of the hardiness band for
//               warm-temperate plants (H1c, 5 to 10 C, RHS 2012)
//   half-hardy  1 C, the cold end of the frost-free band (H2, 1 to 5 C, RHS 2012)
//   hardy       2 K above what kills it unhardened, for a leaf under a clear sky is
//               colder than the air (common practice, no source), but not above the
//               half-hardy's 1 C nor below -2 C, the lower end of what US extension
//               services call a light frost (28 F). Where that is not known, -1 C: soft
//               leaves of winter rape die at -3 C (Gusta et al. 2004, Table I)
Celsius keep_above(const Crop& crop);

// Soft: raised in warmth, as seedlings are. Hardened: it has stood its hardening nights
// in a frame, a bed or outdoors.
enum class Hardening { kSoft, kHardened };

// The same for a crop in either state: a hardy one that is hardened stands 2 K above what
// kills it hardened; where that is not known, and for all others, as while it is soft.
Celsius keep_above(const Crop& crop, Hardening hardening);

// A name as names are compared: small letters, spaces for hyphens.
std::string folded_name(std::string_view name);

// Id, name, plural and other names, as they stand in the crop and as long as it.
std::vector<std::string_view> names_of(const Crop& crop);

// All the crops there are. A pointer to one is good as long as the table that gave it.
class CropTable {
 public:
  CropTable() = default;
  // REQUIRES: no two crops share a name, as names are compared.
  explicit CropTable(std::vector<Crop> crops) : crops_(std::move(crops)) {}

  // In the order of the files.
  const std::vector<Crop>& all() const { return crops_; }

  // Null when there is none.
  const Crop* find(std::string_view id) const;

  // By any of its names as a person types it, with or without the s of a plural:
  // "Tomatoes", "sweet corn", "zucchinis". Null when there is none.
  const Crop* named(std::string_view text) const;

  // The crop that was most likely meant by a name that no crop has; null when none is
  // near.
  const Crop* nearest(std::string_view text) const;

 private:
  std::vector<Crop> crops_;
};

}  // namespace rimeward
