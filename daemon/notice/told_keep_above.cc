#include "daemon/notice/told_keep_above.h"

#include "daemon/notice/keep_above.h"
#include "daemon/store/marks.h"
#include "sensors/channel.h"

namespace rimeward {

std::optional<Celsius> told_keep_above(const Store& store, const Place& place) {
  if (place.keep_above) return place.keep_above;
  const auto mark = store.mark(kMarkKeepAbove + place.id);
  if (!mark) return keep_above_of(place, {}).limit;
  if (*mark == kNoKeepAbove) return std::nullopt;
  return Celsius{from_milli(*mark)};
}

}  // namespace rimeward
