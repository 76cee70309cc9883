// `rimeward uncover PLACE`: the fleece was taken off.

#include "tools/cli/action.h"
#include "tools/cli/verb.h"

namespace rimeward {
namespace {

Reply run(const Context& context, const Arguments& arguments) {
  return write_down_of_place(context, arguments, "uncover", "uncovered");
}

}  // namespace

VerbDetails describe_uncover() {
  return {.teaching =
              "Writes down that nothing is on a place any more. A notice that asked to "
              "take it off is closed.\n\n"
              "  rimeward uncover north-frame\n"
              "  North frame: written down, uncovered from 08:15",
          .parameters = kOnlyPlace,
          .writes = true,
          .answer = run};
}

}  // namespace rimeward
