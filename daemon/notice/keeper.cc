#include "daemon/notice/keeper.h"

#include <algorithm>
#include <array>
#include <chrono>

#include <fmt/format.h>

#include "daemon/notice/notice_kinds.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// How far back the store is asked for closed notices: more than a night can bring.
constexpr std::size_t kRemembered = 500;
// What was told this lately needs no reminder.
constexpr auto kLately = 45min;

// Which notices of a place are answered by what was done there.
struct Answer {
  std::string_view verb;
  std::string_view kind;
};
constexpr std::array<Answer, 5> kAnswers{{{"uncover", "uncover"},
                                          {"open", "vent"},
                                          {"open", "damp"},
                                          {"shut", "shut"},
                                          {"water", "dry"}}};

bool is_answer(std::string_view verb, int layers, const NoticeRow& notice) {
  if (verb == "cover") return notice.layers > 0 && notice.layers <= layers;
  return std::ranges::any_of(kAnswers, [&](const Answer& answer) {
    return answer.verb == verb && answer.kind == notice.kind;
  });
}

}  // namespace

Keeper::Keeper(const Garden& garden, const Zone& zone, const Store& store, LogSink log)
    : log_(log), outbox_(garden, zone, store, std::move(log)) {
  // Newest first, so the first of a key is the one to keep.
  for (NoticeRow& row : store.latest_notices(kRemembered)) {
    notices_.try_emplace(Key{row.kind, row.subject}, std::move(row));
  }
  for (NoticeRow& row : store.open_notices()) {
    notices_.insert_or_assign(Key{row.kind, row.subject}, std::move(row));
  }
  for (MatterRow& row : store.matters()) {
    matters_.emplace(Key{row.kind, row.subject}, std::move(row));
  }
  last_notice_ = store.last_notice_id();
}

void Keeper::look(const Situation& situation, Changes& changes) {
  for (const Rule& rule : all_rules()) {
    if (situation.now.time_since_epoch() % rule.every != std::chrono::seconds{0})
      continue;
    std::map<std::string, Finding> findings;
    for (Finding& finding : rule.find(situation)) {
      findings.emplace(finding.subject, std::move(finding));
    }
    std::set<std::string> subjects;
    for (const auto& [subject, finding] : findings)
      subjects.insert(subject);
    for (const auto& [key, matter] : matters_) {
      if (key.first == rule.kind) subjects.insert(key.second);
    }
    for (const std::string& subject : subjects) {
      const auto found = findings.find(subject);
      const Finding* finding = found == findings.end() ? nullptr : &found->second;
      step(rule, subject, finding, situation.now, changes);
    }
    remind(rule, situation.now, changes);
  }
  outbox_.expire(situation.now, known(), changes);
}

void Keeper::step(const Rule& rule, const std::string& subject, const Finding* finding,
                  Instant now, Changes& changes) {
  const Key key{std::string(rule.kind), subject};
  MatterRow was{.kind = key.first, .subject = subject};
  if (const auto found = matters_.find(key); found != matters_.end()) was = found->second;
  NoticeRow* open = open_notice(key);
  Verdict verdict = next_step(was, open, finding, rule, now);
  switch (verdict.step) {
    case Step::kNothing:
      break;
    case Step::kRaise:
      if (!is_taken_over(rule, finding->place)) {
        raise(rule, *finding, verdict.matter, now, changes);
      }
      break;
    case Step::kSpeakAgain:
      tell(*open, *finding, now, changes);
      break;
    case Step::kFollow:
      follow(*open, *finding, now, changes);
      break;
    case Step::kLapse:
      close(*open, NoticeState::kLapsed, now, changes);
      verdict.matter = {.kind = key.first, .subject = subject};
      break;
  }
  const MatterRow& next = verdict.matter;
  const bool idle =
      !next.holds_since && !next.gone_since && next.notice == 0 && !next.settled_urgency;
  if (idle) {
    if (matters_.erase(key) == 0) return;
  } else {
    if (matters_.contains(key) && next == was) return;
    matters_[key] = next;
  }
  changes.matters[key] = next;
}

