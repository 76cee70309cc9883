#include "tools/cli/keep_above_marks.h"

#include "daemon/notice/told_keep_above.h"

namespace rimeward {

void take_keep_above(Garden& garden, const Store& store) {
  for (Place& place : garden.places)
    place.keep_above = told_keep_above(store, place);
}

}  // namespace rimeward
