#include "daemon/base/text.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cstdint>
#include <limits>
#include <vector>

#include <fmt/format.h>

#include "sensors/escape.h"

namespace rimeward {
namespace {

constexpr std::string_view kBlanks = " \t";
constexpr std::size_t kLongestWord = 100;  // to compare; the work grows with its square
constexpr std::array<std::string_view, 3> kArticles{"the", "a", "an"};
constexpr std::array<std::string_view, 4> kOwners{"my", "our", "your", "their"};

// Only ASCII is folded: keys and identifiers have nothing else, and the C library's
// functions would ask the locale.
constexpr bool is_upper(char letter) {
  return letter >= 'A' && letter <= 'Z';
}
constexpr bool is_lower(char letter) {
  return letter >= 'a' && letter <= 'z';
}
constexpr char lowered(char letter) {
  return is_upper(letter) ? static_cast<char>(letter - 'A' + 'a') : letter;
}

std::string lowered(std::string_view text) {
  std::string low(text);
  std::ranges::transform(low, low.begin(), [](char letter) { return lowered(letter); });
  return low;
}

std::optional<int> two_digits(std::string_view text, int limit) {
  const auto digit = [](char letter) { return letter >= '0' && letter <= '9'; };
  if (text.size() != 2 || !digit(text[0]) || !digit(text[1])) return std::nullopt;
  const int value = (text[0] - '0') * 10 + (text[1] - '0');
  return value < limit ? std::optional(value) : std::nullopt;
}

// Slips between two words: insertions, deletions, changes and swaps of neighbours
// (the restricted form of the Damerau-Levenshtein distance).
std::size_t slips(const std::string& from, const std::string& to) {
  std::vector<std::size_t> before_last(to.size() + 1);
  std::vector<std::size_t> last(to.size() + 1);
  std::vector<std::size_t> row(to.size() + 1);
  for (std::size_t j = 0; j <= to.size(); ++j) {
    last[j] = j;
  }
  for (std::size_t i = 1; i <= from.size(); ++i) {
    row[0] = i;
    for (std::size_t j = 1; j <= to.size(); ++j) {
      const std::size_t changed = from[i - 1] == to[j - 1] ? 0 : 1;
      row[j] = std::min({last[j] + 1, row[j - 1] + 1, last[j - 1] + changed});
      const bool swapped =
          i > 1 && j > 1 && from[i - 1] == to[j - 2] && from[i - 2] == to[j - 1];
      if (swapped) row[j] = std::min(row[j], before_last[j - 2] + 1);
    }
    std::swap(before_last, last);
    std::swap(last, row);
  }
  return last[to.size()];
}

constexpr std::size_t kTooFar = std::numeric_limits<std::size_t>::max();

// Slips between what was meant, in small letters, and a candidate; kTooFar when it cannot
// have been meant.
std::size_t distance_of(const std::string& meant, std::string_view candidate) {
  if (candidate.size() > kLongestWord) return kTooFar;
  const std::size_t most = std::max<std::size_t>(1, meant.size() / 3);
  const std::string low = lowered(candidate);
  const std::size_t distance = slips(meant, low);
  if (meant.size() >= 3 && low.starts_with(meant)) return std::min(distance, most);
  // A word of one letter is near to every other: it must keep one of its own.
  if (distance > most || (distance > 0 && distance >= meant.size())) return kTooFar;
  return distance;
}

// Longest first, so that text_of() finds the largest that divides.
struct Unit {
  std::string_view name;
  std::chrono::milliseconds length;
};
constexpr std::array kUnits{
    Unit{"days", std::chrono::days{1}}, Unit{"day", std::chrono::days{1}},
    Unit{"h", std::chrono::hours{1}},   Unit{"min", std::chrono::minutes{1}},
    Unit{"s", std::chrono::seconds{1}}, Unit{"ms", std::chrono::milliseconds{1}},
};

// A hundred years: no setting is longer, and no sum of a few overflows.
constexpr std::chrono::milliseconds kLongest = std::chrono::days{36'525};

bool ends_as_owner(std::string_view word) {
  return word.ends_with("'s") || word.ends_with("s'") || word.ends_with("’s") ||
         word.ends_with("s’");
}

// True for "Anna's bed" and "Uncle Tom's bed", not for "North frame" or "Peas by Anna's".
bool begins_with_an_owner(std::string_view name) {
  while (!name.empty() && is_upper(name.front())) {
    const std::string_view word = name.substr(0, name.find(' '));
    if (ends_as_owner(word)) return true;
    name.remove_prefix(std::min(name.size(), word.size() + 1));
  }
  return false;
}

bool begins_with_word(const std::string& low_name,
                      std::span<const std::string_view> words) {
  return std::ranges::any_of(words, [&](std::string_view word) {
    return low_name.starts_with(word) && low_name.size() > word.size() &&
           low_name[word.size()] == ' ';
  });
}

}  // namespace

std::optional<std::string_view> nearest(std::string_view word,
                                        std::span<const std::string_view> candidates) {
  if (word.size() > kLongestWord) return std::nullopt;
  const std::string meant = lowered(word);
  std::optional<std::string_view> best;
  std::size_t fewest = kTooFar;
  for (const std::string_view candidate : candidates) {
    const std::size_t distance = distance_of(meant, candidate);
    if (distance >= fewest) continue;
    fewest = distance;
    best = candidate;
  }
  return best;
}

std::string did_you_mean(std::string_view word,
                         std::span<const std::string_view> candidates) {
  const auto meant = nearest(word, candidates);
  return meant ? fmt::format("; did you mean \"{}\"?", escaped(*meant)) : "";
}

bool is_id(std::string_view text) {
  const auto allowed = [](char letter) {
    return (letter >= 'a' && letter <= 'z') || (letter >= '0' && letter <= '9') ||
           letter == '-';
  };
  return !text.empty() && text.size() <= 64 && std::ranges::all_of(text, allowed) &&
         text.front() != '-' && text.back() != '-';
}

Result<std::chrono::milliseconds> duration_from_text(std::string_view text) {
  const auto refused = [&] {
    return refuse(
        fmt::format("expected a duration such as \"30 min\" (ms, s, min, h, day), "
                    "got \"{}\"",
                    escaped(text)));
  };
  std::int64_t count = 0;
  const char* const end = text.data() + text.size();
  const auto [rest, fault] = std::from_chars(text.data(), end, count);
  if (fault != std::errc{} || count < 0) return refused();
  std::string_view unit(rest, static_cast<std::size_t>(end - rest));
  unit.remove_prefix(std::min(unit.find_first_not_of(kBlanks), unit.size()));
  const auto found = std::ranges::find(kUnits, unit, &Unit::name);
  if (found == kUnits.end()) return refused();
  if (count > kLongest / found->length)
    return refuse("a duration of over a hundred years");
  return count * found->length;
}

std::string text_of(std::chrono::milliseconds duration) {
  if (duration.count() == 0) return "0 s";
  const auto unit = std::ranges::find_if(kUnits, [&](const Unit& candidate) {
    return duration % candidate.length == std::chrono::milliseconds{0};
  });
  const auto count = duration / unit->length;
  const bool one_day = unit->name == "days" && (count == 1 || count == -1);
  return fmt::format("{} {}", count, one_day ? "day" : unit->name);
}

std::optional<std::chrono::minutes> time_of_day_from_text(std::string_view text) {
  if (text.size() != 5 || text[2] != ':') return std::nullopt;
  const auto hours = two_digits(text.substr(0, 2), 24);
  const auto minutes = two_digits(text.substr(3), 60);
  if (!hours || !minutes) return std::nullopt;
  return std::chrono::minutes{*hours * 60 + *minutes};
}

std::string in_sentence(std::string_view name) {
  if (name.empty() || begins_with_an_owner(name)) return std::string(name);
  std::string said(name);
  // "North" loses its capital; "QX", "A-frame" and "3rd" have none to lose.
  if (said.size() > 1 && is_lower(said[1])) said[0] = lowered(said[0]);
  const std::string low = lowered(name);
  // "A frame" may be one frame or frame A; its keeper wrote the article, so it stays.
  if (begins_with_word(low, kArticles) || begins_with_word(low, kOwners)) {
    said[0] = lowered(said[0]);
    return said;
  }
  return "the " + said;
}

}  // namespace rimeward
