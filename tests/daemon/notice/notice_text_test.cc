#include "daemon/notice/notice_text.h"

#include <doctest/doctest.h>

#include "tests/support/hochfeld.h"

using namespace rimeward;
using namespace rimeward::testing;

TEST_CASE("a headline has the deadline, and says why it is told again") {
  const Zone zone = berlin();
  NoticeRow notice;
  notice.title = "Fleece the north frame tonight";
  CHECK(notice_headline(notice, english(zone)) == "Fleece the north frame tonight");
  notice.deadline = at("2026-04-12T17:30:00Z");
  const std::string headline = "Fleece the north frame tonight, by 19:30";
  CHECK(told_headline(notice, "raised", english(zone)) == headline);
  CHECK(told_headline(notice, "reminder", english(zone)) == "Reminder: " + headline);
  CHECK(told_headline(notice, "worse", english(zone)) ==
        "More pressing now: " + headline);
  CHECK(told_headline(notice, "worse", german(zone)) ==
        "Jetzt dringender: Fleece the north frame tonight, bis 19:30 Uhr");
}
