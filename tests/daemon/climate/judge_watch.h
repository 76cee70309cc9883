// A judge with a book of what it decided, as the store would keep it, for its tests.

#pragma once

#include <map>
#include <string>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "daemon/climate/judge.h"
#include "sensors/iso_time.h"

namespace rimeward::testing {

class Watched {
 public:
  explicit Watched(Channel channel) : channel_(channel), judge_(channel) {}

  // Judges, enters what follows, and returns all that was said, as one text.
  std::string take(Instant time, Milli value, std::span<const Judge* const> others) {
    const Judge::Verdict verdict = judge_.judge(time, value, others);
    std::string text = fmt::format("{} {} {} {}\n", format_utc(time), value,
                                   static_cast<int>(verdict.doubt), verdict.why);
    for (const auto& [at, again] : verdict.believed_again) {
      text += fmt::format("again {} {}\n", format_utc(at), again);
      REQUIRE(doubted.at(at).first == Doubt::kJump);
      REQUIRE(doubted.at(at).second == again);
      doubted.erase(at);
      believed[at] = again;
    }
    for (const auto& [at, gone, doubt, why] : verdict.withdrawn) {
      text += fmt::format("gone {} {} {} {}\n", format_utc(at), gone,
                          static_cast<int>(doubt), why);
      REQUIRE(believed.at(at) == gone);
      REQUIRE(!why.empty());
      believed.erase(at);
      doubted[at] = {doubt, gone};
    }
    if (verdict.doubt == Doubt::kNone) {
      believed[time] = value;
    } else {
      REQUIRE(!verdict.why.empty());
      doubted[time] = {verdict.doubt, value};
    }
    return text;
  }
  void forget_before(Instant oldest) { judge_.forget_before(oldest); }

  // Kills the judge, and makes it anew from what the book holds since `oldest`.
  void restore(Instant oldest) {
    judge_ = Judge(channel_);
    for (auto one = believed.lower_bound(oldest); one != believed.end(); ++one)
      judge_.restore_believed(one->first, one->second);
    for (auto one = doubted.lower_bound(oldest); one != doubted.end(); ++one) {
      const auto& [doubt, value] = one->second;
      if (doubt == Doubt::kJump) judge_.restore_held(one->first, value);
      if (doubt == Doubt::kStuck) judge_.restore_stuck(one->first, value);
    }
  }

  std::size_t count(Doubt doubt) const {
    std::size_t count = 0;
    for (const auto& [at, why] : doubted)
      if (why.first == doubt) ++count;
    return count;
  }
  const Judge* judge() const { return &judge_; }

  std::map<Instant, Milli> believed;
  std::map<Instant, std::pair<Doubt, Milli>> doubted;

 private:
  Channel channel_;
  Judge judge_;
};

}  // namespace rimeward::testing
