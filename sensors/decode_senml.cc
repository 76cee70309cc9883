// SenML (RFC 8428), in JSON or CBOR: a pack of records that each have a name, and a unit
// by which its channel is known. Where the sensor's owner gave names, only the records of
// these are read.
//
// Records of other units, and those without a number, are passed over: a pack may say
// where the sensor stands, and what it is called.

#include <chrono>
#include <cstddef>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <utility>

#include <fmt/format.h>

#include "sensors/channel_units.h"
#include "sensors/decoders.h"
#include "sensors/escape.h"
#include "sensors/senml_pack.h"

namespace rimeward {
namespace {

constexpr std::size_t kMostUnitsShown = 8;
constexpr std::size_t kLongestNameShown = 80;

std::string quoted(std::string_view text) {
  return "\"" + escaped(text, kLongestNameShown) + "\"";
}

// Whether `sought` is the name or the end of it, from one of its parts on.
bool is_named(std::string_view name, std::string_view sought) {
  if (sought.empty() || !name.ends_with(sought)) return false;
  if (name.size() == sought.size()) return true;
  const char before = name[name.size() - sought.size() - 1];
  return before == ':' || before == '/' || before == '-';
}

// The samples of one pack, of which no two are of one channel and time.
class Samples {
 public:
  // `value` is in the channel's unit.
  Result<void> take(const SenmlRecord& record, Channel channel,
                    const Result<double>& value) {
    if (!value) return refuse(quoted(record.name) + ": " + value.error().message);
    auto& its = by_channel_[channel];
    if (its.name.empty()) its.name = record.name;
    if (its.name != record.name) return refuse(ambiguous(channel, its.name, record.name));
    if (record.time.ago <= -std::chrono::seconds{1}) {
      return refuse(fmt::format("{}: measured {} s from now", quoted(record.name),
                                -record.time.ago.count() / 1000));
    }
    const Sample sample{.channel = channel,
                        .value = *value,
                        .measured_at = record.time.at,
                        .ago = std::chrono::ceil<std::chrono::seconds>(record.time.ago)};
    // Records are in order of time: only the one before can be of the same second.
    const bool same = its.last && samples_[*its.last].ago == sample.ago &&
                      samples_[*its.last].measured_at == sample.measured_at;
    if (same) {
      samples_[*its.last] = sample;
    } else {
      its.last = samples_.size();
      samples_.push_back(sample);
    }
    return {};
  }

  std::vector<Sample>& all() { return samples_; }

 private:
  struct Of {
    std::string_view name;
    std::optional<std::size_t> last{};
  };

  static std::string ambiguous(Channel channel, std::string_view one,
                               std::string_view other) {
    const std::string_view key = traits(channel).name;
    return fmt::format(
        "{} is in more than one record, {} and {}: say in which, as {} = {}", key,
        quoted(one), quoted(other), key, quoted(one));
  }

  std::map<Channel, Of> by_channel_;
  std::vector<Sample> samples_;
};

// Why no record that its owner named gave a number.
Error nothing_named(const PayloadSpec& spec, bool any) {
  const std::string first = quoted(spec.where.begin()->second);
  if (any) return {fmt::format("no record named {} has a number", first)};
  return {fmt::format("no record is named {}{}", first,
                      spec.where.size() > 1 ? " nor by any other name given" : "")};
}

// Takes what the record says of the channels whose names it has; whether it has any.
Result<bool> take_named(const SenmlRecord& record, const PayloadSpec& spec,
                        Samples& samples) {
  bool any = false;
  for (const auto& [channel, name] : spec.where) {
    if (!is_named(record.name, name)) continue;
    any = true;
    if (!record.value) continue;
    const auto value = in_unit_of(channel, {*record.value, record.unit},
                                  UnitNotation::kSenml, spec.scale);
    if (const auto taken = samples.take(record, channel, value); !taken) {
      return tl::unexpected(taken.error());
    }
  }
  return any;
}

Result<std::vector<Sample>> samples_named(const std::vector<SenmlRecord>& records,
                                          const PayloadSpec& spec) {
  Samples samples;
  bool any = false;
  for (const SenmlRecord& record : records) {
    const auto named = take_named(record, spec, samples);
    if (!named) return tl::unexpected(named.error());
    any = any || *named;
  }
  if (samples.all().empty()) return tl::unexpected(nothing_named(spec, any));
  return std::move(samples.all());
}

// Why none of the records was of a channel.
Error nothing_found(const std::vector<SenmlRecord>& records) {
  std::set<std::string_view> units;
  for (const SenmlRecord& record : records) {
    if (record.value) units.insert(record.unit);
    if (units.size() > kMostUnitsShown) break;
  }
  if (units.empty()) return {"no record has a number"};
  std::string shown;
  for (const std::string_view unit : units) {
    shown += shown.empty() ? "" : ", ";
    shown += unit.empty() ? "none" : quoted(unit);
  }
  return {fmt::format("no record is of a channel by its unit, which are: {}", shown)};
}

Result<std::vector<Sample>> samples_by_unit(const std::vector<SenmlRecord>& records) {
  Samples samples;
  for (const SenmlRecord& record : records) {
    if (!record.value) continue;
    const MeasuringUnit* unit = find_unit(UnitNotation::kSenml, record.unit);
    if (unit == nullptr) continue;
    const auto channel = channel_of(*unit, record.name);
    if (!channel) continue;
    const auto value = in_channel_unit(*unit, *record.value);
    if (const auto taken = samples.take(record, *channel, value); !taken) {
      return tl::unexpected(taken.error());
    }
  }
  if (samples.all().empty()) return tl::unexpected(nothing_found(records));
  return std::move(samples.all());
}

}  // namespace

Result<Decoded> decode_senml(const Payload& payload, const PayloadSpec& spec,
                             const Facts& /*known*/) {
  const auto records = resolved_senml(payload.bytes);
  if (!records) return tl::unexpected(records.error());
  auto samples =
      spec.where.empty() ? samples_by_unit(*records) : samples_named(*records, spec);
  if (!samples) return tl::unexpected(samples.error());
  return Decoded{.samples = *std::move(samples)};
}

}  // namespace rimeward
