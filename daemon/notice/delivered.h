// What became of one delivery: the courier's word to the keeper of notices.

#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace rimeward {

struct Delivered {
  enum class Outcome {
    kDone,
    kAgain,  // not now: try again later
    kNever,  // trying again is no use
  };
  std::string route;                 // "email-1"
  std::vector<std::int64_t> outbox;  // the OutboxRow::ids of what went together
  Outcome outcome = Outcome::kDone;
  std::string trouble = {};  // what went wrong and what to do; may be set when done, too
};

}  // namespace rimeward
