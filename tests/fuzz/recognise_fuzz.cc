// recognise(): what it says a message can be, it can be, and what can read it, it names.
//
// An input is a line of the topic, a line of its levels below the sensor's, four bytes
// that choose the PayloadSpec, and the payload.

#include <algorithm>
#include <string_view>

#include "sensors/recognise.h"
#include "tests/fuzz/demands.h"

using namespace rimeward;

namespace {

bool same(const Sample& one, const Sample& other) {
  return one.channel == other.channel && one.value == other.value &&
         one.measured_at == other.measured_at && one.ago == other.ago;
}

void demand_true(const Recognised& one, const Payload& payload, const Facts& known) {
  fuzz::demand_sound(one.decoded, payload.bytes.size());
  fuzz::demand(!one.decoded.samples.empty() || !one.decoded.facts.empty(),
               "measurements, or facts about them");
  const auto again = one.decoder->decode(payload, one.spec, known);
  fuzz::demand(again.has_value(), "a decoder that reads what it was recognised by");
  fuzz::demand(std::ranges::equal(again->samples, one.decoded.samples, same) &&
                   again->facts == one.decoded.facts &&
                   again->packet_id == one.decoded.packet_id,
               "the samples that the recognised spec gives");
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  fuzz::Input input(data, size);
  const std::string_view topic = input.line();
  const std::string_view below = input.line();
  const PayloadSpec spec = fuzz::payload_spec(input);
  const Payload payload{.bytes = input.rest(), .below = below};
  const Facts known;
  const Recognition seen = recognise(topic, payload, spec, known);
  const Decoder* last = nullptr;
  for (const Recognised& way : seen.ways) {
    fuzz::demand(last == nullptr || last < way.decoder, "the order of decoders.def");
    last = way.decoder;
    demand_true(way, payload, known);
    fuzz::demand(!seen.bare_number || way.decoder->decode != &decode_number,
                 "a bare number that is read only where its channel is known");
  }
  return 0;
}
