// The Conversation of the program itself: its standard streams, its clock, and the
// signals that end a wait.

#pragma once

#include "tools/cli/verb.h"

namespace rimeward {

// Lines go to stdout, or to stderr where stdout is kept for a document. Somebody is there
// to answer when stdin and that stream are terminals. From the first wait or question on,
// SIGINT, SIGTERM and SIGHUP end only waits and questions, so that a verb can tidy up.
// Progress is a line on stderr where that is a terminal, drawn anew at most ten times a
// second; it is gone before anything else is said, and when the Conversation has ended.
// Throws std::system_error where the machine refuses. REQUIRES: one thread.
Conversation conversation_of_process(Format format, const Screen& screen);

}  // namespace rimeward
