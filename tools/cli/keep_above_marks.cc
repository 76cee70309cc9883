#include "tools/cli/keep_above_marks.h"

#include "daemon/notice/keep_above.h"
#include "daemon/store/marks.h"
#include "sensors/channel.h"

namespace rimeward {

void take_keep_above(Garden& garden, const Store& store) {
  for (Place& place : garden.places) {
    if (place.keep_above) continue;
    const auto mark = store.mark(kMarkKeepAbove + place.id);
    if (!mark) {
      place.keep_above = keep_above_of(place, {}).limit;
    } else if (*mark != kNoKeepAbove) {
      place.keep_above = Celsius{from_milli(*mark)};
    }
  }
}

}  // namespace rimeward