void Keeper::raise(const Rule& rule, const Finding& finding, MatterRow& matter,
                   Instant now, Changes& changes) {
  NoticeRow& notice = notices_[Key{std::string(rule.kind), finding.subject}];
  if (rule.is_one && notice.ends_at && now < *notice.ends_at) {
    take_up_again(notice, finding, now, changes);
  } else {
    outbox_.withdraw(notice.id, changes);
    notice = NoticeRow{.id = ++last_notice_,
                       .kind = std::string(rule.kind),
                       .subject = finding.subject,
                       .place = finding.place,
                       .state = NoticeState::kRaised,
                       .raised_at = now,
                       .revision = 0};
    tell(notice, finding, now, changes);
  }
  matter.notice = notice.id;
  matter.settled_urgency.reset();
  if (rule.takes_over.empty()) return;
  if (NoticeRow* other = open_notice(Key{std::string(rule.takes_over), finding.place})) {
    close(*other, NoticeState::kOvertaken, now, changes);
    settle(*other, changes);
  }
}

// Whoever was told it once is told again only what is worse.
void Keeper::take_up_again(NoticeRow& notice, const Finding& finding, Instant now,
                           Changes& changes) {
  notice.state = NoticeState::kRaised;
  notice.closed_at.reset();
  if (is_worse(finding, notice.urgency)) {
    tell(notice, finding, now, changes);
  } else {
    follow(notice, finding, now, changes);
    urgent_ = true;
  }
}

void Keeper::follow(NoticeRow& notice, const Finding& finding, Instant now,
                    Changes& changes) {
  notice.title = finding.title;
  notice.body = finding.body;
  notice.layers = finding.layers;
  changes.notices[notice.id] = notice;
  outbox_.post(notice, "changed", finding.send_until, now, changes);
}

// Once, to those who were told and have not answered.
void Keeper::remind(const Rule& rule, Instant now, Changes& changes) {
  if (rule.remind_before == 0min) return;
  for (auto& [key, notice] : notices_) {
    const bool is_time = key.first == rule.kind && is_open(notice.state) &&
                         !notice.reminded_at && notice.deadline &&
                         now >= *notice.deadline - rule.remind_before &&
                         now < *notice.deadline && now >= notice.spoke_at + kLately;
    if (!is_time) continue;
    notice.reminded_at = now;
    changes.notices[notice.id] = notice;
    outbox_.post(notice, "reminder", notice.deadline, now, changes);
    urgent_ = true;
  }
}

void Keeper::announce(std::string_view kind, std::string title, std::string body,
                      Instant send_until, Instant now, Changes& changes) {
  NoticeRow& notice = notices_[Key{std::string(kind), kWholeGarden}];
  outbox_.withdraw(notice.id, changes);
  notice = NoticeRow{.id = ++last_notice_,
                     .kind = std::string(kind),
                     .subject = kWholeGarden,
                     .state = NoticeState::kTold,
                     .raised_at = now,
                     .spoke_at = now,
                     .ends_at = send_until,
                     .closed_at = now,
                     .title = std::move(title),
                     .body = std::move(body)};
  notice.leaves_at = outbox_.post(notice, "letter", send_until, now, changes);
  changes.notices[notice.id] = notice;
  urgent_ = true;
  log_(LogLevel::kInfo,
       fmt::format("letter {} ({}): {}", notice.id, notice.kind, notice.title));
}

// First or again: the row takes over all that the finding says.
void Keeper::tell(NoticeRow& notice, const Finding& finding, Instant now,
                  Changes& changes) {
  ++notice.revision;
  notice.spoke_at = now;
  notice.deadline = finding.deadline;
  notice.ends_at = finding.ends_at;
  notice.urgency = finding.urgency;
  notice.layers = finding.layers;
  notice.title = finding.title;
  notice.body = finding.body;
  notice.failures = 0;
  notice.delivered_at.reset();
  outbox_.withdraw(notice.id, changes);
  notice.leaves_at = outbox_.post(notice, notice.revision == 1 ? "raised" : "worse",
                                  finding.send_until, now, changes);
  changes.notices[notice.id] = notice;
  urgent_ = true;
  log_(LogLevel::kInfo,
       fmt::format("notice {} ({} {}) {}: {}", notice.id, notice.kind, notice.subject,
                   notice.revision == 1 ? "raised" : "got worse", notice.title));
}

