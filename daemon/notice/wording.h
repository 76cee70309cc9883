// The words of notices: phrases, numbers, times and names in one language, in the
// garden's unit of temperature and its own time. Pure and thread-safe.

#pragma once

#include <chrono>
#include <span>
#include <string>
#include <string_view>

#include <fmt/format.h>

#include "daemon/base/garden.h"
#include "daemon/base/zone.h"
#include "daemon/notice/language.h"
#include "daemon/notice/words.h"
#include "sensors/channel.h"
#include "sensors/units.h"

namespace rimeward {

class Wording {
 public:
  // `zone` must outlive this. A language that is not known is English: the settings have
  // refused it before.
  Wording(std::string_view language, TemperatureUnit unit, const Zone& zone);

  // The phrase with its places filled: say(Phrase::kReminder, fmt::arg("headline",
  // text)). REQUIRES: every place of the phrase is given.
  template <class... Named>
  std::string say(Phrase phrase, const Named&... named) const {
    return fill(phrase, fmt::make_format_args(named...));
  }

  const Zone& zone() const { return *zone_; }
  TemperatureUnit unit() const { return unit_; }

  // "-1.3 °C", or "29.7 °F". Never "-0.0".
  std::string text_of(Celsius temperature) const;
  // In whole degrees: "-1 °C".
  std::string whole_text_of(Celsius temperature) const;
  // A difference: "1.2 °C" or "2.2 °F".
  std::string text_of(Kelvins difference) const;
  // "72 %"; odds that are not certain are never shown as 0 % or 100 %.
  std::string text_of(Odds odds) const;
  // With so many decimals: "3.25".
  std::string number(double value, int decimals) const;
  // What a sensor says, with its unit: "4.25 °C", "2.35 V". For any number.
  std::string value_of(Channel channel, double value) const;
  // "one layer", "2 layers".
  std::string layers(int count) const;
  // As people say it: "20 seconds", "40 minutes", "3 hours", "2 days"; rounded down.
  std::string span(std::chrono::seconds span) const;

  std::string time(Instant at) const;  // "19:20"
  std::string date(std::chrono::year_month_day date) const;
  std::string weekday(std::chrono::year_month_day date) const;  // "Sun"
  std::string day_and_time(Instant at) const;  // "20:05 on Sun 2026-04-12"

  // In the middle of a sentence: "the north frame".
  std::string place(std::string_view name) const;
  std::string channel(Channel channel) const;
  // "a", "a and b", "a, b and c".
  std::string list(std::span<const std::string> items) const;

 private:
  std::string fill(Phrase phrase, fmt::format_args named) const;
  std::string counted(Phrase one, Phrase many, std::int64_t count) const;
  std::string with_mark(std::string number) const;

  const LanguageTable* language_;
  TemperatureUnit unit_;
  const Zone* zone_;
};

}  // namespace rimeward
