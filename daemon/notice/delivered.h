// What became of one delivery: the courier's word to the keeper of notices.

#pragma once

#include <cstdint>
#include <string>

namespace rimeward {

struct Delivered {
  enum class Outcome {
    kDone,
    kAgain,  // not now: try again later
    kNever,  // trying again is no use
  };
  std::int64_t outbox = 0;  // OutboxRow::id
  Outcome outcome = Outcome::kDone;
  std::string trouble = {};  // what went wrong and what to do; empty when done
};

}  // namespace rimeward
