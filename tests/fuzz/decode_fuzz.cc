// One decoder, RIMEWARD_DECODER: whatever a sensor sends, it answers with sound samples
// or with words.
//
// An input is four bytes that choose the PayloadSpec, then the payload. Where the format
// spans topics, it is lines instead, a topic's levels below the sensor's and a payload in
// turn, and what the earlier messages told is known to the later ones.

#include <string_view>

#include "sensors/decoders.h"
#include "tests/fuzz/demands.h"

using namespace rimeward;

namespace {

void decode(const Decoder& decoder, const Payload& payload, const PayloadSpec& spec,
            Facts& known) {
  const auto decoded = decoder.decode(payload, spec, known);
  if (!decoded) {
    fuzz::demand_words(decoded.error().message);
    return;
  }
  fuzz::demand_sound(*decoded, payload.bytes.size());
  for (const auto& [name, value] : decoded->facts)
    known.insert_or_assign(name, value);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const Decoder* const decoder = find_decoder(RIMEWARD_DECODER);
  fuzz::demand(decoder != nullptr, "a decoder in sensors/decoders.def");
  fuzz::Input input(data, size);
  const PayloadSpec spec = fuzz::payload_spec(input);
  Facts known;
  if (!decoder->spans_topics) {
    decode(*decoder, {.bytes = input.rest()}, spec, known);
    return 0;
  }
  while (!input.at_end()) {
    const std::string_view below = input.line();
    decode(*decoder, {.bytes = input.line(), .below = below}, spec, known);
  }
  return 0;
}
