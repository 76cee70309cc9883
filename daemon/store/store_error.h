// What the store throws when the machine underneath fails it.

#pragma once

#include <stdexcept>
#include <string>

namespace rimeward {

// What went wrong, by what a person can do about it.
enum class StoreFault {
  kFull,         // no room is left
  kNotWritable,  // it may be read and not written
  kMedium,       // the card or disk answers with errors
  kDamaged,      // what is read cannot be
  kNoDatabase,   // not the first page of one: another file, or that page is damaged
  kHeld,         // by another program, for longer than is waited for it
  kUnreachable,  // it cannot be opened
  kMisplaced,    // the settings name what is no store, or none of this version
  kSlow,         // it takes what it is given, and takes its time; never thrown
  kOther,
};

// The message says what failed, on which file, and what to do.
class StoreError : public std::runtime_error {
 public:
  explicit StoreError(const std::string& message, StoreFault fault = StoreFault::kOther)
      : std::runtime_error(message), fault_(fault) {}

  StoreFault fault() const { return fault_; }

 private:
  StoreFault fault_;
};

}  // namespace rimeward
