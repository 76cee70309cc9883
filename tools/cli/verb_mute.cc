// `rimeward mute KIND --until T`: no notice of a kind is told for a while.

#include <algorithm>
#include <chrono>
#include <string>
#include <string_view>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "daemon/notice/notice_kinds.h"
#include "daemon/store/mute_word.h"
#include "sensors/escape.h"
#include "tools/cli/action.h"
#include "tools/cli/date_words.h"
#include "tools/cli/verb.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::sys_days;

constexpr std::string_view kKind = "KIND";
constexpr std::string_view kPlace = "--place";
constexpr std::string_view kUntil = "--until";
// Of what keeps plants alive: by then the weather is another than the one it was said in.
constexpr days kLongForFrost{14};

Result<std::string> kind_said(const Arguments& arguments) {
  const std::string_view word = arguments.text(kKind).value_or("");
  if (std::ranges::find(kNoticeKinds, word) != kNoticeKinds.end()) {
    return std::string(word);
  }
  return refuse(fmt::format("no kind of notice \"{}\"{}; kinds: {}", escaped(word),
                            did_you_mean(word, kNoticeKinds),
                            fmt::join(kNoticeKinds, ", ")));
}

// The next such time of day, or the day and time; a day without a time is its noon.
Result<Instant> until_said(const Context& context, std::string_view text) {
  if (text == "now") return context.now;
  const sys_days today{context.zone.local_date(context.now)};
  const auto said = day_and_time_from_words(text, today);
  if (!said) {
    return refuse(
        fmt::format("--until: expected a time such as 18:00, tomorrow, {0}, {0}T18:00 or "
                    "now, got \"{1}\"",
                    date_text(today + days{7}), escaped(text)));
  }
  const auto time = said->time.value_or(kNoon);
  Instant until = context.zone.at(said->day.value_or(today), time);
  if (!said->day && until <= context.now) until = context.zone.at(today + days{1}, time);
  if (until <= context.now) {
    return refuse(fmt::format("--until {} is over; it is {} now", escaped(text),
                              context.zone.time_text(context.now)));
  }
  if (until > context.now + kLongestMute) {
    return refuse(fmt::format("--until {} is more than a year off; is the year right?",
                              escaped(text)));
  }
  return until;
}

// "damp", or "damp, North frame".
std::string matter_text(const Garden& garden, const MuteRow& mute) {
  if (mute.place.empty()) return mute.kind;
  return fmt::format("{}, {}", mute.kind, place_name(garden, mute.place));
}

// What a gardener should know who mutes what plants may die of.
std::string cautions(const Context& context, const MuteRow& mute) {
  std::string text;
  if (mute.kind == "danger") {
    text +=
        "\nUntil then nobody is told when a place gets colder than foreseen, at night "
        "too: plants can be lost. `rimeward mute danger --until now` ends it.";
  }
  const bool frost = mute.kind == "danger" || mute.kind == "cover";
  if (frost && mute.until > context.now + kLongForFrost) {
    text += fmt::format(
        "\nThat is over {} days, in which no frost is told by this kind of notice: put "
        "the end into your calendar.",
        kLongForFrost.count());
  }
  return text;
}

// A kind stays mute in a place for which that was said by itself, and the other way
// round.
std::string still_muted(const Context& context, const MuteRow& mute) {
  std::string text;
  for (const MuteRow& other : context.store.mutes()) {
    if (other.kind != mute.kind || other.place == mute.place ||
        other.until <= context.now) {
      continue;
    }
    text += fmt::format("\nStill muted until {}: {}",
                        when_text(other.until, context.now, context.zone),
                        matter_text(context.garden, other));
  }
  return text;
}

std::string written_down(const Context& context, const MuteRow& mute) {
  const std::string matter = matter_text(context.garden, mute);
  if (mute.until <= context.now) {
    return fmt::format("{}: written down, no longer muted{}", matter,
                       still_muted(context, mute));
  }
  return fmt::format("{}: written down, muted until {}{}", matter,
                     when_text(mute.until, context.now, context.zone),
                     cautions(context, mute));
}

Reply run(const Context& context, const Arguments& arguments) {
  const auto kind = kind_said(arguments);
  if (!kind) return misused(kind.error().message);
  MuteRow mute{.kind = *kind};
  if (const auto word = arguments.text(kPlace)) {
    const auto place = find_place(context.garden, *word);
    if (!place) return misused(place.error().message);
    if (is_letter(*kind)) {
      return misused(fmt::format(
          "mute: {} is about the garden as a whole; leave out --place", *kind));
    }
    mute.place = (*place)->id;
  }
  const auto until = until_said(context, arguments.text(kUntil).value_or(""));
  if (!until) return misused(until.error().message);
  mute.until = *until;
  return write_down(
      context,
      {.verb = "mute", .place = mute.place, .detail = mute_detail(mute.kind, mute.until)},
      written_down(context, mute));
}

constexpr Parameter kParameters[]{
    {kKind, "", "the kind of notice: cover, danger, damp, silent and so on", true,
     Offers::kKinds},
    {.name = kPlace,
     .value = "PLACE",
     .help = "only of this place, by its id or name",
     .offers = Offers::kPlaces},
    {kUntil, "T", "18:00, tomorrow, 2026-04-20, 2026-04-20T18:00; now: no longer", true,
     Offers::kWords, "tomorrow now"},
};

}  // namespace

VerbDetails describe_mute() {
  return {
      .teaching =
          "Tells no notice of a kind until a time. It is still raised, and `rimeward "
          "notices` shows it and what is muted; what still holds then is told then.\n\n"
          "A time is the next such; a day without a time is its noon. The letters are "
          "`morning` and `sunday`.\n\n"
          "  rimeward mute damp --place glasshouse --until 2026-04-20\n"
          "  damp, Glasshouse: written down, muted until Mon 20 Apr 12:00\n\n"
          "Danger can be muted too, and is then not told at night either. Without "
          "--place, all places are meant.",
      .parameters = kParameters,
      .writes = true,
      .answer = run};
}

}  // namespace rimeward
