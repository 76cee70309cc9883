// A notice as JSON: what the MQTT route publishes and `rimeward notices --json` prints.
// Pure.
//
// Members: id, revision, kind, subject, place, place_name, state, title, body, raised_at,
// spoke_at, and, where they apply, deadline, ends_at, closed_at, reminded_at (all UTC,
// ISO 8601), deadline_local ("19:35", the garden's time) and layers. `revision` counts
// the times that the notice spoke.

#pragma once

#include <optional>
#include <string>

#include "daemon/base/garden.h"
#include "daemon/base/zone.h"
#include "daemon/store/rows.h"

namespace rimeward {

// What the name of a notice's place is; of what is about the garden as a whole, the
// garden's.
std::string place_name(const NoticeRow& notice, const Garden& garden);

// What goes with one telling of it: why it is told (raised, worse, reminder, changed,
// over, letter), and the message's id, the same at each attempt, by which a receiver
// drops a repeat. They become the members event and message.
struct TellingMarks {
  std::string event;
  std::string message;
};

// One line, no newline.
std::string notice_json(const NoticeRow& notice, const Garden& garden, const Zone& zone,
                        const std::optional<TellingMarks>& marks = std::nullopt);

}  // namespace rimeward
