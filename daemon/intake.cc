#include "daemon/intake.h"

#include <chrono>

#include <fmt/format.h>

#include "sensors/decoders.h"
#include "sensors/iso_time.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr Instant kFirstReplayable =
    std::chrono::sys_days{std::chrono::year{2001} / std::chrono::January / 1};

bool is_believable(Instant told, Instant arrived, ClockSource clock) {
  if (clock == ClockSource::kReadings) {
    return told >= kFirstReplayable && told <= arrived + 24h;
  }
  return told >= arrived - 31 * 24h && told <= arrived + 5min;
}

// When the samples were measured.
Result<Instant> time_of(const Arrival& arrival, const Decoded& decoded,
                        ClockSource clock) {
  const bool told = decoded.measured_at.has_value();
  if (told && is_believable(*decoded.measured_at, arrival.at, clock)) {
    return *decoded.measured_at;
  }
  const std::string why = told ? fmt::format("its time {} is not believable",
                                             format_utc(*decoded.measured_at))
                               : std::string("it tells no time");
  if (arrival.retained) {
    return refuse(
        fmt::format("a copy that the broker kept, and {}: it may be of any age", why));
  }
  if (clock == ClockSource::kReadings) {
    return refuse(fmt::format("{}, and the clock goes by the readings", why));
  }
  return arrival.at;
}

std::string doubt_about(const Sample& sample) {
  const ChannelTraits& channel = traits(sample.channel);
  if (sample.value >= channel.lowest && sample.value <= channel.highest) return {};
  return fmt::format("outside {} to {} {}", channel.lowest, channel.highest,
                     channel.unit);
}

}  // namespace

Result<Intake> take_in(const Arrival& arrival, const Sensor& sensor, ClockSource clock) {
  if (arrival.payload_bytes > kLargestPayload) {
    return refuse(fmt::format("payload of {} bytes: more than {}", arrival.payload_bytes,
                              kLargestPayload));
  }
  const Decoder* decoder = find_decoder(sensor.format);
  if (decoder == nullptr) return refuse("unknown format " + sensor.format);
  const Result<Decoded> decoded = decoder->decode(arrival.payload, sensor.payload);
  if (!decoded) return tl::unexpected(decoded.error());
  const Result<Instant> time = time_of(arrival, *decoded, clock);
  if (!time) return tl::unexpected(time.error());

  Intake intake{.time = *time, .samples = {}};
  for (const Sample& sample : decoded->samples) {
    intake.samples.push_back({sample.channel, sample.value, doubt_about(sample)});
  }
  return intake;
}

}  // namespace rimeward
