// What both letters look at and tell alike. Pure but for the store.

#pragma once

#include <string>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/base/zone.h"
#include "daemon/notice/wording.h"
#include "daemon/store/store.h"

namespace rimeward {

// All must outlive it.
struct LetterSources {
  const Store& store;
  const Garden& garden;
  const Zone& zone;
  const Wording& wording;
  Instant at;  // when the letter is due: what came later is not in it
};

// The body is paragraphs and tables, as daemon/post/job.h has them.
struct LetterText {
  std::string title;
  std::string body;
};

// The places whose air is measured, or whose sensors have said nothing yet of what they
// measure; in the order of the settings.
std::vector<const Place*> places_with_air(const LetterSources& from);

// "5.2": to a tenth in the unit of the wording, which stands elsewhere.
std::string degrees_text(Celsius air, const Wording& wording);
// "°C".
std::string unit_text(const Wording& wording);

// What was open at the letter's hour: what is to be done, then which batches are due
// something. Paragraphs.
std::vector<std::string> open_matters(const LetterSources& from);

}  // namespace rimeward
