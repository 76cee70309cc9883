// Which batches there are, with what the gardener said of them that the daemon has not
// yet taken: so that a batch can be added, shown and moved while the daemon is down.

#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/crop.h"
#include "daemon/store/store.h"
#include "sensors/result.h"

namespace rimeward {

struct KnownBatch {
  BatchRow row{};
  std::vector<StayRow> stays{};  // oldest first; never empty
  bool is_pending = false;       // something of it is not yet taken by the daemon

  const std::string& place() const { return stays.back().place; }
};

// Finished ones too, by date of sowing, then id.
std::vector<KnownBatch> known_batches(const Store& store);

// By its id or the name it was given: "Anna's chillies". The error names the nearest, or
// those that are not finished. Good as long as `batches`.
Result<const KnownBatch*> find_batch(std::span<const KnownBatch> batches,
                                     std::string_view word);

// By any of its names. The error names the nearest, or all.
Result<const Crop*> find_crop(const CropTable& crops, std::string_view word);

// A name as an id: "Anna's chillies" becomes "anna-s-chillies". Empty where it has
// neither letter nor digit.
std::string id_from_name(std::string_view name);

// `id`, or where a batch has that already, `id`-2, `id`-3 and so on.
std::string free_id(std::span<const KnownBatch> batches, const std::string& id);

// "24 chillies", "chilli" where the number was not said; the crop's id as it is stored
// where the crop table, and so `crop`, has none.
std::string what_grows(const BatchRow& batch, const Crop* crop);

}  // namespace rimeward
