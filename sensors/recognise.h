// Which format a message is in, for a sensor whose owner has not said: every decoder is
// asked, and what more than one can read is not guessed at. Pure.

#pragma once

#include <string_view>
#include <vector>

#include "sensors/decoders.h"

namespace rimeward {

// One way to read a message.
struct Recognised {
  const Decoder* decoder;
  PayloadSpec spec;  // the given one; of a bare number with the channel that it is of
  Decoded decoded;   // never without a sample or a fact
};

struct Recognition {
  // Every way in which the message can be read, in the order of decoders.def; empty:
  // none. More than one: it could be two things, and only its owner can say which.
  std::vector<Recognised> ways;
  // It is one number, and nothing says of which channel. That is no way to read it, but
  // one that stands against any other: where there is a way beside, it is not certain.
  bool bare_number = false;
};

// Of formats that span topics only those are asked that read what is below a sensor's
// topic, and these there alone.
//
// `topic` is where the message came from. A bare number is of `spec.lone_channel`; else
// of the channel whose name or usual key is the topic's last level, in any case
// ("garden/yard/Humidity"). Keys of one letter do not count, and neither do those that
// say another temperature scale than `spec` has: what comes on that topic next would be
// read on the wrong one.
Recognition recognise(std::string_view topic, const Payload& payload,
                      const PayloadSpec& spec, const Facts& known);

}  // namespace rimeward
