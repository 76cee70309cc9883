// `rimeward open PLACE`: its lid, door or vents were opened.

#include "tools/cli/action.h"
#include "tools/cli/verb.h"

namespace rimeward {
namespace {

Reply run(const Context& context, const Arguments& arguments) {
  return write_down_of_place(context, arguments, "open", "open");
}

}  // namespace

VerbDetails describe_open() {
  return {.teaching =
              "Writes down that a place's lid, door or vents are open from now on. A "
              "notice that asked to open them is closed, and in the evening you are "
              "asked to shut what you opened, not what is shut.\n\n"
              "  rimeward open north-frame\n"
              "  North frame: written down, open from 10:40",
          .parameters = kOnlyPlace,
          .writes = true,
          .answer = run};
}

}  // namespace rimeward
