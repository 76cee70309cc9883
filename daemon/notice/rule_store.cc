// `store`: the store has taken no readings for some minutes, or is slow to. Nothing is
// lost as long as the board has power, and nobody would look before it has not.
//
// A commit that fails now and then is over with the next one. Once told, it is over when
// the store has taken readings for a while: a disk that is full fills up again. What is
// lost with the power grows by the day, so it is told anew each day.

#include <chrono>
#include <filesystem>
#include <string>

#include <fmt/format.h>

#include "daemon/notice/notice_kinds.h"
#include "daemon/notice/rule.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr std::chrono::seconds kPatience = 3min;
constexpr std::chrono::seconds kWellFor = 10min;

struct Phrases {
  Phrase what;
  Phrase remedy;
};

Phrases phrases_for(StoreFault fault) {
  switch (fault) {
    case StoreFault::kFull:
      return {Phrase::kStoreFull, Phrase::kStoreFullRemedy};
    case StoreFault::kNotWritable:
      return {Phrase::kStoreNotWritable, Phrase::kStoreNotWritableRemedy};
    case StoreFault::kMedium:
      return {Phrase::kStoreMedium, Phrase::kStoreMediumRemedy};
    case StoreFault::kDamaged:
    case StoreFault::kNoDatabase:
      return {Phrase::kStoreDamaged, Phrase::kStoreDamagedRemedy};
    case StoreFault::kHeld:
      return {Phrase::kStoreHeld, Phrase::kStoreHeldRemedy};
    case StoreFault::kUnreachable:
      return {Phrase::kStoreUnreachable, Phrase::kStoreUnreachableRemedy};
    case StoreFault::kSlow:
      return {Phrase::kStoreSlow, Phrase::kStoreSlowRemedy};
    case StoreFault::kMisplaced:
    case StoreFault::kOther:
      break;
  }
  return {Phrase::kStoreOther, Phrase::kStoreOtherRemedy};
}

bool is_slow(const StoreTrouble& trouble) {
  return trouble.fault == StoreFault::kSlow;
}

std::string body_of(const Situation& situation, const StoreTrouble& trouble) {
  const Wording& wording = situation.wording;
  const std::string folder =
      std::filesystem::path(situation.store_file).parent_path().string();
  const std::string since = wording.day_and_time(trouble.since);
  const auto when = fmt::arg("when", since);
  const auto [what, remedy] = phrases_for(trouble.fault);
  std::string body = wording.say(what, when);
  if (!is_slow(trouble)) body += " " + wording.say(Phrase::kStoreMeanwhile, when);
  return body + " " +
         wording.say(remedy, fmt::arg("file", situation.store_file),
                     fmt::arg("folder", folder));
}

// The words with which an open notice ends.
void say_over(const Situation& situation, const StoreTrouble& trouble, Finding& finding) {
  const Wording& wording = situation.wording;
  finding.title =
      wording.say(is_slow(trouble) ? Phrase::kStoreQuickTitle : Phrase::kStoreWellTitle);
  const std::string well_since = wording.day_and_time(*trouble.over_at);
  const std::string ill_since = wording.day_and_time(trouble.since);
  const auto when = fmt::arg("when", well_since);
  const auto since = fmt::arg("since", ill_since);
  if (is_slow(trouble)) {
    finding.body = wording.say(Phrase::kStoreQuick, when);
  } else if (trouble.stands_in) {
    finding.body = wording.say(Phrase::kStoreBack, when, since);
  } else if (trouble.lost_some) {
    finding.body = wording.say(Phrase::kStoreWellLess, when, since);
  } else {
    finding.body = wording.say(Phrase::kStoreWell, when);
  }
}

}  // namespace

std::vector<Finding> find_store(const Situation& situation) {
  if (!situation.store_trouble) return {};
  const StoreTrouble& trouble = *situation.store_trouble;
  if (trouble.over_at && situation.now - *trouble.over_at >= kWellFor) return {};
  Finding finding;
  finding.subject = kWholeGarden;
  if (trouble.over_at) {
    say_over(situation, trouble, finding);
    return {finding};
  }
  const auto lasts = situation.now - trouble.since;
  // What could not even be opened does not mend itself within minutes.
  finding.holds = trouble.stands_in || lasts >= kPatience;
  finding.urgency =
      static_cast<double>(std::chrono::floor<std::chrono::days>(lasts).count());
  if (trouble.fault == StoreFault::kDamaged) finding.urgency += 1;
  finding.title = situation.wording.say(is_slow(trouble) ? Phrase::kStoreSlowTitle
                                                         : Phrase::kStoreTitle);
  finding.body = body_of(situation, trouble);
  return {finding};
}

}  // namespace rimeward
