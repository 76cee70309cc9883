#include "sensors/decoders.h"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace rimeward {
namespace {

constexpr std::array kDecoders{
#define DECODER(name, reads, spans_topics) \
  Decoder{#name, reads, spans_topics, &decode_##name},
#include "sensors/decoders.def"
#undef DECODER
};

}  // namespace

std::span<const Decoder> all_decoders() {
  return kDecoders;
}

const Decoder* find_decoder(std::string_view name) {
  const auto found = std::ranges::find(kDecoders, name, &Decoder::name);
  return found == kDecoders.end() ? nullptr : &*found;
}

Result<void> payload_fits(std::string_view payload) {
  if (payload.empty()) return refuse("the payload is empty");
  if (payload.size() > kLargestPayload) {
    return refuse(fmt::format("payload of {} bytes: more than {}", payload.size(),
                              kLargestPayload));
  }
  return {};
}

}  // namespace rimeward
