// One language of the notices: its phrases and its manner of writing numbers and dates.
// To add one: write daemon/notice/language_<code>.cc and its line in languages.def.

#pragma once

#include <array>
#include <chrono>
#include <initializer_list>
#include <span>
#include <string>
#include <string_view>
#include <utility>

#include "daemon/notice/phrases.h"

namespace rimeward {

struct LanguageTable {
  std::string_view code;  // ISO 639-1
  std::array<std::string_view, kPhraseCount> phrases;
  std::string_view decimal_mark;
  std::array<std::string_view, 7> weekdays;  // short, from Sunday on
  std::string (*date)(std::chrono::year_month_day date);
  // A place's name as it stands in the middle of a sentence.
  std::string (*place)(std::string_view name);
};

// The table's phrases from a list of each and its text. A phrase that is listed twice or
// left out does not compile.
consteval std::array<std::string_view, kPhraseCount> phrases_of(
    std::initializer_list<std::pair<Phrase, std::string_view>> list) {
  std::array<std::string_view, kPhraseCount> phrases{};
  for (const auto& [phrase, text] : list) {
    std::string_view& place = phrases.at(static_cast<std::size_t>(phrase));
    if (!place.empty()) throw "a phrase is listed twice";
    place = text;
  }
  for (const std::string_view text : phrases) {
    if (text.empty()) throw "a phrase is left out";
  }
  return phrases;
}

std::span<const LanguageTable* const> all_languages();
// Null: none of that code.
const LanguageTable* find_language(std::string_view code);

#define LANGUAGE(code, table) extern const LanguageTable table;
#include "daemon/notice/languages.def"
#undef LANGUAGE

}  // namespace rimeward
