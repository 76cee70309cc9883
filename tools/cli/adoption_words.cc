#include "tools/cli/adoption_words.h"

#include <vector>

#include <fmt/format.h>

#include "daemon/notice/sensor_words.h"
#include "sensors/escape.h"

namespace rimeward {
namespace {

constexpr std::size_t kPayloadShown = 60;

}  // namespace

std::string samples_text(const Way& way, TemperatureUnit unit) {
  std::vector<std::string> texts;
  for (const Sample& sample : way.samples) {
    texts.push_back(fmt::format("{} {}", words_for(sample.channel),
                                value_text(sample.channel, sample.value, unit)));
  }
  if (texts.empty() && !way.numbers.empty()) {
    return "numbers, but none under a key that is known";
  }
  if (texts.empty()) return "describes itself; no value heard yet";
  return fmt::format("{}", fmt::join(texts, ", "));
}

std::string says_text(const Candidate& candidate, TemperatureUnit unit) {
  if (!candidate.trouble.empty()) {
    std::string text = "cannot be adopted: " + candidate.trouble;
    if (!candidate.payload.empty()) {
      text +=
          fmt::format("; it begins \"{}\"", escaped(candidate.payload, kPayloadShown));
    }
    return text;
  }
  std::vector<std::string> ways;
  for (const Way& way : candidate.ways) {
    const bool is_bare = candidate.channel_unknown && &way == &candidate.ways.front();
    ways.push_back(fmt::format(
        "{}: {}", way.format,
        is_bare ? fmt::format("{:g}; of what is not said", way.samples.front().value)
                : samples_text(way, unit)));
  }
  return fmt::format("{}", fmt::join(ways, "; or "));
}

}  // namespace rimeward
