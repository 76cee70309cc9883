#include "daemon/notice/notice_text.h"

namespace rimeward {

std::string notice_headline(const NoticeRow& notice, const Wording& wording) {
  if (!notice.deadline) return notice.title;
  return wording.say(Phrase::kHeadlineBy, fmt::arg("title", notice.title),
                     fmt::arg("time", wording.time(*notice.deadline)));
}

std::string told_headline(const NoticeRow& notice, std::string_view event,
                          const Wording& wording) {
  const std::string headline = notice_headline(notice, wording);
  const auto with = fmt::arg("headline", headline);
  if (event == "reminder") return wording.say(Phrase::kReminder, with);
  if (event == "worse") return wording.say(Phrase::kMorePressing, with);
  return headline;
}

}  // namespace rimeward
