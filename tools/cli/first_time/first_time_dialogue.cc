#include "tools/cli/first_time/first_time_dialogue.h"

#include <algorithm>
#include <charconv>
#include <cmath>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "sensors/escape.h"
#include "sensors/number.h"
#include "tools/cli/adoption.h"
#include "tools/cli/quantity.h"

namespace rimeward {
namespace {

constexpr std::size_t kLongestText = 200;  // bytes
// A wrong unit shows outside of this.
constexpr double kColdest = -30;
constexpr double kWarmest = 50;

char lower(char letter) {
  return letter >= 'A' && letter <= 'Z' ? static_cast<char>(letter - 'A' + 'a') : letter;
}

std::string lowered(std::string_view text) {
  std::string result(text);
  std::ranges::transform(result, result.begin(), lower);
  return result;
}

std::optional<std::size_t> number_from(std::string_view text) {
  std::size_t number = 0;
  const auto read = std::from_chars(text.data(), text.data() + text.size(), number);
  if (read.ec != std::errc{} || read.ptr != text.data() + text.size()) return {};
  return number;
}

// Without "°C", "C", "F" and the like; nothing when it names the other scale.
std::optional<std::string_view> without_unit(std::string_view text,
                                             TemperatureUnit unit) {
  const char own = unit == TemperatureUnit::kCelsius ? 'c' : 'f';
  const char last = text.empty() ? '\0' : lower(text.back());
  if (last == 'c' || last == 'f') {
    if (last != own) return std::nullopt;
    text.remove_suffix(1);
  }
  constexpr std::string_view kDegree = "°";
  text = trimmed(text);
  if (text.ends_with(kDegree)) text.remove_suffix(kDegree.size());
  return trimmed(text);
}

}  // namespace

void Dialogue::say(std::string_view text, std::size_t indent) const {
  around_.conversation->tell(paragraphs(text, indent, screen()));
}

std::string Dialogue::ask(const Question& question) const {
  std::string line = question.asks;
  if (!question.usual.empty()) line += fmt::format(" [{}]", question.usual);
  std::string shown = paragraphs(line, 0, screen());
  shown.back() = ' ';
  while (true) {
    const auto typed = around_.conversation->ask(shown);
    if (!typed) throw Interrupted{};
    const std::string_view word = trimmed(*typed);
    if (word == "?") {
      say(question.help.empty() ? "There is no more to say about it." : question.help,
          kIndent);
    } else if (!word.empty()) {
      return std::string(word);
    } else if (!question.usual.empty() || question.may_be_empty) {
      return question.usual;
    } else {
      say("This needs an answer; ? explains, Ctrl-C ends.", kIndent);
    }
  }
}

std::size_t Dialogue::choose(const Question& question,
                             const std::vector<std::string_view>& words) const {
  return ask(question,
             [&](const std::string& typed) { return choice_from_text(typed, words); });
}

bool Dialogue::agrees(std::string_view question, bool usual) const {
  const Question asked{.asks = std::string(question),
                       .usual = usual ? "yes" : "no",
                       .help = "Answer yes or no; Enter is the one in brackets."};
  return choose(asked, {"yes", "no"}) == 0;
}

std::string Dialogue::sentence(std::string text) {
  if (!text.empty() && text[0] >= 'a' && text[0] <= 'z') {
    text[0] = static_cast<char>(text[0] - 'a' + 'A');
  }
  return text.ends_with('?') ? text : text + ".";
}

Result<std::size_t> choice_from_text(std::string_view typed,
                                     const std::vector<std::string_view>& words) {
  const std::string word = lowered(typed);
  if (const auto number = number_from(word)) {
    if (*number >= 1 && *number <= words.size()) return *number - 1;
  }
  std::vector<std::size_t> begun;
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (lowered(words[i]) == word) return i;
    if (lowered(words[i]).starts_with(word)) begun.push_back(i);
  }
  if (begun.size() == 1) return begun.front();
  return refuse(fmt::format("\"{}\" is none of {}{}", escaped(typed),
                            fmt::join(words, ", "), did_you_mean(typed, words)));
}

Result<std::string> fit_text(std::string typed) {
  if (typed.size() > kLongestText) {
    return refuse(fmt::format("that is longer than {} letters", kLongestText));
  }
  if (has_control_characters(typed) || !toml_string(typed, {})) {
    return refuse(
        fmt::format("\"{}\" has characters that no text of the settings may "
                    "have; type it again",
                    escaped(typed)));
  }
  return typed;
}

Result<Celsius> temperature_from_text(std::string_view typed, TemperatureUnit unit) {
  const auto digits = without_unit(typed, unit);
  if (!digits) {
    return refuse(
        fmt::format("\"{}\" is on the other scale; temperatures are asked in "
                    "{} here",
                    escaped(typed), unit_of(Channel::kAirTemperature, unit)));
  }
  std::string text(*digits);
  std::ranges::replace(text, ',', '.');
  const LeadingNumber number = leading_number(text);
  if (number.fault != NumberFault::kNone || number.length != text.size()) {
    return refuse(fmt::format("\"{}\" is no temperature; write a number such as 4.5",
                              escaped(typed)));
  }
  const double degrees = value_from_shown(Channel::kAirTemperature, number.value, unit);
  if (!(degrees >= kColdest && degrees <= kWarmest)) {
    return refuse(fmt::format("{} {} is no temperature that plants are kept at",
                              escaped(typed), unit_of(Channel::kAirTemperature, unit)));
  }
  return Celsius{std::round(degrees * 100) / 100 + 0.0};
}

Result<std::chrono::seconds> span_from_text(std::string_view typed) {
  constexpr std::chrono::minutes kLongest{60};
  std::chrono::milliseconds span{};
  if (const auto number = number_from(typed)) {
    span = std::chrono::seconds{std::min<std::size_t>(*number, 100'000)};
  } else {
    const auto read = duration_from_text(typed);
    if (!read) return tl::unexpected(read.error());
    span = *read;
  }
  if (span < std::chrono::seconds{1} || span > kLongest) {
    return refuse(fmt::format("{} is not between a second and an hour", text_of(span)));
  }
  return std::chrono::ceil<std::chrono::seconds>(span);
}

}  // namespace rimeward
