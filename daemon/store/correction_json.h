// A correction as JSON, as the terminal writes it into an action and the daemon takes it
// from there. Pure.

#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/store/rows.h"
#include "sensors/result.h"

namespace rimeward {

// One object; id and until, which the daemon gives, are left out.
std::string correction_json(const CorrectionRow& row);

// Refuses text that is no such object, an unknown channel, and numbers that no correction
// can have: a gain that is not above 0, an uncertainty below 0.
Result<CorrectionRow> correction_from_json(std::string_view text);

// CorrectionRow::points: what the sensor said, and what was true; in the channel's unit.
struct SaidAndTrue {
  double said = 0;
  double known = 0;
  bool operator==(const SaidAndTrue&) const = default;
};

std::string points_json(std::span<const SaidAndTrue> points);  // "[[0.43,0.0]]"
// Empty for text that is no such list.
std::vector<SaidAndTrue> points_from_json(std::string_view text);

}  // namespace rimeward
