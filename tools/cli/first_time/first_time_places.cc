#include "tools/cli/first_time/first_time_places.h"

#include <algorithm>
#include <array>
#include <optional>

#include <fmt/format.h>

#include "daemon/base/crop.h"
#include "daemon/notice/keep_above.h"
#include "sensors/escape.h"
#include "tools/cli/adoption.h"
#include "tools/cli/quantity.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

constexpr std::string_view kBatches = "batches";
constexpr std::string_view kNone = "-";
constexpr std::array kTendernesses{Tenderness::kTender, Tenderness::kHalfHardy,
                                   Tenderness::kHardy};
constexpr double kWarmestKept = 30;  // what the settings allow

struct KindEntry {
  PlaceKind kind;
  std::string_view word;
  std::string_view hint;  // what its names often have in them, with a space between
};

// In the order of PlaceKind, in which they are asked.
constexpr std::array kKinds{
    KindEntry{PlaceKind::kGreenhouse, "greenhouse", "house glass conservatory haus"},
    KindEntry{PlaceKind::kPolytunnel, "polytunnel", "tunnel"},
    KindEntry{PlaceKind::kFrame, "frame", "frame kasten"},
    KindEntry{PlaceKind::kBed, "bed", "bed beet border plot patch"},
    KindEntry{PlaceKind::kOutdoors, "outdoors", "outdoor outside yard hof lawn open"}};

bool has_any(std::string_view text, std::string_view words) {
  while (!words.empty()) {
    const std::string_view word = words.substr(0, words.find(' '));
    if (text.find(word) != std::string_view::npos) return true;
    words.remove_prefix(std::min(word.size() + 1, words.size()));
  }
  return false;
}

// By its name; a frame in the open is no greenhouse.
std::string_view usual_kind(std::string_view id) {
  for (const PlaceKind kind : {PlaceKind::kFrame, PlaceKind::kPolytunnel, PlaceKind::kBed,
                               PlaceKind::kOutdoors, PlaceKind::kGreenhouse}) {
    const KindEntry& entry = kKinds.at(static_cast<std::size_t>(kind));
    if (has_any(id, entry.hint)) return entry.word;
  }
  return "";
}

PlaceKind ask_kind(const Dialogue& dialogue, const Place& place) {
  std::vector<std::string_view> words;
  for (const KindEntry& entry : kKinds)
    words.push_back(entry.word);
  const Question question{
      .asks = fmt::format("What is it: {}?", fmt::join(words, ", ")),
      .usual = std::string(usual_kind(place.id)),
      .help =
          "A frame is a cold frame with a lid; a bed is open, raised or not; "
          "outdoors is the free air of the garden.\n"
          "What a place is decides what is told of it: only what has a lid, door or "
          "vents is to be opened and shut."};
  return kKinds.at(dialogue.choose(question, words)).kind;
}

// Of what the class stands for, where nothing is known of the crop.
Celsius usual_for(Tenderness tenderness) {
  Crop crop;
  crop.tenderness = tenderness;
  return keep_above(crop);
}

// Nothing: as the batches need.
Result<std::optional<Celsius>> keep_above_from(std::string_view typed,
                                               TemperatureUnit unit) {
  if (!typed.empty() && (typed[0] < 'a' || typed[0] > 'z')) {
    const auto limit = temperature_from_text(typed, unit);
    if (!limit) return tl::unexpected(limit.error());
    if (limit->degrees > kWarmestKept) {
      return refuse(
          fmt::format("{} is more than any plant is kept above; is the unit "
                      "right?",
                      escaped(typed)));
    }
    return *limit;
  }
  std::vector<std::string_view> words{kBatches};
  for (const Tenderness each : kTendernesses)
    words.push_back(name_of(each));
  const auto choice = choice_from_text(typed, words);
  if (!choice) return refuse(choice.error().message + "; or give a temperature");
  if (*choice == 0) return std::nullopt;
  return usual_for(kTendernesses.at(*choice - 1));
}

std::string degrees_text(Celsius temperature, TemperatureUnit unit) {
  return fmt::format("{} {}", number(temperature, unit), degree_sign(unit));
}

