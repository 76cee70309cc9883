// The life of a notice: when a matter is raised, told again, and over. Pure.
//
//   nothing -- stood for raise_after --> open -- gone for clear_after, or past its end
//   --> nothing
//
// Two thresholds (a finding that holds, and one that only lingers) and the two waits keep
// a matter that dithers around its limit from telling anybody twice.

#pragma once

#include <optional>

#include "daemon/notice/rule.h"
#include "daemon/store/rows.h"

namespace rimeward {

enum class Step {
  kNothing,
  kRaise,       // tell it for the first time
  kSpeakAgain,  // tell it again: it has got worse
  kFollow,      // bring the words up to date, tell nobody
  kLapse,       // it is over by itself
};

struct Verdict {
  MatterRow matter;
  Step step = Step::kNothing;
};

// Whether a finding has grown so far beyond the urgency that was told, or answered, that
// people want to know.
bool is_worse(const Finding& finding, double urgency);

// What follows for a matter from what its rule finds at `now`. `open` is the matter's
// open notice, or null; `finding` is null when the rule says nothing of the subject.
Verdict next_step(const MatterRow& was, const NoticeRow* open, const Finding* finding,
                  const Rule& rule, Instant now);

}  // namespace rimeward
