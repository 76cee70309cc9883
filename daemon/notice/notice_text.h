// A notice as plain text: the twin of its JSON, for anything that shows words. Pure.

#pragma once

#include <string>

#include "daemon/base/zone.h"
#include "daemon/store/rows.h"

namespace rimeward {

// The title with its deadline, then the reason, each on a line:
//
//   Fleece the north frame tonight, by 19:20
//   2 layers, on while it still holds the day's warmth. Low -1.3 °C expected, ...
std::string notice_text(const NoticeRow& notice, const Zone& zone);

// The first of these lines alone.
std::string notice_headline(const NoticeRow& notice, const Zone& zone);

}  // namespace rimeward
