// What the gardener said of a batch, as JSON: as the terminal writes it into an action
// and the daemon takes it from there. Pure.

#pragma once

#include <string>
#include <string_view>

#include "daemon/store/rows.h"
#include "sensors/result.h"

namespace rimeward {

// sow: a new batch and where it is. move: the batch's id, its new place and since when;
// next_place, where that is said anew (empty: no longer known). finish: the id and
// `finished`.
struct BatchWord {
  BatchRow batch{};
  std::string place{};             // sow, move
  std::optional<Instant> since{};  // sow, move
  bool operator==(const BatchWord&) const = default;
};

std::string batch_json(const BatchWord& word);

// Refuses text that is no such object, an id or a date that is none.
Result<BatchWord> batch_from_json(std::string_view text);

}  // namespace rimeward
