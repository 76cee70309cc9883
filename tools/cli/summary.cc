#include "tools/cli/summary.h"

#include <string>
#include <vector>

#include <nlohmann/json.hpp>

#include "tools/cli/command_line.h"
#include "tools/cli/json_text.h"
#include "tools/cli/words.h"

namespace rimeward {

Reply summary(const Context& context) {
  const std::vector<NoticeRow> open = context.store.open_notices();
  if (context.around.format == Format::kJson) {
    nlohmann::ordered_json json = json_heading(context);
    json["pending"] = json_of(open, context);
    return said(json_text(json));
  }
  const Screen& screen = context.around.screen;
  std::string text =
      paragraphs(garden_heading(context.garden, context.zone, context.now), 0, screen);
  text += open.empty()
              ? "Nothing is pending.\n"
              : "Pending:\n" + pending_lines(open, context.zone, context.now, screen);
  return said(text + "\nAsk more with `rimeward VERB`:\n" + verb_list(screen));
}

}  // namespace rimeward
