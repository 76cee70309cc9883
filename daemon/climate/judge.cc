#include "daemon/climate/judge.h"

#include <algorithm>
#include <cstdlib>
#include <utility>

#include <fmt/format.h>

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Index = JudgedReadings::Index;
using State = JudgedReading::State;

// No more than these are held in a row, nor for longer: then the newest is believed.
constexpr std::size_t kMostHeld = 3;
constexpr auto kLongestHeld = 1h;
// Stuck is what said the same so often and for so long, while another place moved by more
// than so many of its steps.
constexpr std::size_t kFewestStuck = 6;
constexpr auto kShortestStuck = 30min;
constexpr Milli kStuckSteps = 6;
// The step of a sensor that has never moved: no sensor's is larger.
constexpr Milli kLargestStep = 1'000;

std::string text_of_span(std::chrono::seconds span) {
  if (span < 2min) return fmt::format("{} s", span.count());
  if (span < 2h) return fmt::format("{} min", span / 1min);
  return fmt::format("{:.1f} h",
                     std::chrono::duration<double, std::ratio<3600>>(span).count());
}

// One reading's judgement, among those beside it in time.
class Judgement {
 public:
  Judgement(Channel channel, const JudgeLimits& limits, JudgedReadings& readings,
            Index index, std::span<const JudgedReadings* const> others)
      : unit_(traits(channel).unit),
        limits_(limits),
        readings_(readings),
        index_(index),
        others_(others) {}

  Judge::Verdict verdict();

 private:
  struct Change {
    Index index;
    State before;
    std::string why;
  };

  Milli noise();
  bool is_within(Milli change, const TimedLimit& limit, std::chrono::seconds span);
  bool rose_elsewhere(Index from, Index to) const;
  bool fits(Index earlier, Index later);
  bool stands_out(Index index);
  bool fits_between(Index index);
  bool agrees_with_held(Index index);
  bool waited_long(Index index) const;
  bool is_refuted_first(Index index);

  bool is_credible();
  std::pair<Index, Index> touched() const;
  void settle();
  bool continues_stuck() const;
  void find_stuck();
  std::string why_it_jumps();
  void change(Index index, State state, std::string why);

  std::string_view unit_;
  const JudgeLimits& limits_;
  JudgedReadings& readings_;
  Index index_;
  std::span<const JudgedReadings* const> others_;
  std::optional<Milli> noise_;
  std::vector<Change> changes_;
};

Milli Judgement::noise() {
  if (!noise_) noise_ = readings_.noise_before(index_);
  return *noise_;
}

bool Judgement::is_within(Milli change, const TimedLimit& limit,
                          std::chrono::seconds span) {
  const auto quiet = limit.at(span, 0);
  // Most are: then the noise need not be known.
  return !quiet || change <= *quiet || change <= *limit.at(span, noise());
}

// Whether another place went at least half as far the same way.
bool Judgement::rose_elsewhere(Index from, Index to) const {
  const Milli here = readings_[to].value - readings_[from].value;
  return std::ranges::any_of(others_, [&](const JudgedReadings* other) {
    const auto there = other->rise(readings_[from].time, readings_[to].time);
    return there && (here > 0 ? *there * 2 >= here : *there * 2 <= here);
  });
}

bool Judgement::fits(Index earlier, Index later) {
  const JudgedReading& from = readings_[earlier];
  const JudgedReading& to = readings_[later];
  const Milli step = std::abs(to.value - from.value);
  return is_within(step, limits_.step, to.time - from.time) ||
         rose_elsewhere(earlier, later);
}

// Whether it lies off both its neighbours to the same side, and further off the line
// between them than real weather does.
bool Judgement::stands_out(Index index) {
  const auto before = readings_.believed_before(index);
  const auto after = readings_.believed_after(index);
  if (!before || !after) return false;
  const JudgedReading& was = readings_[*before];
  const JudgedReading& is = readings_[index];
  const JudgedReading& became = readings_[*after];
  const Milli up = is.value - was.value;
  const Milli down = is.value - became.value;
  if ((up > 0) != (down > 0)) return false;
  const Milli line = was.value + (became.value - was.value) * (is.time - was.time) /
                                     (became.time - was.time);
  const Milli off =
      std::min(std::abs(is.value - line), 2 * std::min(std::abs(up), std::abs(down)));
  const auto span = std::max(is.time - was.time, became.time - is.time);
  return !is_within(off, limits_.excursion, span) && !rose_elsewhere(*before, index);
}

