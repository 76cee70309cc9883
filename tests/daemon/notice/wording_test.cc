#include "daemon/notice/wording.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <deque>
#include <set>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <fmt/args.h>
#include <fmt/format.h>

#include "tests/support/hochfeld.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

constexpr std::array<std::string_view, kPhraseCount> kNames{
#define PHRASE(name, english) #name,
#include "daemon/notice/phrases.def"
#undef PHRASE
};

// "low10", "first_day".
bool is_name(std::string_view text) {
  const auto is_letter = [](char byte) { return byte >= 'a' && byte <= 'z'; };
  return !text.empty() && is_letter(text.front()) &&
         std::ranges::all_of(text, [&](char byte) {
           return is_letter(byte) || byte == '_' || (byte >= '0' && byte <= '9');
         });
}

// The names in braces, each as often as it stands there. A brace that belongs to no name
// is returned as a name that no phrase may have, "?".
std::multiset<std::string> places_of(std::string_view text) {
  std::multiset<std::string> places;
  while (!text.empty()) {
    const std::size_t open = text.find_first_of("{}");
    if (open == std::string_view::npos) break;
    const std::size_t close = text.find_first_of("{}", open + 1);
    const bool is_pair =
        text[open] == '{' && close != std::string_view::npos && text[close] == '}';
    const std::string name(is_pair ? text.substr(open + 1, close - open - 1) : "?");
    places.insert(is_name(name) ? name : "?");
    text.remove_prefix(is_pair ? close + 1 : open + 1);
  }
  return places;
}

std::set<std::string> distinct(const std::multiset<std::string>& names) {
  return {names.begin(), names.end()};
}

// What stands outside of the braces has a letter in it.
bool has_letters(std::string_view text) {
  bool outside = true;
  return std::ranges::any_of(text, [&](char byte) {
    if (byte == '{' || byte == '}') outside = byte == '}';
    return outside && std::isalpha(static_cast<unsigned char>(byte)) != 0;
  });
}

// The phrase with each of its places filled with "<name>".
std::string filled(std::string_view text) {
  fmt::dynamic_format_arg_store<fmt::format_context> named;
  std::deque<std::string> names;
  for (const std::string& place : distinct(places_of(text))) {
    names.push_back(place);
    named.push_back(fmt::arg(names.back().c_str(), "<" + place + ">"));
  }
  return fmt::vformat(text, named);
}

struct InGarden {
  Zone zone = berlin();
  Wording en = english(zone);
  Wording de = german(zone);
  Wording fahrenheit{"en", TemperatureUnit::kFahrenheit, zone};
  Wording de_fahrenheit{"de", TemperatureUnit::kFahrenheit, zone};
};

using Items = std::vector<std::string>;

}  // namespace

TEST_CASE("every language fills the same places of a phrase as the English") {
  for (const LanguageTable* language : all_languages()) {
    for (std::size_t i = 0; i < kPhraseCount; ++i) {
      INFO(language->code, " ", kNames[i]);
      CHECK(distinct(places_of(language->phrases[i])) ==
            distinct(places_of(kEnglish.phrases[i])));
    }
  }
}

TEST_CASE("every phrase can be filled, and then has no brace left") {
  for (const LanguageTable* language : all_languages()) {
    for (std::size_t i = 0; i < kPhraseCount; ++i) {
      INFO(language->code, " ", kNames[i]);
      const std::string_view text = language->phrases[i];
      REQUIRE_FALSE(places_of(text).contains("?"));
      std::string said;
      REQUIRE_NOTHROW(said = filled(text));
      CHECK(said.find_first_of("{}") == std::string::npos);
      for (const std::string& place : places_of(text))
        CHECK(said.find("<" + place + ">") != std::string::npos);
    }
  }
}

