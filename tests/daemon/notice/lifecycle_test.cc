#include "daemon/notice/lifecycle.h"

#include <doctest/doctest.h>

using namespace rimeward;
using namespace std::chrono_literals;

namespace {

const Rule kRule{.kind = "cover",
                 .every = 1min,
                 .timing = {.raise_after = 10min, .clear_after = 30min},
                 .follows = true,
                 .takes_over = "",
                 .is_one = false,
                 .remind_before = 0min,
                 .find = nullptr};
const Instant kStart{std::chrono::sys_days{std::chrono::year{2026} / 4 / 12}};

Finding finding(bool holds, double urgency = 1.0) {
  Finding one;
  one.subject = one.place = "north-frame";
  one.holds = holds;
  one.urgency = urgency;
  one.title = "Fleece the north frame tonight";
  one.body = "why";
  return one;
}

NoticeRow open_notice(double urgency = 1.0) {
  NoticeRow row;
  row.id = 7;
  row.urgency = urgency;
  row.title = "Fleece the north frame tonight";
  row.body = "why";
  return row;
}

}  // namespace

TEST_CASE("a matter is raised only after it has stood for raise_after") {
  const Finding cold = finding(true);
  const Verdict first = next_step({}, nullptr, &cold, kRule, kStart);
  CHECK(first.step == Step::kNothing);
  CHECK(first.matter.holds_since == kStart);
  CHECK(next_step(first.matter, nullptr, &cold, kRule, kStart + 9min).step ==
        Step::kNothing);
  CHECK(next_step(first.matter, nullptr, &cold, kRule, kStart + 10min).step ==
        Step::kRaise);
}

TEST_CASE("a matter that goes before raise_after starts from nothing the next time") {
  const Finding cold = finding(true);
  const Verdict stood = next_step({}, nullptr, &cold, kRule, kStart);
  const Verdict gone = next_step(stood.matter, nullptr, nullptr, kRule, kStart + 5min);
  CHECK_FALSE(gone.matter.holds_since);
  const Verdict again = next_step(gone.matter, nullptr, &cold, kRule, kStart + 12min);
  CHECK(again.step == Step::kNothing);
}

TEST_CASE("a finding that only lingers raises nothing") {
  const Finding mild = finding(false);
  Verdict verdict = next_step({}, nullptr, &mild, kRule, kStart);
  verdict = next_step(verdict.matter, nullptr, &mild, kRule, kStart + 2h);
  CHECK(verdict.step == Step::kNothing);
}

TEST_CASE("an open notice outlives a dip shorter than clear_after, then lapses") {
  const NoticeRow open = open_notice();
  const Finding mild = finding(false);
  Verdict verdict = next_step({}, &open, nullptr, kRule, kStart);
  verdict = next_step(verdict.matter, &open, nullptr, kRule, kStart + 29min);
  CHECK(verdict.step == Step::kNothing);
  const Verdict back = next_step(verdict.matter, &open, &mild, kRule, kStart + 29min);
  CHECK_FALSE(back.matter.gone_since);
  CHECK(next_step(verdict.matter, &open, nullptr, kRule, kStart + 30min).step ==
        Step::kLapse);
}

TEST_CASE("an open notice speaks again only when it has got worse by a whole step") {
  const NoticeRow open = open_notice(1.0);
  const Finding little = finding(true, 1.9);
  const Finding worse = finding(true, 2.0);
  CHECK(next_step({}, &open, &little, kRule, kStart).step == Step::kNothing);
  CHECK(next_step({}, &open, &worse, kRule, kStart).step == Step::kSpeakAgain);
}

TEST_CASE("the words of an open notice follow quietly where the rule wants it") {
  const NoticeRow open = open_notice();
  Finding other = finding(true);
  other.body = "why, with newer numbers";
  CHECK(next_step({}, &open, &other, kRule, kStart).step == Step::kFollow);
  Rule still = kRule;
  still.follows = false;
  CHECK(next_step({}, &open, &other, still, kStart).step == Step::kNothing);
}

TEST_CASE("an open notice lapses at its end whatever its rule finds") {
  NoticeRow open = open_notice();
  open.ends_at = kStart + 1h;
  const Finding cold = finding(true, 9.0);
  CHECK(next_step({}, &open, &cold, kRule, kStart + 59min).step == Step::kSpeakAgain);
  CHECK(next_step({}, &open, &cold, kRule, kStart + 1h).step == Step::kLapse);
}

TEST_CASE("an answered matter is quiet until it is worse, or has gone and come back") {
  MatterRow answered;
  answered.settled_urgency = 1.0;
  const Finding same = finding(true, 1.5);
  const Finding worse = finding(true, 11.0);
  CHECK(next_step(answered, nullptr, &same, kRule, kStart + 5h).step == Step::kNothing);

  const Verdict stands = next_step(answered, nullptr, &worse, kRule, kStart);
  CHECK(next_step(stands.matter, nullptr, &worse, kRule, kStart + 10min).step ==
        Step::kRaise);

  Verdict gone = next_step(answered, nullptr, nullptr, kRule, kStart);
  CHECK(gone.matter.settled_urgency.has_value());
  gone = next_step(gone.matter, nullptr, nullptr, kRule, kStart + 30min);
  CHECK_FALSE(gone.matter.settled_urgency.has_value());
}