bool Judgement::fits_between(Index index) {
  const auto before = readings_.believed_before(index);
  const auto after = readings_.believed_after(index);
  const bool fits_one =
      (before && fits(*before, index)) || (after && fits(index, *after));
  return fits_one && !stands_out(index);
}

// Two readings beside each other that agree tell more than one that does not.
bool Judgement::agrees_with_held(Index index) {
  for (Index i = index; i > 0 && index - i < kMostHeld && readings_.is_held(i - 1); --i) {
    if (fits(i - 1, index)) return true;
  }
  for (Index i = index + 1;
       i < readings_.size() && i - index <= kMostHeld && readings_.is_held(i); ++i) {
    if (fits(index, i)) return true;
  }
  return false;
}

bool Judgement::waited_long(Index index) const {
  Index first = index;
  while (first > 0 && readings_.is_held(first - 1))
    --first;
  return index - first >= kMostHeld ||
         readings_[index].time - readings_[first].time > kLongestHeld;
}

// Whether it came first after a silence, and the next two agree that it was wrong.
bool Judgement::is_refuted_first(Index index) {
  if (readings_.believed_before(index)) return false;
  const auto next = readings_.believed_after(index);
  if (!next || fits(index, *next)) return false;
  const auto second = readings_.believed_after(*next);
  if (!second || !fits(*next, *second)) return false;
  const Milli value = readings_[*second].value;
  return std::abs(value - readings_[*next].value) <
         std::abs(value - readings_[index].value);
}

bool Judgement::is_credible() {
  const bool is_newest = !readings_.believed_after(index_);
  if (is_newest && !readings_.believed_before(index_)) return true;
  return fits_between(index_) || agrees_with_held(index_) ||
         (is_newest && waited_long(index_));
}

void Judgement::change(Index index, State state, std::string why) {
  const auto known = std::ranges::find(changes_, index, &Change::index);
  if (known == changes_.end()) {
    changes_.push_back({index, readings_[index].state, std::move(why)});
  } else {
    known->why = std::move(why);
  }
  readings_.set_state(index, state);
}

// The readings whose believed neighbours may change with the new one: up to the second
// believed one on either side, all within reach.
std::pair<Index, Index> Judgement::touched() const {
  constexpr int kBelieved = 2;
  const Instant time = readings_[index_].time;
  Index first = index_;
  for (int found = 0; found < kBelieved && first > 0 &&
                      time - readings_[first - 1].time <= JudgedReadings::kReach;
       found += readings_.is_believed(first) ? 1 : 0)
    --first;
  Index last = index_;
  for (int found = 0; found < kBelieved && last + 1 < readings_.size() &&
                      readings_[last + 1].time - time <= JudgedReadings::kReach;
       found += readings_.is_believed(last) ? 1 : 0)
    ++last;
  return {first, last};
}

// A newly believed reading decides anew about those beside it.
void Judgement::settle() {
  const auto [first, last] = touched();
  // What is withdrawn may have kept another from being believed.
  for (int round = 0; round < 2; ++round) {
    for (Index i = first; i <= last; ++i) {
      if (readings_.is_held(i) && fits_between(i)) change(i, State::kBelieved, "");
    }
    for (Index i = first; i <= last; ++i) {
      if (!readings_.is_believed(i) || (!stands_out(i) && !is_refuted_first(i))) continue;
      change(i, State::kHeld, "stands out from the readings before and after it");
    }
  }
}

bool Judgement::continues_stuck() const {
  const auto is_same = [this](std::optional<Index> other) {
    return other && readings_[*other].state == State::kStuck &&
           readings_[*other].value == readings_[index_].value;
  };
  return is_same(readings_.said_before(index_)) || is_same(readings_.said_after(index_));
}

