// A notice as JSON: what the MQTT route publishes and `rimeward notices --json` prints.
// Pure.
//
// Members: id, revision, kind, subject, place, place_name, state, title, body, raised_at,
// spoke_at, and, where they apply, deadline, ends_at, closed_at (all UTC, ISO 8601),
// deadline_local ("19:35", the garden's time) and layers. `id` and `revision` together
// name one telling of the notice: a receiver drops a pair that it has seen.

#pragma once

#include <string>

#include "daemon/base/garden.h"
#include "daemon/base/zone.h"
#include "daemon/store/rows.h"

namespace rimeward {

// One line, no newline.
std::string notice_json(const NoticeRow& notice, const Garden& garden, const Zone& zone);

}  // namespace rimeward
