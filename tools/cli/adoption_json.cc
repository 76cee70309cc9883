#include "tools/cli/adoption_json.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <set>
#include <string>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace rimeward {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kMost = 12;
constexpr int kDeepest = 6;

struct Sound {
  std::string_view part;  // of a pointer, in small letters
  Channel channel;
};

// The first that fits counts, so the more telling ones come first.
constexpr std::array kSounds{
    Sound{"moist", Channel::kSoilMoisture},  Sound{"vwc", Channel::kSoilMoisture},
    Sound{"humid", Channel::kHumidity},      Sound{"rh", Channel::kHumidity},
    Sound{"temp", Channel::kAirTemperature}, Sound{"volt", Channel::kBatteryVoltage},
    Sound{"vbat", Channel::kBatteryVoltage}, Sound{"batt", Channel::kBatteryPercent},
    Sound{"lux", Channel::kLight},           Sound{"light", Channel::kLight},
    Sound{"illum", Channel::kLight},         Sound{"press", Channel::kPressure},
    Sound{"hpa", Channel::kPressure},        Sound{"rssi", Channel::kSignal},
    Sound{"dbm", Channel::kSignal}};

std::optional<Channel> channel_sounding_like(std::string_view pointer) {
  std::string low(pointer);
  std::ranges::transform(low, low.begin(), [](char letter) {
    return letter >= 'A' && letter <= 'Z' ? static_cast<char>(letter - 'A' + 'a')
                                          : letter;
  });
  // Whatever is told below it, it is no measurement.
  if (low.find("forecast") != std::string::npos) return Channel::kForecastLow;
  const std::string_view key = std::string_view(low).substr(low.rfind('/'));
  const auto* found = std::ranges::find_if(kSounds, [&](const Sound& sound) {
    return key.find(sound.part) != std::string_view::npos;
  });
  if (found == kSounds.end()) return std::nullopt;
  const bool soil = low.find("soil") != std::string::npos;
  if (soil && found->channel == Channel::kAirTemperature) {
    return Channel::kSoilTemperature;
  }
  if (soil && found->channel == Channel::kHumidity) return Channel::kSoilMoisture;
  return found->channel;
}

// RFC 6901, section 3.
std::string token_of(std::string_view key) {
  std::string token;
  for (const char letter : key) {
    if (letter == '~') {
      token += "~0";
    } else if (letter == '/') {
      token += "~1";
    } else {
      token += letter;
    }
  }
  return token;
}

class Numbers {
 public:
  void walk(const Json& value, const std::string& pointer, int depth) {
    if (found_.size() == kMost || depth > kDeepest) return;
    if (value.is_number() && depth > 0) return add(value.get<double>(), pointer);
    if (value.is_object()) {
      for (const auto& [key, inner] : value.items()) {
        walk(inner, pointer + "/" + token_of(key), depth + 1);
      }
    } else if (value.is_array()) {
      for (std::size_t i = 0; i < value.size(); ++i) {
        walk(value[i], fmt::format("{}/{}", pointer, i), depth + 1);
      }
    }
  }

  std::vector<FoundNumber> found() && { return std::move(found_); }

 private:
  void add(double value, const std::string& pointer) {
    if (!std::isfinite(value) || has_control_characters(pointer)) return;
    std::optional<Channel> channel = channel_sounding_like(pointer);
    if (channel && !spoken_for_.insert(*channel).second) channel.reset();
    found_.push_back({.where = pointer, .value = value, .channel = channel});
  }

  std::vector<FoundNumber> found_;
  std::set<Channel> spoken_for_;
};

}  // namespace

std::vector<FoundNumber> numbers_in_json(std::string_view payload) {
  // The parser takes a NUL for the end.
  if (payload.find('\0') != std::string_view::npos) return {};
  const Json json = Json::parse(payload, nullptr, /*allow_exceptions=*/false);
  Numbers numbers;
  numbers.walk(json, "", 0);
  return std::move(numbers).found();
}

}  // namespace rimeward