// Takes the run of the same value that the reading belongs to back, where another place
// moved in its time.
void Judgement::find_stuck() {
  const Milli value = readings_[index_].value;
  if (!limits_.moved_elsewhere || value >= limits_.saturated || others_.empty()) return;
  Index first = index_;
  Index last = index_;
  std::size_t count = 1;
  for (auto i = readings_.said_before(first); i && readings_[*i].value == value;
       i = readings_.said_before(first), ++count)
    first = *i;
  for (auto i = readings_.said_after(last); i && readings_[*i].value == value;
       i = readings_.said_after(last), ++count)
    last = *i;
  const auto span = readings_[last].time - readings_[first].time;
  if (count < kFewestStuck || span < kShortestStuck) return;
  Milli moved = 0;
  for (const JudgedReadings* other : others_)
    moved = std::max(moved, other->moved(readings_[first].time, readings_[last].time));
  if (moved <= *limits_.moved_elsewhere) return;
  if (moved <= kStuckSteps * readings_.smallest_step().value_or(kLargestStep)) return;
  const std::string why =
      fmt::format("the same value for {} while another place moved by {:.1f} {}",
                  text_of_span(span), from_milli(moved), unit_);
  // A sensor that fails jumps to where it stays: then its first reading there is wrong.
  const auto before = readings_.believed_before(first);
  const bool began_wrong = before && !fits(*before, first);
  for (Index i = began_wrong ? first : first + 1; i <= last; ++i) {
    if (!readings_.is_held(i)) change(i, State::kStuck, why);
  }
}

std::string Judgement::why_it_jumps() {
  if (stands_out(index_)) return "stands out from the readings before and after it";
  const auto before = readings_.believed_before(index_);
  const Index other = before ? *before : *readings_.believed_after(index_);
  const auto span = std::chrono::abs(readings_[index_].time - readings_[other].time);
  return fmt::format(
      "a jump of {:.1f} {} in {}, where {:.1f} {} is the most",
      from_milli(std::abs(readings_[index_].value - readings_[other].value)), unit_,
      text_of_span(span), from_milli(limits_.step.at(span, noise()).value_or(0)), unit_);
}

Judge::Verdict Judgement::verdict() {
  Judge::Verdict verdict;
  if (continues_stuck()) {
    readings_.set_state(index_, State::kStuck);
    verdict.doubt = Doubt::kStuck;
    verdict.why = "still the value that it was stuck at";
    return verdict;
  }
  if (!is_credible()) {
    verdict.doubt = Doubt::kJump;
    verdict.why = why_it_jumps();
    return verdict;
  }
  readings_.set_state(index_, State::kBelieved);
  settle();
  if (readings_.is_believed(index_)) find_stuck();
  std::ranges::sort(changes_, {}, &Change::index);
  for (const auto& [index, was, why] : changes_) {
    const JudgedReading& now = readings_[index];
    if (now.state == was) continue;
    const Doubt doubt = now.state == State::kStuck  ? Doubt::kStuck
                        : now.state == State::kHeld ? Doubt::kJump
                                                    : Doubt::kNone;
    if (index == index_) {
      verdict.doubt = doubt;
      verdict.why = why;
      continue;
    }
    if (was == State::kHeld) verdict.believed_again.push_back({now.time, now.value});
    if (doubt != Doubt::kNone)
      verdict.withdrawn.push_back({now.time, now.value, doubt, why});
  }
  return verdict;
}

Judge::Verdict of_known_second(const JudgedReading& known, Milli value) {
  Judge::Verdict verdict;
  const bool is_repeat = known.value == value;
  verdict.doubt = is_repeat ? Doubt::kRepeat : Doubt::kSameSecond;
  verdict.why = is_repeat ? "said before, for the same second"
                          : fmt::format("a second value for this second; {} came first",
                                        from_milli(known.value));
  return verdict;
}

}  // namespace

Judge::Judge(Channel channel) : channel_(channel), limits_(judge_limits(channel)) {}

Judge::Verdict Judge::judge(Instant time, Milli value,
                            std::span<const Judge* const> others) {
  if (limits_ == nullptr) return {};
  // A spike that comes twice must not confirm itself.
  if (const auto known = readings_.at(time)) return of_known_second(*known, value);
  std::vector<const JudgedReadings*> elsewhere;
  elsewhere.reserve(others.size());
  for (const Judge* other : others)
    elsewhere.push_back(&other->readings_);
  const Index index = readings_.insert({time, value, State::kHeld});
  Judgement judgement(channel_, *limits_, readings_, index, elsewhere);
  Verdict verdict = judgement.verdict();
  readings_.trim();
  return verdict;
}

void Judge::restore(Instant time, Milli value, State state) {
  if (limits_ == nullptr) return;
  readings_.insert({time, value, state});
  readings_.trim();
}

void Judge::restore_believed(Instant time, Milli value) {
  restore(time, value, State::kBelieved);
}

void Judge::restore_held(Instant time, Milli value) {
  restore(time, value, State::kHeld);
}

void Judge::restore_stuck(Instant time, Milli value) {
  restore(time, value, State::kStuck);
}

void Judge::forget_before(Instant oldest) {
  readings_.forget_before(oldest);
}

}  // namespace rimeward
