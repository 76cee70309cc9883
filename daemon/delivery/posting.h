// What the routes that reach out by rimeward-post have in common. Thread-safe: no state.

#pragma once

#include <chrono>
#include <filesystem>
#include <stop_token>
#include <string>

#include "daemon/delivery/route.h"
#include "daemon/post/job.h"

namespace rimeward {

// Has `program` do the job, which has `time_limit` for it, and says what became of it.
// All that can go wrong may pass, so it is to be tried again until the notice's end.
Outcome outcome_of(const std::filesystem::path& program, const Job& job,
                   std::chrono::seconds time_limit, const std::stop_token& stop);

// What a message with the dispatch's tellings is about: the headline of the only one, or
// of the first, and how many more there are: "Fleece the north frame, by 19:20 (+2)".
std::string subject_of(const Dispatch& dispatch);

}  // namespace rimeward
