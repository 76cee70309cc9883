// What the courier is to carry, from what the outbox has due: the words, the JSON, and
// the chart of a Sunday letter. Pure but for what it reads of the store.

#pragma once

#include "daemon/base/garden.h"
#include "daemon/base/zone.h"
#include "daemon/delivery/route.h"
#include "daemon/notice/outbox.h"
#include "daemon/notice/wording.h"
#include "daemon/store/store.h"

namespace rimeward {

Dispatch dispatch_of(const Parcel& parcel, const Garden& garden, const Wording& wording,
                     const Store& store);

}  // namespace rimeward
