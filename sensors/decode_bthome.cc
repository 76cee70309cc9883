// BTHome version 2: what a beacon measures, as a receiver passes it on. The service data
// may be the whole payload or a text in a JSON object, as bytes, hex or base64, and it
// may begin in three ways: with its device information byte, with its UUID before that,
// or with the whole advertisement around it.
//
// Source: BTHome, "BLE advertising in the BTHome v2 format" (bthome.io/format): the UUID,
// the device information and the objects of which tests/sensors/decode_bthome_test.cc has
// examples; the other object ids and lengths are from memory. Advertisements: Bluetooth
// Core Specification, volume 3, part C, section 11 (from memory).

#include <algorithm>
#include <array>
#include <charconv>
#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sensors/bytes.h"
#include "sensors/decoders.h"
#include "sensors/escape.h"
#include "sensors/json_document.h"
#include "sensors/number.h"

namespace rimeward {
namespace {

using namespace std::string_view_literals;
using nlohmann::json;

constexpr std::string_view kUuid = "\xd2\xfc";  // 0xFCD2, the low byte first
constexpr std::uint8_t kServiceData = 0x16;     // of a UUID of 16 bits

// The device information byte. Bits 1, 3 and 4 are kept for later use.
constexpr unsigned kEncrypted = 0x01;
constexpr unsigned kReserved = 0x1a;
constexpr unsigned kVersionShift = 5;
constexpr unsigned kVersion = 2;

constexpr std::uint8_t kPacketId = 0x00;
constexpr std::size_t kInNextByte = 0;

struct Lengths {
  std::uint8_t first, last;  // object ids
  std::size_t length;        // in bytes, without the id; or kInNextByte
};

// Of every kind of object that is known, because one that is passed over must be passed
// over by its length.
constexpr std::array kLengths{
    Lengths{0x00, 0x01, 1},           Lengths{0x02, 0x03, 2}, Lengths{0x04, 0x05, 3},
    Lengths{0x06, 0x08, 2},           Lengths{0x09, 0x09, 1}, Lengths{0x0a, 0x0b, 3},
    Lengths{0x0c, 0x0e, 2},           Lengths{0x0f, 0x11, 1}, Lengths{0x12, 0x14, 2},
    Lengths{0x15, 0x2f, 1},           Lengths{0x3a, 0x3a, 1}, Lengths{0x3c, 0x3d, 2},
    Lengths{0x3e, 0x3e, 4},           Lengths{0x3f, 0x41, 2}, Lengths{0x42, 0x42, 3},
    Lengths{0x43, 0x45, 2},           Lengths{0x46, 0x46, 1}, Lengths{0x47, 0x4a, 2},
    Lengths{0x4b, 0x4b, 3},           Lengths{0x4c, 0x50, 4}, Lengths{0x51, 0x52, 2},
    Lengths{0x53, 0x54, kInNextByte},  // text, raw
    Lengths{0x55, 0x55, 4},           Lengths{0x56, 0x56, 2}, Lengths{0x57, 0x59, 1},
    Lengths{0x5a, 0x5a, 2},           Lengths{0x5b, 0x5c, 4}, Lengths{0x5d, 0x5f, 2},
    Lengths{0xf0, 0xf0, 2},           Lengths{0xf1, 0xf1, 4}, Lengths{0xf2, 0xf2, 3},
};

// An object that is of a channel: its whole number times `multiple` over `divisor`.
struct Measurement {
  std::uint8_t id;
  Channel channel;
  bool is_signed;
  double multiple, divisor;
};

constexpr std::array kMeasurements{
    Measurement{0x01, Channel::kBatteryPercent, false, 1, 1},
    Measurement{0x02, Channel::kAirTemperature, true, 1, 100},
    Measurement{0x03, Channel::kHumidity, false, 1, 100},
    Measurement{0x04, Channel::kPressure, false, 1, 100},
    Measurement{0x05, Channel::kLight, false, 1, 100},
    Measurement{0x14, Channel::kSoilMoisture, false, 1, 100},
    Measurement{0x2e, Channel::kHumidity, false, 1, 1},
    Measurement{0x2f, Channel::kSoilMoisture, false, 1, 1},
    // These from memory.
    Measurement{0x0c, Channel::kBatteryVoltage, false, 1, 1000},
    Measurement{0x45, Channel::kAirTemperature, true, 1, 10},
    Measurement{0x4a, Channel::kBatteryVoltage, false, 1, 10},
    Measurement{0x57, Channel::kAirTemperature, true, 1, 1},
    Measurement{0x58, Channel::kAirTemperature, true, 35, 100},
};

// --- the objects

unsigned byte_at(std::string_view bytes, std::size_t index) {
  return static_cast<unsigned char>(bytes[index]);
}

// The lowest byte comes first; two's complement where signed.
double whole_number(std::string_view bytes, bool is_signed) {
  std::int64_t number = 0;
  for (std::size_t i = bytes.size(); i-- > 0;)
    number = number * 256 + byte_at(bytes, i);
  const std::int64_t range = std::int64_t{1} << (8 * bytes.size());
  if (is_signed && number >= range / 2) number -= range;
  return static_cast<double>(number);
}

const Lengths* lengths_of(unsigned id) {
  const auto known = std::ranges::find_if(
      kLengths, [&](const Lengths& of) { return of.first <= id && id <= of.last; });
  return known == kLengths.end() ? nullptr : &*known;
}

// Takes the object that `bytes` begin with off them, and returns its data.
Result<std::string_view> take_object(std::string_view& bytes, const Lengths& known) {
  const unsigned id = byte_at(bytes, 0);
  bytes.remove_prefix(1);
  std::size_t length = known.length;
  if (length == kInNextByte) {
    if (bytes.empty()) {
      return refuse(fmt::format("cut short: object 0x{:02x} has no length", id));
    }
    length = byte_at(bytes, 0);
    bytes.remove_prefix(1);
  }
  if (length > bytes.size()) {
    return refuse(fmt::format("cut short: object 0x{:02x} has {} of its {} bytes", id,
                              bytes.size(), length));
  }
  const std::string_view data = bytes.substr(0, length);
  bytes.remove_prefix(length);
  return data;
}

struct Contents {
  // Of each channel in the order in which they stand.
  std::map<Channel, std::vector<double>> values;
  std::optional<int> packet_id;
};

Result<Contents> contents_of(std::string_view objects) {
  if (objects.empty()) return refuse("there is nothing in its BTHome data");
  Contents contents;
  while (!objects.empty()) {
    const unsigned id = byte_at(objects, 0);
    const Lengths* known = lengths_of(id);
    if (known == nullptr) {
      if (!contents.values.empty()) break;
      return refuse(
          fmt::format("no channel before object 0x{:02x}, which is of a kind "
                      "that is not known",
                      id));
    }
    const auto data = take_object(objects, *known);
    if (!data) return tl::unexpected(data.error());
    if (id == kPacketId) contents.packet_id = static_cast<int>(byte_at(*data, 0));
    const auto kind = std::ranges::find(kMeasurements, id, &Measurement::id);
    if (kind == kMeasurements.end()) continue;
    const double number = whole_number(*data, kind->is_signed);
    contents.values[kind->channel].push_back(number * kind->multiple / kind->divisor);
  }
  return contents;
}

// --- the channels

// `temperature = "1", humidity = "1"`: the first of each.
std::string first_of_each(const Contents& contents) {
  std::string lines;
  for (const auto& [channel, values] : contents.values) {
    lines += fmt::format("{}{} = \"1\"", lines.empty() ? "" : ", ", traits(channel).name);
  }
  return lines;
}

Result<std::vector<Sample>> all_samples(const Contents& contents) {
  std::vector<Sample> samples;
  for (const auto& [channel, values] : contents.values) {
    if (values.size() > 1) {
      return refuse(
          fmt::format("{} stands in it {} times: say which, and name all that "
                      "is to be read, such as {}",
                      traits(channel).name, values.size(), first_of_each(contents)));
    }
    samples.push_back({channel, values.front()});
  }
  return samples;
}

// "1" is the first; nothing for what is no such number.
std::optional<std::size_t> ordinal(std::string_view text) {
  std::size_t number = 0;
  const auto [end, fault] =
      std::from_chars(text.data(), text.data() + text.size(), number);
  const bool whole = fault == std::errc{} && end == text.data() + text.size();
  return whole && number > 0 ? std::optional(number) : std::nullopt;
}

// BTHome has temperatures of no place: the soil's are counted among them.
Channel kind_of(Channel channel) {
  return channel == Channel::kSoilTemperature ? Channel::kAirTemperature : channel;
}

Result<std::vector<Sample>> chosen_samples(const Contents& contents,
                                           const PayloadSpec& spec) {
  std::vector<Sample> samples;
  std::optional<Error> missing;
  for (const auto& [channel, which] : spec.where) {
    const auto number = ordinal(which);
    if (!number) {
      return refuse(
          fmt::format("{}: expected which of its kind, such as \"1\", got "
                      "\"{}\"",
                      traits(channel).name, escaped(which)));
    }
    const auto found = contents.values.find(kind_of(channel));
    if (found == contents.values.end()) continue;
    if (*number <= found->second.size()) {
      samples.push_back({channel, found->second[*number - 1]});
    } else if (!missing) {
      missing = Error{fmt::format("{} \"{}\" is not in it, there are {}",
                                  traits(channel).name, *number, found->second.size())};
    }
  }
  if (samples.empty() && missing) return tl::unexpected(*std::move(missing));
  return samples;
}

// REQUIRES: begins with the device information.
Result<Decoded> decoded_data(std::string_view data, const PayloadSpec& spec) {
  if (data.empty()) return refuse("cut short: no device information follows the UUID");
  const unsigned device = byte_at(data, 0);
  if (device >> kVersionShift != kVersion) {
    return refuse(fmt::format("BTHome version {}; only version {} can be read",
                              device >> kVersionShift, kVersion));
  }
  if ((device & kEncrypted) != 0) {
    return refuse(
        "its BTHome data is encrypted, and rimeward holds no keys: switch "
        "encryption off in the sensor");
  }
  const auto contents = contents_of(data.substr(1));
  if (!contents) return tl::unexpected(contents.error());
  auto samples =
      spec.where.empty() ? all_samples(*contents) : chosen_samples(*contents, spec);
  if (!samples) return tl::unexpected(samples.error());
  return Decoded{.samples = *std::move(samples), .packet_id = contents->packet_id};
}

// --- where the service data stands

// What follows the UUID in an advertisement: structures of a byte of length, one of type
// and the data, and perhaps zeros after them. Nothing for any other bytes.
std::optional<std::string_view> in_advertisement(std::string_view bytes) {
  std::optional<std::string_view> found;
  while (!bytes.empty() && bytes[0] != '\0') {
    const std::size_t length = byte_at(bytes, 0);
    if (length >= bytes.size()) return std::nullopt;
    const bool is_service = byte_at(bytes, 1) == kServiceData;
    const std::string_view data = bytes.substr(2, length - 1);
    if (is_service && !found && data.starts_with(kUuid)) found = data.substr(2);
    bytes.remove_prefix(1 + length);
  }
  if (bytes.find_first_not_of('\0') != std::string_view::npos) return std::nullopt;
  return found;
}

// The service data from its device information on; nothing: there is none. Without the
// UUID that byte alone tells BTHome from other bytes, and must be as version 2 has it.
std::optional<std::string_view> service_data_in(std::string_view bytes) {
  if (const auto data = in_advertisement(bytes)) return data;
  if (bytes.starts_with(kUuid)) return bytes.substr(kUuid.size());
  if (bytes.empty()) return std::nullopt;
  const unsigned device = byte_at(bytes, 0);
  const bool is_version_2 =
      device >> kVersionShift == kVersion && (device & kReserved) == 0;
  return is_version_2 ? std::optional(bytes) : std::nullopt;
}

// The bytes that a text may write.
std::vector<std::string> written_in(std::string_view text) {
  std::vector<std::string> readings;
  if (auto bytes = bytes_from_hex(trimmed(text))) readings.push_back(*std::move(bytes));
  if (auto bytes = bytes_from_base64(trimmed(text)))
    readings.push_back(*std::move(bytes));
  return readings;
}

// Bytes that are printable throughout are text, and text is hardly ever service data: by
// its letters "D=21.5" would be a count and a humidity of 53 %. "@" is the
// plain device information byte, and few texts begin with it.
bool may_be_bytes(std::string_view payload) {
  const std::string_view text = trimmed(payload);
  return payload.starts_with('@') ||
         !std::ranges::all_of(text, [](char c) { return c >= ' ' && c <= '~'; });
}

// What the first of `readings` says that can be read; else why the first that holds
// service data cannot be. Nothing: none holds any.
std::optional<Result<Decoded>> first_decoded(const std::vector<std::string>& readings,
                                             const PayloadSpec& spec) {
  std::optional<Result<Decoded>> first;
  for (const std::string& reading : readings) {
    const auto data = service_data_in(reading);
    if (!data) continue;
    auto decoded = decoded_data(*data, spec);
    if (decoded) return decoded;
    if (!first) first = std::move(decoded);
  }
  return first;
}

// --- in JSON

// The last two are the UUID, short and in full, under which receivers list service data.
constexpr std::array<std::string_view, 7> kDataKeys{
    "service_data",
    "data",
    "bytes",
    "advertisement",
    "payload",
    "fcd2",
    "0000fcd2-0000-1000-8000-00805f9b34fb"};

bool holds_data(const json& value) {
  if (!value.is_string()) return false;
  const auto readings = written_in(value.get_ref<const std::string&>());
  return std::ranges::any_of(readings, [](const std::string& bytes) {
    return service_data_in(bytes).has_value();
  });
}

Result<Decoded> decoded_text(const json& value, std::string_view pointer,
                             const PayloadSpec& spec) {
  if (value.is_string()) {
    const auto readings = written_in(value.get_ref<const std::string&>());
    if (auto decoded = first_decoded(readings, spec)) return *std::move(decoded);
  }
  return refuse(fmt::format("at \"{}\": expected BTHome data as hex or base64, got {}",
                            escaped(pointer, 80), shown(value)));
}

Result<Decoded> decoded_at(const json& root, std::string_view pointer,
                           const PayloadSpec& spec) {
  const auto value = value_at(root, pointer);
  if (!value) return tl::unexpected(value.error());
  if (*value != nullptr) return decoded_text(**value, pointer, spec);
  return refuse(fmt::format("nothing at \"{}\"", escaped(pointer, 80)));
}

Result<Decoded> decoded_json(const json& root, const PayloadSpec& spec) {
  if (spec.data_pointer) return decoded_at(root, *spec.data_pointer, spec);
  const FoundValue found = value_near(root, kDataKeys, holds_data);
  if (found.ambiguous) {
    return refuse(
        "BTHome data stands in several places: say which by a pointer, such as "
        "data = \"/sensor/data\"");
  }
  if (found.value != nullptr) return decoded_text(*found.value, found.key, spec);
  return refuse(
      fmt::format("no BTHome data under the usual keys in {}: say where by a pointer, "
                  "such as data = \"/sensor/data\"",
                  shown_keys(root)));
}

}  // namespace

Result<Decoded> decode_bthome(const Payload& payload, const PayloadSpec& spec,
                              const Facts& /*known*/) {
  if (const auto fits = payload_fits(payload.bytes); !fits) {
    return refuse(fits.error().message);
  }
  if (spec.data_pointer || trimmed(payload.bytes).starts_with('{')) {
    const auto root = parsed_json(payload.bytes);
    if (!root) return tl::unexpected(root.error());
    return decoded_json(*root, spec);
  }
  std::vector<std::string> readings = written_in(payload.bytes);
  if (may_be_bytes(payload.bytes)) readings.emplace_back(payload.bytes);
  if (auto decoded = first_decoded(readings, spec)) return *std::move(decoded);
  return refuse(
      fmt::format("expected BTHome data as bytes, hex or base64, or in a JSON object, "
                  "got \"{}\"",
                  escaped(payload.bytes)));
}

}  // namespace rimeward