void say_keep_above(const Dialogue& dialogue, const Place& place, TemperatureUnit unit) {
  if (place.keep_above) {
    return dialogue.say(
        fmt::format("Kept above {}.", degrees_text(*place.keep_above, unit)), 2);
  }
  // Of a place without a batch.
  const auto meanwhile = keep_above_of(place, {}).limit;
  dialogue.say(
      fmt::format("Kept above what its most tender batch needs, once you have told of "
                  "the batches (`rimeward batch add`); until then {}.",
                  meanwhile ? "above " + degrees_text(*meanwhile, unit)
                            : std::string("nothing is told of cold here")),
      2);
}

void ask_keep_above(const Dialogue& dialogue, Place& place, TemperatureUnit unit) {
  const Question question{
      .asks = fmt::format("Its most tender plants: tender, half-hardy, hardy, a "
                          "temperature in {}, or as its batches need?",
                          degree_sign(unit)),
      .usual = std::string(kBatches),
      .help = fmt::format(
          "It sets the temperature below which the place must not go: tender {}, "
          "half-hardy {}, hardy {} while they are young and soft. You are warned when a "
          "night may go below.\n"
          "batches: found from what you say you sow, and it changes with them.",
          degrees_text(usual_for(Tenderness::kTender), unit),
          degrees_text(usual_for(Tenderness::kHalfHardy), unit),
          degrees_text(usual_for(Tenderness::kHardy), unit))};
  place.keep_above = dialogue.ask(question, [unit](const std::string& typed) {
    return keep_above_from(typed, unit);
  });
  say_keep_above(dialogue, place, unit);
}

// Common practice, no source: growers air seedlings from the low twenties on, and what is
// small warms through faster.
Celsius usual_vent(PlaceKind kind) {
  return Celsius{kind == PlaceKind::kFrame ? 22.0 : 26.0};
}

void ask_vent_above(const Dialogue& dialogue, Place& place, TemperatureUnit unit) {
  const Celsius usual = usual_vent(place.kind);
  const Question question{
      .asks = fmt::format("From how many {} on should it be aired?", degree_sign(unit)),
      .usual = !place.keep_above || usual > *place.keep_above ? number(usual, unit) : "",
      .help =
          "You are told in the morning by when to open it, before it gets that "
          "warm.\n"
          "- : you do not want to be told."};
  using Limit = std::optional<Celsius>;
  place.vent_above =
      dialogue.ask(question, [&](const std::string& typed) -> Result<Limit> {
        if (typed == kNone) return Limit{};
        const auto limit = temperature_from_text(typed, unit);
        if (!limit) return tl::unexpected(limit.error());
        if (limit->degrees < 0 || (place.keep_above && *limit <= *place.keep_above)) {
          return refuse(
              fmt::format("{} is not above {}", escaped(typed),
                          degrees_text(place.keep_above.value_or(Celsius{0}), unit)));
        }
        return Limit{*limit};
      });
}

std::string ask_name(const Dialogue& dialogue, bool is_first) {
  return dialogue.ask(
      {.asks = is_first ? "The first place, as you call it?"
                        : "Another place? Its name, or Enter when that is all:",
       .help = "A place is a spot with a climate of its own: Glasshouse, North frame, "
               "Pea bed, Yard.\n"
               "A thermometer in the free air, outdoors, helps all the others.",
       .may_be_empty = !is_first},
      [is_first](std::string typed) -> Result<std::string> {
        if (is_first && typed == kNone) return refuse("a garden has at least one place");
        return fit_text(typed == kNone ? "" : std::move(typed));
      });
}

}  // namespace

std::string own_id(std::string_view name, const std::vector<std::string>& taken,
                   std::string_view otherwise) {
  std::string id = id_from(name);
  if (id.empty()) id = otherwise;
  std::string own = id;
  for (int number = 2; std::ranges::find(taken, own) != taken.end(); ++number)
    own = fmt::format("{}-{}", id, number);
  return own;
}

void ask_places(const Dialogue& dialogue, Garden& garden) {
  std::vector<std::string> ids;
  while (true) {
    Place place;
    place.name = ask_name(dialogue, garden.places.empty());
    if (place.name.empty()) return;
    place.id = own_id(place.name, ids, "place");
    place.kind = ask_kind(dialogue, place);
    ask_keep_above(dialogue, place, garden.units);
    if (is_covered(place.kind)) ask_vent_above(dialogue, place, garden.units);
    dialogue.say(
        fmt::format("\"{}\" goes by the id {}.", escaped(place.name, 200), place.id), 2);
    dialogue.pause();
    ids.push_back(place.id);
    garden.places.push_back(std::move(place));
  }
}

}  // namespace rimeward
