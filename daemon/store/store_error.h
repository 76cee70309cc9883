// What the store throws when the machine underneath fails it.

#pragma once

#include <stdexcept>

namespace rimeward {

// The message says what failed, on which file, and what to do.
class StoreError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

}  // namespace rimeward
