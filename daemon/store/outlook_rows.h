// Outlooks and their stored rows, one into the other. Pure.

#pragma once

#include <string_view>

#include "daemon/climate/outlook.h"
#include "daemon/store/rows.h"

namespace rimeward {

OutlookRow row_of(const Outlook& outlook, std::string_view place);

// The outlook as far as its row tells it: enough for odds_below() and low_so_far(), not
// for learning.
Outlook outlook_of(const OutlookRow& row);

}  // namespace rimeward
