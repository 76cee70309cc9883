#include "daemon/notice/notice_text.h"

#include <fmt/format.h>

namespace rimeward {

std::string notice_headline(const NoticeRow& notice, const Zone& zone) {
  if (!notice.deadline) return notice.title;
  return fmt::format("{}, by {}", notice.title, zone.time_text(*notice.deadline));
}

std::string notice_text(const NoticeRow& notice, const Zone& zone) {
  return fmt::format("{}\n{}\n", notice_headline(notice, zone), notice.body);
}

}  // namespace rimeward
