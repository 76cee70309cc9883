// A notice as plain text: the twin of its JSON, for anything that shows words. Pure.

#pragma once

#include <string>
#include <string_view>

#include "daemon/notice/wording.h"
#include "daemon/store/rows.h"

namespace rimeward {

// The title with its deadline: "Fleece the north frame tonight, by 19:20".
std::string notice_headline(const NoticeRow& notice, const Wording& wording);

// The same as it is told for an event of the outbox: a reminder says that it is one, and
// what is told again, that it has got worse.
std::string told_headline(const NoticeRow& notice, std::string_view event,
                          const Wording& wording);

}  // namespace rimeward
