// `rimeward uncover PLACE`: the fleece was taken off.

#include <string_view>

#include <fmt/format.h>

#include "tools/cli/action.h"
#include "tools/cli/verb.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

constexpr std::string_view kPlace = "PLACE";

Reply run(const Context& context, const Arguments& arguments) {
  const auto place = find_place(context.garden, arguments.text(kPlace).value_or(""));
  if (!place) return misused(place.error().message);
  return write_down(context,
                    {.id = 0,
                     .at = {},
                     .verb = "uncover",
                     .place = (*place)->id,
                     .layers = 0,
                     .notice = 0},
                    fmt::format("{}: written down, uncovered from {}", (*place)->name,
                                context.zone.time_text(context.now)));
}

constexpr Parameter kParameters[]{{kPlace, "", "the place, by its id or name", true}};

}  // namespace

VerbDetails describe_uncover() {
  return {.teaching =
              "Writes down that nothing is on a place any more.\n\n"
              "  rimeward uncover north-frame\n"
              "  North frame: written down, uncovered from 08:15",
          .parameters = kParameters,
          .writes = true,
          .answer = run};
}

}  // namespace rimeward
