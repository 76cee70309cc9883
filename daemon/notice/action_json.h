// What the gardener says from elsewhere than the terminal, as JSON: on the broker's
// command topic, or a line of a file that is rehearsed. Pure.
//
//   {"verb": "cover", "place": "north-frame", "layers": 2}
//   {"verb": "mute", "kind": "damp", "until": "2026-04-20T08:00:00Z"}
//   {"verb": "done", "notice": 12}
//   {"verb": "sow", "batch": {...}, "at": "2026-03-20T10:00:00Z"}   (batch_json.h)
//
// Verbs: cover, uncover, open, shut, water, done, mute, and in a rehearsal sow, move and
// finish. `at` says when, at most 31 days ago; left out, `now`. In a rehearsal it is said
// always and may be any time. Layers left out are 1. A mute's `until` may be "now": it is
// mute no longer.

#pragma once

#include <string_view>

#include "daemon/base/garden.h"
#include "daemon/store/rows.h"
#include "sensors/result.h"

namespace rimeward {

enum class Told { kByMessage, kInRehearsal };  // sow, move and finish in a rehearsal only

// Refuses what is no such object: another verb or member, a place or kind that the garden
// does not have, layers beyond 9, a time to come.
Result<ActionRow> action_from_json(std::string_view text, const Garden& garden,
                                   Instant now, Told how);

}  // namespace rimeward
