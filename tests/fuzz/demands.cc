#include "tests/fuzz/demands.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <set>
#include <tuple>

#include "sensors/escape.h"
#include "sensors/iso_time.h"

namespace rimeward::fuzz {
namespace {

constexpr std::size_t kLongestWords = 1000;
constexpr std::size_t kMostFacts = 512;
constexpr std::size_t kLongestFact = 256;

// As they are written for every format, right and wrong. The first: not said.
constexpr std::array<std::string_view, 16> kPlaces{"",
                                                   "/temperature",
                                                   "/air/t",
                                                   "/0",
                                                   "/a~1b/m~0n",
                                                   "temperature",
                                                   "10e2073a01080063",
                                                   "1",
                                                   "2",
                                                   "climate/temperature",
                                                   "climate/humidity",
                                                   "/",
                                                   "~",
                                                   "0",
                                                   "/service_data",
                                                   "/bed\"\n"};

// True when nothing in it would have to be escaped but quotes, which stand around what
// was escaped already, and backslashes.
bool is_plain(std::string_view words) {
  std::string bare(words);
  std::erase_if(bare, [](char c) { return c == '"' || c == '\\'; });
  return escaped(bare, bare.size()) == bare;
}

}  // namespace

Input::Input(const std::uint8_t* data, std::size_t size) {
  // A pointer of no bytes may be null, which no view may be made of.
  if (size > 0) rest_ = {reinterpret_cast<const char*>(data), size};
}

std::size_t Input::choice(std::size_t count) {
  if (rest_.empty()) return 0;
  const auto byte = static_cast<unsigned char>(rest_.front() - '0');
  rest_.remove_prefix(1);
  return byte % count;
}

std::string_view Input::line() {
  const std::size_t end = std::min(rest_.find('\n'), rest_.size());
  const std::string_view line = rest_.substr(0, end);
  rest_.remove_prefix(std::min(end + 1, rest_.size()));
  return line;
}

void demand(bool holds, std::string_view what) {
  if (holds) return;
  std::fprintf(stderr, "DEMANDED: %.*s\n", static_cast<int>(what.size()), what.data());
  std::abort();
}

void demand_words(std::string_view words) {
  demand(!words.empty(), "words");
  if (words.size() > kLongestWords || !is_plain(words)) {
    std::fprintf(stderr, "%.*s\n", static_cast<int>(words.size()), words.data());
  }
  demand(words.size() <= kLongestWords, "words of bounded length");
  demand(is_plain(words), "words without control characters");
}

void demand_sound(const Decoded& decoded, std::size_t payload_bytes) {
  demand(decoded.samples.size() <= payload_bytes, "fewer samples than bytes");
  std::set<std::tuple<Channel, std::optional<Instant>, std::chrono::seconds>> seen;
  for (const Sample& sample : decoded.samples) {
    demand(std::isfinite(sample.value), "finite values");
    demand(sample.ago.count() >= 0, "a time before it was sent, not after");
    demand(seen.emplace(sample.channel, sample.measured_at, sample.ago).second,
           "at most one sample of a channel and time");
    if (!sample.measured_at) continue;
    demand(parse_instant(format_utc(*sample.measured_at)) == sample.measured_at,
           "times that can be written and read again");
  }
  demand(decoded.facts.size() <= kMostFacts, "few facts");
  for (const auto& [name, value] : decoded.facts) {
    demand(!name.empty() && name.size() <= kLongestFact, "facts with short names");
    demand(value.size() <= kLongestFact && is_plain(value), "facts that are short words");
  }
  const int packet = decoded.packet_id.value_or(0);
  demand(packet >= 0 && packet <= 255, "packet ids from 0 to 255");
}

PayloadSpec payload_spec(Input& input) {
  PayloadSpec spec;
  for (const Channel channel : {Channel::kAirTemperature, Channel::kHumidity}) {
    const std::string_view place = kPlaces.at(input.choice(kPlaces.size()));
    if (!place.empty()) spec.where.emplace(channel, place);
  }
  const std::string_view time = kPlaces.at(input.choice(kPlaces.size()));
  if (!time.empty()) spec.time_pointer = spec.data_pointer = time;
  // 0: not said; then each channel, in degrees Celsius, and again in Fahrenheit.
  const std::size_t channels = all_channels().size();
  const std::size_t lone = input.choice(2 * (channels + 1));
  if (lone % (channels + 1) > 0) {
    spec.lone_channel = all_channels()[lone % (channels + 1) - 1].channel;
  }
  if (lone > channels) spec.scale = TemperatureScale::kFahrenheit;
  return spec;
}

}  // namespace rimeward::fuzz
