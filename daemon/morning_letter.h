// The morning summary: how cold the night was, place by place, beside what its outlook
// had said. Pure but for the store.

#pragma once

#include "daemon/letter_sources.h"

namespace rimeward {

// Of the night before `from.at`; where that is not over yet, as far as it has gone.
LetterText morning_letter(const LetterSources& from);

}  // namespace rimeward
