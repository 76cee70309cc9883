// One number and nothing else, as many small sensors publish each channel on a topic of
// its own. A unit after it is refused rather than passed over: "70.2 F" taken for degrees
// Celsius would be stored as a reading that never was.

#include <fmt/format.h>

#include "sensors/channel_units.h"
#include "sensors/decoders.h"
#include "sensors/escape.h"
#include "sensors/number.h"

namespace rimeward {

Result<Decoded> decode_number(const Payload& payload, const PayloadSpec& spec,
                              const Facts& /*known*/) {
  if (const auto fits = payload_fits(payload.bytes); !fits) {
    return refuse(fits.error().message);
  }
  if (!spec.lone_channel) {
    return refuse("a bare number, which could be of any channel: say of which");
  }
  const std::string_view text = trimmed(payload.bytes);
  if (text.empty()) return refuse("expected one number, got only white space");
  const LeadingNumber number = leading_number(text);
  switch (number.fault) {
    case NumberFault::kNotANumber:
      return refuse(fmt::format("expected one number, got \"{}\"", escaped(text)));
    case NumberFault::kTooLarge:
      return refuse(fmt::format("a number beyond all range: \"{}\"", escaped(text)));
    case NumberFault::kNone:
      break;
  }
  const std::string_view after = trimmed(text.substr(number.length));
  if (!after.empty()) {
    return refuse(
        fmt::format("expected one number and nothing after it, found \"{}\" "
                    "after {}",
                    escaped(after), escaped(text.substr(0, number.length))));
  }
  const auto value = in_unit_of(*spec.lone_channel, {number.value, ""},
                                UnitNotation::kHomie, spec.scale);
  if (!value) return tl::unexpected(value.error());
  return Decoded{.samples = {{*spec.lone_channel, *value}}};
}

}  // namespace rimeward
