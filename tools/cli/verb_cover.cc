// `rimeward cover PLACE [LAYERS]`: fleece was put on.

#include <string>
#include <string_view>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "sensors/escape.h"
#include "tools/cli/action.h"
#include "tools/cli/verb.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

constexpr std::string_view kPlace = "PLACE";
constexpr std::string_view kLayers = "LAYERS";

std::string written_down(const Context& context, const Place& place, int layers) {
  std::string text =
      fmt::format("{}: written down, {} {} on from {}", place.name,
                  layers == 0 ? "no" : fmt::format("{}", layers),
                  layers == 1 ? "layer" : "layers", context.zone.time_text(context.now));
  if (layers > place.fleece_layers) {
    text += fmt::format(" (the settings give {} fleece_layers = {})",
                        in_sentence(place.name), place.fleece_layers);
  }
  return text;
}

Reply run(const Context& context, const Arguments& arguments) {
  const auto place = find_place(context.garden, arguments.text(kPlace).value_or(""));
  if (!place) return misused(place.error().message);
  const std::string_view word = arguments.text(kLayers).value_or("1");
  if (word.size() != 1 || word.front() < '0' || word.front() > '9') {
    return misused(
        fmt::format("cover: expected 0 to 9 layers, got \"{}\"", escaped(word)));
  }
  const int layers = word.front() - '0';
  return write_down(context,
                    {.id = 0,
                     .at = {},
                     .verb = "cover",
                     .place = (*place)->id,
                     .layers = layers,
                     .notice = 0},
                    written_down(context, **place, layers));
}

constexpr Parameter kParameters[]{
    {kPlace, "", "the place, by its id or name", true, Offers::kPlaces},
    {.name = kLayers,
     .value = "",
     .help = "how many layers are on now, 0 to 9 (default 1)",
     .offers = Offers::kWords,
     .words = "1 2 3"},
};

}  // namespace

VerbDetails describe_cover() {
  return {
      .teaching =
          "Writes down how many layers of fleece are on a place from now on. A notice "
          "that asked for them is closed when they are enough.\n\n"
          "  rimeward cover north-frame 2\n"
          "  North frame: written down, 2 layers on from 18:20",
      .parameters = kParameters,
      .writes = true,
      .answer = run};
}

}  // namespace rimeward
