// What `rimeward rehearse` is to rehearse, from its words: the garden, by hand or from
// the settings, and where its outlooks start.

#pragma once

#include <optional>
#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/base/garden.h"
#include "daemon/climate/prior.h"
#include "daemon/store/rows.h"
#include "tools/cli/verb.h"
#include "tools/recorded.h"

namespace rimeward {

struct RehearsalPlan {
  // Without routes, for a rehearsal tells nobody. Each place has one sensor, heard on
  // rehearsal_topic(); only for a captured log are they the settings' own.
  Garden garden;
  std::optional<Prior> prior;
  std::vector<ActionRow> told;  // by the gardener meanwhile, oldest first
};

// Or the reply that says which word is misused, or what could not be read.
tl::expected<RehearsalPlan, Reply> plan_rehearsal(const Surroundings& around,
                                                  const Arguments& arguments);

// Where a recorded reading is heard in the plan's garden. A garden of one place takes all
// readings, whatever the file calls their places.
std::string rehearsal_topic(const Garden& garden, const RecordedReading& reading);

}  // namespace rimeward
