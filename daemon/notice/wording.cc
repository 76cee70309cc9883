#include "daemon/notice/wording.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>

#include "daemon/notice/sensor_words.h"

namespace rimeward {
namespace {

constexpr std::array kLanguages{
#define LANGUAGE(code, table) &table,
#include "daemon/notice/languages.def"
#undef LANGUAGE
};

Phrase phrase_of(Channel channel) {
  switch (channel) {
    case Channel::kAirTemperature:
      return Phrase::kChannelAirTemperature;
    case Channel::kHumidity:
      return Phrase::kChannelHumidity;
    case Channel::kSoilTemperature:
      return Phrase::kChannelSoilTemperature;
    case Channel::kSoilMoisture:
      return Phrase::kChannelSoilMoisture;
    case Channel::kLight:
      return Phrase::kChannelLight;
    case Channel::kPressure:
      return Phrase::kChannelPressure;
    case Channel::kBatteryVoltage:
      return Phrase::kChannelBatteryVoltage;
    case Channel::kBatteryPercent:
      return Phrase::kChannelBatteryPercent;
    case Channel::kSignal:
      return Phrase::kChannelSignal;
    case Channel::kForecastLow:
      return Phrase::kChannelForecastLow;
  }
  std::abort();
}

}  // namespace

std::span<const LanguageTable* const> all_languages() {
  return kLanguages;
}

const LanguageTable* find_language(std::string_view code) {
  const auto found = std::ranges::find(kLanguages, code, &LanguageTable::code);
  return found == kLanguages.end() ? nullptr : *found;
}

Wording::Wording(std::string_view language, TemperatureUnit unit, const Zone& zone)
    : language_(find_language(language)), unit_(unit), zone_(&zone) {
  if (language_ == nullptr) language_ = &kEnglish;
}

std::string Wording::fill(Phrase phrase, fmt::format_args named) const {
  return fmt::vformat(language_->phrases.at(static_cast<std::size_t>(phrase)), named);
}

std::string Wording::with_mark(std::string number) const {
  const std::size_t point = number.find('.');
  if (point != std::string::npos) number.replace(point, 1, language_->decimal_mark);
  return number;
}

std::string Wording::text_of(Celsius temperature) const {
  return with_mark(rimeward::text_of(temperature, unit_));
}

std::string Wording::whole_text_of(Celsius temperature) const {
  return rimeward::whole_text_of(temperature, unit_);
}

std::string Wording::text_of(Kelvins difference) const {
  return with_mark(rimeward::text_of(difference, unit_));
}

std::string Wording::text_of(Odds odds) const {
  return rimeward::text_of(odds);
}

std::string Wording::number(double value, int decimals) const {
  // Adding zero turns a rounded -0.0 into 0.0.
  const double scale = std::pow(10, decimals);
  return with_mark(
      fmt::format("{:.{}f}", std::round(value * scale) / scale + 0.0, decimals));
}

std::string Wording::value_of(Channel channel, double value) const {
  return with_mark(value_text(channel, value, unit_));
}

std::string Wording::counted(Phrase one, Phrase many, std::int64_t count) const {
  return say(count == 1 ? one : many, fmt::arg("count", count));
}

std::string Wording::layers(int count) const {
  return counted(Phrase::kOneLayer, Phrase::kManyLayers, count);
}

std::string Wording::span(std::chrono::seconds span) const {
  const SpanParts parts = parts_of(span);
  switch (parts.unit) {
    case SpanParts::Unit::kSeconds:
      return counted(Phrase::kOneSecond, Phrase::kManySeconds, parts.count);
    case SpanParts::Unit::kMinutes:
      return counted(Phrase::kOneMinute, Phrase::kManyMinutes, parts.count);
    case SpanParts::Unit::kHours:
      return counted(Phrase::kOneHour, Phrase::kManyHours, parts.count);
    case SpanParts::Unit::kDays:
      return counted(Phrase::kOneDay, Phrase::kManyDays, parts.count);
  }
  std::abort();
}

std::string Wording::time(Instant at) const {
  return zone_->time_text(at);
}

std::string Wording::date(std::chrono::year_month_day date) const {
  return language_->date(date);
}

std::string Wording::weekday(std::chrono::year_month_day date) const {
  return std::string(language_->weekdays.at(std::chrono::weekday(date).c_encoding()));
}

std::string Wording::day_and_time(Instant at) const {
  const auto day = zone_->local_date(at);
  return say(Phrase::kTimeOnDay, fmt::arg("time", time(at)),
             fmt::arg("weekday", weekday(day)), fmt::arg("date", date(day)));
}

std::string Wording::place(std::string_view name) const {
  return language_->place(name);
}

std::string Wording::channel(Channel channel) const {
  return say(phrase_of(channel));
}

std::string Wording::list(std::span<const std::string> items) const {
  if (items.empty()) return "";
  std::string list = items.front();
  for (std::size_t i = 1; i + 1 < items.size(); ++i)
    list += ", " + items[i];
  if (items.size() == 1) return list;
  return say(Phrase::kListLast, fmt::arg("list", list), fmt::arg("last", items.back()));
}

}  // namespace rimeward
