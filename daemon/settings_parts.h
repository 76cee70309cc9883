// What the readers of the settings file's tables share. Internal to daemon/settings*.cc.

#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/base/keys.h"

namespace rimeward {

// Puts what was found where it belongs and leaves the default where nothing was.
template <class Value, class Found>
void set(Value& value, std::optional<Found> found) {
  if (found) value = Value(*std::move(found));
}

// The views are good as long as the items.
template <class Items>
std::vector<std::string_view> ids_of(const Items& items) {
  std::vector<std::string_view> ids;
  ids.reserve(items.size());
  for (const auto& item : items) {
    ids.push_back(item.id);
  }
  return ids;
}

// The id, as it is in the file even when that is a mistake, so that what refers to it is
// not blamed as well; "" when there is none or it is taken.
std::string read_id(Keys& keys, const std::vector<std::string_view>& taken);

void check_place_is_known(Keys& keys, std::string_view key, std::string_view place,
                          const Garden& garden);

// Reads one [[sensor]] and adds it to the garden, whose broker and places are read.
void read_sensor(Keys keys, Garden& garden);

// Reads one [[route]] and adds it to the garden, whose places are read.
void read_route(Keys keys, Garden& garden);

}  // namespace rimeward
