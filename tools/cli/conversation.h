// The Conversation of the program itself: its standard streams, its clock, and the
// signals that end a wait.

#pragma once

#include "tools/cli/verb.h"

namespace rimeward {

// Lines go to stdout, or to stderr where stdout is kept for a document. Somebody is there
// to answer when stdin and that stream are terminals. From the first wait or question on,
// SIGINT, SIGTERM and SIGHUP end only waits and questions, so that a verb can tidy up.
// Throws std::system_error where the machine refuses. REQUIRES: one thread.
Conversation conversation_of_process(Format format);

}  // namespace rimeward
