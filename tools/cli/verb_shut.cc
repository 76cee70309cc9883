// `rimeward shut PLACE`: its lid, door and vents were shut.

#include "tools/cli/action.h"
#include "tools/cli/verb.h"

namespace rimeward {
namespace {

Reply run(const Context& context, const Arguments& arguments) {
  return write_down_of_place(context, arguments, "shut", "shut");
}

}  // namespace

VerbDetails describe_shut() {
  return {.teaching =
              "Writes down that a place's lid, door and vents are shut from now on. A "
              "notice that asked to shut them is closed.\n\n"
              "  rimeward shut north-frame\n"
              "  North frame: written down, shut from 16:20",
          .parameters = kOnlyPlace,
          .writes = true,
          .answer = run};
}

}  // namespace rimeward
