// `rimeward water PLACE`: it was watered.

#include <chrono>
#include <string>
#include <string_view>

#include <fmt/format.h>

#include "sensors/escape.h"
#include "tools/cli/action.h"
#include "tools/cli/date_words.h"
#include "tools/cli/verb.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using std::chrono::sys_days;

constexpr std::string_view kPlace = "PLACE";
constexpr std::string_view kAt = "--at";
constexpr std::chrono::days kLongestAgo{31};  // older ones tell nothing of today

Result<Instant> time_from_words(const Context& context, std::string_view text) {
  const sys_days today{context.zone.local_date(context.now)};
  const auto said = day_and_time_from_words(text, today);
  if (!said) {
    return refuse(
        fmt::format("--at: expected a time such as 07:30, yesterday or "
                    "{}T07:30, got \"{}\"",
                    date_text(today), escaped(text)));
  }
  const auto date = past_day(kAt, said->day.value_or(today), today, kLongestAgo);
  if (!date) return tl::unexpected(date.error());
  return context.zone.at(*date, said->time.value_or(kNoon));
}

Result<Instant> time_said(const Context& context, const Arguments& arguments) {
  const auto text = arguments.text(kAt);
  if (!text || *text == "today") return context.now;
  auto at = time_from_words(context, *text);
  if (at && *at > context.now) {
    return refuse(fmt::format("--at {} is still to come; it is {} now", escaped(*text),
                              context.zone.time_text(context.now)));
  }
  return at;
}

Reply run(const Context& context, const Arguments& arguments) {
  const auto place = find_place(context.garden, arguments.text(kPlace).value_or(""));
  if (!place) return misused(place.error().message);
  const auto at = time_said(context, arguments);
  if (!at) return misused(at.error().message);
  return write_down(context,
                    {.id = 0,
                     .at = *at,
                     .verb = "water",
                     .place = (*place)->id,
                     .layers = 0,
                     .notice = 0},
                    fmt::format("{}: written down, watered {}", (*place)->name,
                                when_text(*at, context.now, context.zone)));
}

constexpr Parameter kParameters[]{
    {kPlace, "", "the place, by its id or name", true, Offers::kPlaces},
    {.name = kAt,
     .value = "TIME",
     .help = "when, where not just now: 07:30, yesterday or 2026-04-12T07:30",
     .offers = Offers::kDays},
};

}  // namespace

VerbDetails describe_water() {
  return {
      .teaching =
          "Writes down that a place was watered. From then on the air's dryness is added "
          "up anew; a notice that asked to look at the water is closed.\n\n"
          "  rimeward water pea-bed\n"
          "  Pea bed: written down, watered 18:40",
      .parameters = kParameters,
      .writes = true,
      .answer = run};
}

}  // namespace rimeward