TEST_CASE("no phrase is empty, padded, or left in English") {
  for (const LanguageTable* language : all_languages()) {
    for (std::size_t i = 0; i < kPhraseCount; ++i) {
      INFO(language->code, " ", kNames[i]);
      const std::string_view text = language->phrases[i];
      REQUIRE_FALSE(text.empty());
      CHECK(text.front() != ' ');
      CHECK(text.back() != ' ');
      CHECK(text.find("  ") == std::string_view::npos);
      if (language == &kEnglish || !has_letters(text)) continue;
      CHECK(text != kEnglish.phrases[i]);
    }
  }
}

TEST_CASE("a sentence ends in every language as it does in English") {
  const auto stops = [](std::string_view text) {
    return text.ends_with('.') || text.ends_with(".)");
  };
  for (const LanguageTable* language : all_languages()) {
    for (std::size_t i = 0; i < kPhraseCount; ++i) {
      INFO(language->code, " ", kNames[i]);
      CHECK(stops(language->phrases[i]) == stops(kEnglish.phrases[i]));
    }
  }
}

TEST_CASE("languages are found by their code, and an unknown one speaks English") {
  REQUIRE(find_language("de") != nullptr);
  CHECK(find_language("de")->decimal_mark == ",");
  CHECK(find_language("xx") == nullptr);
  CHECK(find_language("") == nullptr);
  const Zone zone = berlin();
  CHECK(Wording("xx", TemperatureUnit::kCelsius, zone).layers(1) == "one layer");
}

TEST_CASE("a phrase puts what it is given where the language wants it") {
  const InGarden in;
  const auto by = [](const Wording& wording) {
    return wording.say(Phrase::kHeadlineBy, fmt::arg("time", "19:30"),
                       fmt::arg("title", "X"));
  };
  CHECK(by(in.en) == "X, by 19:30");
  CHECK(by(in.de) == "X, bis 19:30 Uhr");
}

TEST_CASE("numbers have the language's decimal mark, and zero has no sign") {
  const InGarden in;
  CHECK(in.en.text_of(Celsius{-1.25}) == "-1.3 °C");
  CHECK(in.de.text_of(Celsius{-1.25}) == "-1,3 °C");
  CHECK(in.de.text_of(Celsius{-0.04}) == "0,0 °C");
  CHECK(in.de.whole_text_of(Celsius{-0.4}) == "0 °C");
  CHECK(in.de.text_of(Kelvins{1.2}) == "1,2 °C");
  CHECK(in.de.number(3.256, 2) == "3,26");
  CHECK(in.de.number(1234.5, 1) == "1234,5");
  CHECK(in.de.number(-0.4, 0) == "0");
  CHECK(in.en.number(26.4, 0) == "26");
  CHECK(in.de.text_of(Odds{0.999}) == "99 %");
  CHECK(in.en.text_of(Odds{0.001}) == "1 %");
}

TEST_CASE("what a sensor says is told in its unit with as many figures as it has") {
  const InGarden in;
  CHECK(in.en.value_of(Channel::kAirTemperature, 4.25) == "4.25 °C");
  CHECK(in.de.value_of(Channel::kAirTemperature, 4.25) == "4,25 °C");
  CHECK(in.de.value_of(Channel::kBatteryVoltage, 2.35) == "2,35 V");
  CHECK(in.de.value_of(Channel::kBatteryPercent, 15) == "15 %");
  CHECK(in.de.value_of(Channel::kPressure, 1.7e308) == "1,7e+308 hPa");
}

TEST_CASE("a garden in Fahrenheit is told temperatures and differences in Fahrenheit") {
  const InGarden in;
  CHECK(in.fahrenheit.unit() == TemperatureUnit::kFahrenheit);
  CHECK(in.fahrenheit.text_of(Celsius{-1.3}) == "29.7 °F");
  CHECK(in.fahrenheit.whole_text_of(Celsius{-1.3}) == "30 °F");
  CHECK(in.fahrenheit.text_of(Kelvins{1.2}) == "2.2 °F");
  CHECK(in.fahrenheit.value_of(Channel::kSoilTemperature, -127) == "-196.6 °F");
  CHECK(in.fahrenheit.value_of(Channel::kHumidity, 92) == "92 %");
  CHECK(in.de_fahrenheit.text_of(Celsius{-1.3}) == "29,7 °F");
  CHECK(in.de_fahrenheit.value_of(Channel::kSoilTemperature, -127) == "-196,6 °F");
}

