// What the fuzzers share: an input taken apart, and demands that end the run when they
// are not met, so that the fuzzer keeps the input that broke them.

#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

#include "sensors/decoders.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace rimeward::fuzz {

// The bytes of one input, taken from the front; beyond its end there are none.
class Input {
 public:
  Input(const std::uint8_t* data, std::size_t size);

  // One byte, as a choice of 0 to `count` - 1: '0' is the first, so that seeds can be
  // read. 0 at the end.
  std::size_t choice(std::size_t count);
  // What stands before the next newline, which is taken too; without one, the rest.
  std::string_view line();
  std::string_view rest() const { return rest_; }
  bool at_end() const { return rest_.empty(); }

 private:
  std::string_view rest_;
};

// Ends the run, saying `what` was demanded, when it does not hold.
void demand(bool holds, std::string_view what);

// Of words for people: not empty, of bounded length, UTF-8, and no character that
// controls, turns or hides.
void demand_words(std::string_view words);

// Of what a decoder read in a message: what sensors/decoders.h promises.
void demand_sound(const Decoded& decoded, std::size_t payload_bytes);

// A sensor's spec, as its owner might have configured it.
PayloadSpec payload_spec(Input& input);

}  // namespace rimeward::fuzz
