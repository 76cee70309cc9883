#include "daemon/notice/deadline.h"

#include <algorithm>

#include <doctest/doctest.h>

#include "daemon/store/outlook_rows.h"
#include "tests/support/situation.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

const Instant kSunset = at("2026-04-12T18:03:00Z");
const Instant kIssued = at("2026-04-12T14:23:00Z");

// The course of an outlook of the afternoon, from that air to that low.
NightCourse course(double air, double low) {
  Evening evening;
  evening.forecast("2026-04-12T14:23:00Z", low, 1.5);
  evening.outlooks.back().air = Celsius{air};
  return course_of(evening.outlooks.back(), std::nullopt);
}

}  // namespace

TEST_CASE("a cover is to be on half an hour before sunset where nothing else presses") {
  const CoverDeadline deadline = cover_deadline({.sunset = kSunset}, kIssued, kIssued);
  CHECK(deadline.at == at("2026-04-12T17:30:00Z"));
  CHECK(deadline.reason == CoverReason::kDark);
}

TEST_CASE("the earliest of dusk, the gardener's evening and the lost warmth is the one") {
  CoverLimits limits{.sunset = kSunset,
                     .evening_by = at("2026-04-12T16:00:00Z"),
                     .warmth_gone = at("2026-04-12T17:00:00Z")};
  const CoverDeadline evening = cover_deadline(limits, kIssued, kIssued);
  CHECK(evening.at == at("2026-04-12T16:00:00Z"));
  CHECK(evening.reason == CoverReason::kEvening);
  limits.warmth_gone = at("2026-04-12T15:00:00Z");
  const CoverDeadline warmth = cover_deadline(limits, kIssued, kIssued);
  CHECK(warmth.at == at("2026-04-12T15:00:00Z"));
  CHECK(warmth.reason == CoverReason::kWarmth);
  limits = {.sunset = kSunset,
            .evening_by = at("2026-04-12T19:00:00Z"),
            .warmth_gone = at("2026-04-12T20:00:00Z")};
  CHECK(cover_deadline(limits, kIssued, kIssued).reason == CoverReason::kDark);
}

TEST_CASE("whoever is told has a quarter of an hour at the least, at any time") {
  const CoverLimits limits{.sunset = kSunset,
                           .evening_by = at("2026-04-12T16:00:00Z"),
                           .warmth_gone = at("2026-04-12T17:00:00Z")};
  for (Instant now = kIssued; now < kSunset + 3h; now += 1min) {
    const CoverDeadline deadline = cover_deadline(limits, kIssued, now);
    CAPTURE((now - kIssued).count());
    CHECK(deadline.at >= now + 15min);
    CHECK(deadline.at <= std::max(now + 50min, at("2026-04-12T17:30:00Z")));
  }
  CHECK(cover_deadline(limits, kIssued, at("2026-04-12T15:45:00Z")).reason ==
        CoverReason::kEvening);
  CHECK(cover_deadline(limits, kIssued, at("2026-04-12T15:46:00Z")).reason ==
        CoverReason::kWarmth);
  CHECK(cover_deadline(limits, kIssued, at("2026-04-12T16:46:00Z")).reason ==
        CoverReason::kDark);
  CHECK(cover_deadline(limits, kIssued, at("2026-04-12T17:16:00Z")).reason ==
        CoverReason::kLate);
}

TEST_CASE("after dusk a cover is due as soon as it can be, however late the evening") {
  const CoverLimits limits{.sunset = kSunset, .evening_by = at("2026-04-12T21:30:00Z")};
  const Instant issued = at("2026-04-12T20:03:00Z");
  const CoverDeadline deadline = cover_deadline(limits, issued, issued + 10min);
  CHECK(deadline.at == at("2026-04-12T20:50:00Z"));
  CHECK(deadline.reason == CoverReason::kLate);
}

TEST_CASE("nobody is hurried in the dark for the last of the warmth") {
  const CoverLimits limits{.sunset = kSunset, .warmth_gone = at("2026-04-12T20:25:00Z")};
  const Instant issued = at("2026-04-12T20:03:00Z");
  CHECK(cover_deadline(limits, issued, issued).reason == CoverReason::kLate);
}

TEST_CASE("the warmth is gone when the course comes within three degrees of keep-above") {
  // A sixth of the way from 5 to -1 is 0.903 of the fall before sunset, by 0.35 an hour.
  CHECK(warmth_gone(course(5, -1), Celsius{1}) == at("2026-04-12T15:25:00Z"));
  // A place that must keep warmer has lost it sooner: half the way, from 13 to 7.
  CHECK(warmth_gone(course(13, 1), Celsius{1}) > warmth_gone(course(13, 1), Celsius{4}));
}

TEST_CASE("there is no hurry where the warmth stays, or was gone from the beginning") {
  CHECK_FALSE(warmth_gone(course(12, 4.1), Celsius{1}));
  CHECK(warmth_gone(course(12, 3.9), Celsius{1}));
  CHECK_FALSE(warmth_gone(course(4.0, -2), Celsius{1}));
  CHECK(warmth_gone(course(4.1, -2), Celsius{1}));
}

TEST_CASE(
    "the morning begins when the gardener says, by the garden's clock, or at once") {
  const Evening garden;
  Situation situation = garden.look("2026-04-12T05:29:00Z");
  CHECK_FALSE(is_before_morning(situation));
  situation.hours.morning_from = 7h + 30min;
  CHECK(is_before_morning(situation));
  situation.now += 1min;
  CHECK_FALSE(is_before_morning(situation));
}