TEST_CASE("one of a thing is said otherwise than many") {
  const InGarden in;
  CHECK(in.en.layers(1) == "one layer");
  CHECK(in.en.layers(2) == "2 layers");
  CHECK(in.de.layers(1) == "eine Lage");
  CHECK(in.de.layers(2) == "2 Lagen");
  CHECK(in.en.span(1s) == "1 second");
  CHECK(in.de.span(1s) == "1 Sekunde");
  CHECK(in.de.span(59s) == "59 Sekunden");
  CHECK(in.en.span(60s) == "1 minute");
  CHECK(in.de.span(60s) == "1 Minute");
  CHECK(in.de.span(119min) == "119 Minuten");
  CHECK(in.de.span(2h) == "2 Stunden");
  CHECK(in.en.span(47h + 59min) == "47 hours");
  CHECK(in.de.span(48h) == "2 Tage");
  CHECK(in.en.span(72h) == "3 days");
}

TEST_CASE("times are the garden's, and dates are written as the language does") {
  const InGarden in;
  const Instant evening = at("2026-04-12T18:05:00Z");
  CHECK(in.en.time(evening) == "20:05");
  CHECK(in.en.day_and_time(evening) == "20:05 on Sun 2026-04-12");
  CHECK(in.de.day_and_time(evening) == "20:05 Uhr am So, 12.4.2026");
  // After midnight by the garden's clock.
  CHECK(in.de.day_and_time(at("2026-12-31T23:30:00Z")) == "00:30 Uhr am Fr, 1.1.2027");
  const std::chrono::year_month_day saturday{2026y / 4 / 11};
  CHECK(in.en.weekday(saturday) == "Sat");
  CHECK(in.de.weekday(saturday) == "Sa");
  CHECK(in.en.date(saturday) == "2026-04-11");
  CHECK(in.de.date(saturday) == "11.4.2026");
}

TEST_CASE("a list has an and before its last") {
  const InGarden in;
  CHECK(in.en.list(Items{}).empty());
  CHECK(in.de.list(Items{"a"}) == "a");
  CHECK(in.en.list(Items{"a", "b"}) == "a and b");
  CHECK(in.en.list(Items{"a", "b", "c"}) == "a, b and c");
  CHECK(in.de.list(Items{"a", "b", "c"}) == "a, b und c");
}

TEST_CASE("a place has its article in English and stands bare in German") {
  const InGarden in;
  CHECK(in.en.place("North frame") == "the north frame");
  CHECK(in.de.place("Nordkasten") == "Nordkasten");
}

TEST_CASE("every channel has a name of its own in every language") {
  const InGarden in;
  for (const Wording* wording : {&in.en, &in.de}) {
    std::set<std::string> names;
    for (const ChannelTraits& channel : all_channels())
      names.insert(wording->channel(channel.channel));
    CHECK(names.size() == all_channels().size());
  }
  CHECK(in.en.channel(Channel::kSoilTemperature) == "soil temperature");
  CHECK(in.de.channel(Channel::kSoilTemperature) == "Bodentemperatur");
}

TEST_CASE("a sentence begins with a capital, also with an umlaut, and is else as it is") {
  CHECK(sentence("the north frame") == "The north frame");
  CHECK(sentence("über Nacht") == "Über Nacht");
  CHECK(sentence("äpfel") == "Äpfel");
  CHECK(sentence("öffnen") == "Öffnen");
  CHECK(sentence("Öffnen") == "Öffnen");
  CHECK(sentence("éclair") == "Éclair");
  CHECK(sentence("ß") == "ß");
  CHECK(sentence("÷ 2") == "÷ 2");
  CHECK(sentence("9 hours") == "9 hours");
  CHECK(sentence("ü") == "Ü");
  CHECK(sentence("\xC3") == "\xC3");
  CHECK(sentence("").empty());
}
