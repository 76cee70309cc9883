// Outlooks, covers and their stored rows, one into the other. Pure.

#pragma once

#include <optional>
#include <span>
#include <string_view>

#include "daemon/climate/cover.h"
#include "daemon/climate/night_course.h"
#include "daemon/climate/outlook.h"
#include "daemon/store/rows.h"

namespace rimeward {

OutlookRow row_of(const Outlook& outlook, std::string_view place);

// The outlook as far as its row tells it: enough for odds_below() and low_so_far(), not
// for learning.
Outlook outlook_of(const OutlookRow& row);

// The row's outlook brought up to what was read since. A row from before the air at the
// issue was kept is only held to the lowest reading.
NightCourse course_of(const OutlookRow& row, const std::optional<ReadSince>& read);

// The rows of one place, oldest first.
CoverHistory history_of(std::span<const CoverRow> rows);

// The night of a row, without its noon.
Night night_of(const OutlookRow& row);

}  // namespace rimeward
