#include "daemon/settings_parts.h"

#include <algorithm>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "sensors/escape.h"

namespace rimeward {

std::string read_id(Keys& keys, const std::vector<std::string_view>& taken) {
  keys.require("id", "give it one, such as id = \"north-frame\"");
  std::string id = keys.text("id").value_or("");
  if (id.empty()) return "";
  if (!is_id(id)) {
    keys.mistake("id", fmt::format("\"{}\" is no id; use lower-case letters, digits and "
                                   "hyphens between them, at most 64",
                                   escaped(id)));
  }
  if (std::ranges::find(taken, id) != taken.end()) {
    keys.mistake("id",
                 fmt::format("\"{}\" stands twice; give each its own", escaped(id)));
    return "";
  }
  return id;
}

void check_place_is_known(Keys& keys, std::string_view key, std::string_view place,
                          const Garden& garden) {
  const auto ids = ids_of(garden.places);
  if (std::ranges::find(ids, place) != ids.end()) return;
  keys.mistake(key, fmt::format("no place has the id \"{}\"{}", escaped(place),
                                did_you_mean(place, ids)));
}

}  // namespace rimeward
