#include "daemon/intake.h"

#include <algorithm>
#include <chrono>
#include <utility>

#include <fmt/format.h>

#include "sensors/iso_time.h"
#include "sensors/recognise.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr Instant kFirstReplayable =
    std::chrono::sys_days{std::chrono::year{2001} / std::chrono::January / 1};

// How a message was understood: decoded, or why not.
struct Understood {
  std::optional<Decoded> decoded;
  Facts found;  // of its format
  std::string why;
};

Understood from(Result<Decoded> decoded) {
  if (decoded) return {.decoded = *std::move(decoded), .found = {}, .why = {}};
  return {.decoded = {}, .found = {}, .why = std::move(decoded.error().message)};
}

std::string_view fact(const Facts& known, std::string_view name) {
  const auto found = known.find(name);
  return found == known.end() ? std::string_view() : found->second;
}

std::string names_of(const Recognition& seen) {
  std::string names(seen.bare_number ? kUnknownChannel : "");
  for (const Recognised& way : seen.ways) {
    if (!names.empty()) names += ", ";
    names += way.decoder->name;
  }
  return names;
}

// Looks at a message whose sensor's format nobody has said, and finds out.
Understood look_at(const SensorMessage& message, const Payload& payload) {
  Recognition seen =
      recognise(message.arrival.topic, payload, message.sensor.payload, message.known);
  if (seen.ways.size() == 1 && !seen.bare_number) {
    Recognised& way = seen.ways.front();
    Understood one = from(std::move(way.decoded));
    one.found.emplace(kFactFormat, way.decoder->name);
    if (way.spec.lone_channel) {
      one.found.emplace(kFactChannel, traits(*way.spec.lone_channel).name);
    }
    one.found.emplace(kFactUnclear, "");
    return one;
  }
  Understood none;
  if (!seen.ways.empty()) {
    const std::string names = names_of(seen);
    none.why = "could be in more than one format (" + names + "): say in which";
    none.found.emplace(kFactUnclear, names);
  } else if (seen.bare_number) {
    none.why = "a bare number, which could be of any channel: say of which";
    none.found.emplace(kFactUnclear, kUnknownChannel);
  } else {
    none.why = "in no format that is known, or without a usual key: say in which it is";
  }
  return none;
}

Understood understand(const SensorMessage& message) {
  const Sensor& sensor = message.sensor;
  const Arrival& arrival = message.arrival;
  if (arrival.payload_bytes > kLargestPayload) {
    return {.decoded = {},
            .found = {},
            .why = fmt::format("payload of {} bytes: more than {}", arrival.payload_bytes,
                               kLargestPayload)};
  }
  const Payload payload{arrival.payload, message.below};
  if (const Decoder* said = find_decoder(sensor.format)) {
    return from(said->decode(payload, sensor.payload, message.known));
  }
  const Decoder* found = find_decoder(fact(message.known, kFactFormat));
  if (found == nullptr || found->spans_topics != !message.below.empty()) {
    return look_at(message, payload);
  }
  PayloadSpec spec = sensor.payload;
  if (!spec.lone_channel) {
    spec.lone_channel = channel_named(fact(message.known, kFactChannel));
  }
  Understood as_before = from(found->decode(payload, spec, message.known));
  if (as_before.decoded) return as_before;
  // The sensor may speak another format since.
  Understood anew = look_at(message, payload);
  return anew.decoded ? anew : as_before;
}

bool is_believable(Instant told, Instant arrived, ClockSource clock) {
  if (clock == ClockSource::kReadings) {
    return told >= kFirstReplayable && told <= arrived + 24h;
  }
  return told >= arrived - 31 * 24h && told <= arrived + 5min;
}

// Dates the samples of one message, one after the other.
class Dater {
 public:
  Dater(const Arrival& arrival, const Dating& dating, Intake& intake)
      : arrival_(arrival), dating_(dating), intake_(intake) {}

  void take(const Sample& sample) {
    DatedSample dated{
        .channel = sample.channel, .said = sample.value, .time = {}, .why = {}};
    if (sample.measured_at) {
      const bool right = is_believable(*sample.measured_at, arrival_.at, dating_.clock);
      const bool ahead = *sample.measured_at > arrival_.at;
      const Doubt clock = right ? Doubt::kNone : ahead ? Doubt::kFuture : Doubt::kTooOld;
      if (!right || !intake_.clock) intake_.clock = clock;
      if (right) {
        dated.time = *sample.measured_at;
      } else if (!date_without(*sample.measured_at, clock, dated)) {
        return;
      }
    } else if (const auto why = why_undated("it tells no time")) {
      return refuse(*why);
    } else {
      dated.time = arrival_.at - sample.ago;
    }
    intake_.samples.push_back(std::move(dated));
  }

 private:
  // Why the arrival's time cannot stand for the measurement's.
  std::optional<std::string> why_undated(const std::string& trouble) const {
    if (arrival_.retained) {
      return fmt::format("a copy that the broker kept, and {}: it may be of any age",
                         trouble);
    }
    const bool by_readings = dating_.clock == ClockSource::kReadings;
    if (by_readings) return trouble + ", and the clock goes by the readings";
    return std::nullopt;
  }

  // For a time that is not believable.
  bool date_without(Instant told, Doubt clock, DatedSample& dated) {
    const std::string trouble =
        fmt::format("its time {} is not believable", format_utc(told));
    const auto undated = why_undated(trouble);
    if (arrival_.retained || (undated && !dating_.now)) {
      refuse(*undated);
      return false;
    }
    dated.time = undated ? *dating_.now : arrival_.at;
    if (dating_.clock_is_wrong && !undated) return true;
    dated.doubt = clock;
    dated.why = fmt::format("its own clock says {}, and it came at {}", format_utc(told),
                            format_utc(arrival_.at));
    return true;
  }

  void refuse(const std::string& why) {
    intake_.refused = arrival_.retained ? Doubt::kRetained : Doubt::kUnreadable;
    intake_.why = why;
  }

  const Arrival& arrival_;
  const Dating& dating_;
  Intake& intake_;
};

}  // namespace

Intake take_in(const SensorMessage& message, const Dating& dating) {
  Understood understood = understand(message);
  Intake intake;
  for (auto& [name, value] : understood.found) {
    if (fact(message.known, name) != value) intake.facts.emplace(name, value);
  }
  if (!understood.decoded) {
    intake.refused = Doubt::kUnreadable;
    intake.why = std::move(understood.why);
    return intake;
  }
  intake.facts.merge(understood.decoded->facts);
  intake.packet_id = understood.decoded->packet_id;
  Dater dater(message.arrival, dating, intake);
  for (const Sample& sample : understood.decoded->samples)
    dater.take(sample);
  if (!intake.samples.empty()) intake.refused = Doubt::kNone;
  return intake;
}

std::optional<Instant> time_told_in(const SensorMessage& message) {
  const Understood understood = understand(message);
  std::optional<Instant> newest;
  if (!understood.decoded) return newest;
  for (const Sample& sample : understood.decoded->samples)
    newest = std::max(newest, sample.measured_at);
  return newest;
}

}  // namespace rimeward
