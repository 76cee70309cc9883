// The last step of every way to calibrate: what was found is shown, asked about, stored.

#pragma once

#include "tools/cli/calibrate_session.h"
#include "tools/cli/calibrate_words.h"

namespace rimeward {

// The line with as many digits as it has meaning: thousandths of the unit.
void put_line(const CorrectionLine& line, CorrectionRow& row);

// Completes what was found, whose row has its sensor, channel, line, method and points:
// what it would replace, and whether it is beyond what a sound sensor needs.
void hold_against(const Context& context, const Sensor& sensor, FoundCorrection& found);

// What the gardener decided about storing it.
enum class Decision { kStore, kLeave, kNobodyAsked, kTooFar };

struct Wish {
  bool yes = false;     // stores without asking
  bool anyway = false;  // also what is too far off
};

// Tells what was found, and asks where that does not settle it.
Decision decide(Session& session, const FoundCorrection& found, const Wish& wish);

}  // namespace rimeward
