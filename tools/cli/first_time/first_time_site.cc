#include "tools/cli/first_time/first_time_site.h"

#include <chrono>
#include <optional>
#include <vector>

#include <fmt/format.h>

#include "daemon/base/zone.h"
#include "daemon/climate/sun.h"
#include "daemon/notice/language.h"
#include "tools/cli/first_time/first_time_coordinates.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// Where clocks run furthest from the sun it is highest at half past two in summer, and
// three where one zone spans a continent; beyond these a sign or the zone is wrong.
constexpr std::chrono::minutes kEarliestNoon = 10h;
constexpr std::chrono::minutes kLatestNoon = 16h;

void ask_position(const Dialogue& dialogue, Garden& garden) {
  const Question question{
      .asks = "Where does it lie? Latitude, longitude:",
      .help =
          "A map shows both; two decimals are plenty. Sunset and sunrise are "
          "reckoned from them.\n"
          "Such as 48.41, 9.52 or 48.41 N 9.52 E or 48°24'36\"N 9°31'12\"E. South "
          "and west are S and W, or have a minus."};
  garden.position = dialogue.ask(question, &position_from_text);
  dialogue.say(position_text(garden.position) + ".", 2);
}

Zone ask_zone(const Dialogue& dialogue, const std::string& usual) {
  const Question question{
      .asks = usual.empty() ? "Its time zone, such as Europe/Berlin?" : "Its time zone?",
      .usual = usual,
      .help =
          "The name that zones have in the IANA list: a continent and a city whose "
          "clocks are the garden's, such as Europe/Berlin or America/New_York.\n"
          "`timedatectl list-timezones` shows them all. Hours and days are told by "
          "it."};
  return dialogue.ask(question, &Zone::named);
}

bool is_plausible(const SunEvents& sun, const Zone& zone) {
  const auto noon = zone.minute_of_day(whole_second(sun.noon));
  return noon >= kEarliestNoon && noon <= kLatestNoon;
}

// True when it is right, as far as the gardener can tell by the sun.
bool sun_agrees(const Dialogue& dialogue, Position position, const Zone& zone,
                Instant now) {
  const auto sun = sun_events(solar_day(now, position), position);
  if (!sun) {
    dialogue.say("There the sun does not both rise and set today.", 2);
    return dialogue.agrees("Is that so?", true);
  }
  dialogue.say(fmt::format("There the sun rises at {} and sets at {} today.",
                           zone.time_text(whole_second(sun->sunrise)),
                           zone.time_text(whole_second(sun->sunset))),
               2);
  const bool plausible = is_plausible(*sun, zone);
  if (!plausible) {
    dialogue.say(fmt::format("It would then stand highest at {}: east and west may be "
                             "swapped, or the zone is another.",
                             zone.time_text(whole_second(sun->noon))),
                 2);
  }
  return dialogue.agrees("Is that about right?", plausible);
}

TemperatureUnit ask_unit(const Dialogue& dialogue) {
  const Question question{.asks = "Temperatures in celsius or fahrenheit?",
                          .usual = "celsius",
                          .help =
                              "The unit of what is shown and told, and of what is "
                              "asked next.\n"
                              "The settings file stays in Celsius either way."};
  return dialogue.choose(question, {"celsius", "fahrenheit"}) == 0
             ? TemperatureUnit::kCelsius
             : TemperatureUnit::kFahrenheit;
}

std::string ask_language(const Dialogue& dialogue, const MachineHabits& habits) {
  std::vector<std::string_view> codes;
  for (const LanguageTable* language : all_languages())
    codes.push_back(language->code);
  const Question question{
      .asks = fmt::format("Language of the notices: {}?", fmt::join(codes, " or ")),
      .usual = habits.language,
      .help =
          "en is English, de is German: what is written to you, by e-mail for one.\n"
          "What is said here at the terminal stays English."};
  return std::string(codes.at(dialogue.choose(question, codes)));
}

}  // namespace

void ask_site(const Dialogue& dialogue, const MachineHabits& habits, Instant now,
              Garden& garden) {
  garden.name = dialogue.ask({.asks = "What is the garden called?",
                              .help = "As it is to stand in notices and letters, such as "
                                      "Hochfeld school garden.\n"
                                      "It can be changed at any time."},
                             &fit_text);
  garden.time_zone = habits.time_zone;
  while (true) {
    ask_position(dialogue, garden);
    const Zone zone = ask_zone(dialogue, garden.time_zone);
    garden.time_zone = zone.name();
    if (sun_agrees(dialogue, garden.position, zone, now)) break;
    dialogue.say("Then both once more.", 2);
  }
  garden.units = ask_unit(dialogue);
  garden.language = ask_language(dialogue, habits);
}

}  // namespace rimeward