void Keeper::close(NoticeRow& notice, NoticeState state, Instant now, Changes& changes) {
  notice.state = state;
  notice.closed_at = now;
  changes.notices[notice.id] = notice;
  outbox_.withdraw(notice.id, changes);
  outbox_.post(notice, "over", std::nullopt, now, changes);
  urgent_ = true;
}

// Quiet from here on, until the matter has gone or is worse.
void Keeper::settle(const NoticeRow& notice, Changes& changes) {
  const Key key{notice.kind, notice.subject};
  matters_[key] = MatterRow{
      .kind = notice.kind, .subject = notice.subject, .settled_urgency = notice.urgency};
  changes.matters[key] = matters_[key];
}

const NoticeRow* Keeper::mark_done(NoticeId id, Instant now, Changes& changes) {
  NoticeRow* notice = notice_of(id);
  if (notice == nullptr || !is_open(notice->state)) return nullptr;
  close(*notice, NoticeState::kDone, now, changes);
  settle(*notice, changes);
  return notice;
}

void Keeper::answered(std::string_view verb, std::string_view place, int layers,
                      Instant now, Changes& changes) {
  for (auto& [key, notice] : notices_) {
    if (notice.place != place || !is_open(notice.state)) continue;
    if (!is_answer(verb, layers, notice)) continue;
    close(notice, NoticeState::kDone, now, changes);
    settle(notice, changes);
  }
}

void Keeper::mute(const MuteRow& mute, Instant now, Changes& changes) {
  std::vector<const NoticeRow*> concerned;
  for (const auto& [key, notice] : notices_) {
    const bool of_place = mute.place.empty() || mute.place == notice.place;
    if (key.first == mute.kind && of_place) concerned.push_back(&notice);
  }
  outbox_.mute(mute, concerned, now, changes);
}

void Keeper::delivered(const Delivered& delivered, Instant now, Changes& changes) {
  for (const OutboxRow& row : outbox_.delivered(delivered, now, changes)) {
    NoticeRow* notice = notice_of(row.notice);
    if (notice == nullptr) continue;
    if (row.state != OutboxState::kDelivered) {
      ++notice->failures;
    } else {
      if (notice->state == NoticeState::kRaised) notice->state = NoticeState::kDelivered;
      if (row.revision == notice->revision && !notice->delivered_at) {
        notice->delivered_at = now;
      }
    }
    changes.notices[notice->id] = *notice;
  }
}

bool Keeper::has_due(Instant now) const {
  return outbox_.has_due(now, [this](NoticeId id) { return notice_of(id); });
}

std::vector<Parcel> Keeper::take_due(Instant now) {
  return outbox_.take_due(now, [this](NoticeId id) { return notice_of(id); });
}

const NoticeRow* Keeper::newest(std::string_view kind, std::string_view subject) const {
  const auto found = notices_.find(Key{kind, subject});
  return found == notices_.end() ? nullptr : &found->second;
}

NoticeRow* Keeper::open_notice(const Key& key) {
  const auto found = notices_.find(key);
  if (found == notices_.end() || !is_open(found->second.state)) return nullptr;
  return &found->second;
}

const NoticeRow* Keeper::notice_of(NoticeId id) const {
  const auto found =
      std::ranges::find(notices_, id, [](const auto& one) { return one.second.id; });
  return found == notices_.end() ? nullptr : &found->second;
}

NoticeRow* Keeper::notice_of(NoticeId id) {
  return const_cast<NoticeRow*>(std::as_const(*this).notice_of(id));
}

std::set<NoticeId> Keeper::known() const {
  std::set<NoticeId> ids;
  for (const auto& [key, notice] : notices_)
    ids.insert(notice.id);
  return ids;
}

bool Keeper::is_taken_over(const Rule& rule, const std::string& place) const {
  return std::ranges::any_of(all_rules(), [&](const Rule& other) {
    if (other.takes_over != rule.kind) return false;
    const NoticeRow* notice = newest(other.kind, place);
    return notice != nullptr && is_open(notice->state);
  });
}

}  // namespace rimeward
