#include "daemon/notice/lifecycle.h"

namespace rimeward {
namespace {

// Growth of Finding::urgency that is worth telling a person.
constexpr double kWorse = 1.0;

Verdict step_of_open(MatterRow matter, const NoticeRow& open, const Finding* finding,
                     const Rule& rule, Instant now) {
  if (open.ends_at && now >= *open.ends_at) return {std::move(matter), Step::kLapse};
  if (finding == nullptr) {
    if (!matter.gone_since) matter.gone_since = now;
    const bool over = now - *matter.gone_since >= rule.timing.clear_after;
    return {std::move(matter), over ? Step::kLapse : Step::kNothing};
  }
  matter.gone_since.reset();
  if (finding->holds && is_worse(*finding, open.urgency)) {
    return {std::move(matter), Step::kSpeakAgain};
  }
  const bool changed = finding->title != open.title || finding->body != open.body;
  return {std::move(matter), rule.follows && changed ? Step::kFollow : Step::kNothing};
}

Verdict step_of_closed(MatterRow matter, const Finding* finding, const Rule& rule,
                       Instant now) {
  if (finding == nullptr) {
    matter.holds_since.reset();
    if (!matter.settled_urgency) return {std::move(matter), Step::kNothing};
    // Answered, and now gone: the next time it comes it is a new matter.
    if (!matter.gone_since) matter.gone_since = now;
    if (now - *matter.gone_since >= rule.timing.clear_after) {
      matter.settled_urgency.reset();
      matter.gone_since.reset();
    }
    return {std::move(matter), Step::kNothing};
  }
  matter.gone_since.reset();
  const bool answered =
      matter.settled_urgency && !is_worse(*finding, *matter.settled_urgency);
  if (!finding->holds || answered) {
    matter.holds_since.reset();
    return {std::move(matter), Step::kNothing};
  }
  if (!matter.holds_since) matter.holds_since = now;
  const bool stood = now - *matter.holds_since >= rule.timing.raise_after;
  return {std::move(matter), stood ? Step::kRaise : Step::kNothing};
}

}  // namespace

bool is_worse(const Finding& finding, double urgency) {
  return finding.urgency >= urgency + kWorse;
}

Verdict next_step(const MatterRow& was, const NoticeRow* open, const Finding* finding,
                  const Rule& rule, Instant now) {
  return open != nullptr ? step_of_open(was, *open, finding, rule, now)
                         : step_of_closed(was, finding, rule, now);
}

}  // namespace rimeward
