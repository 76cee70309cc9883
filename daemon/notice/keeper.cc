#include "daemon/notice/keeper.h"

#include <algorithm>
#include <chrono>

#include <fmt/format.h>

#include "daemon/notice/words.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr auto kFirstRetry = 30s;
constexpr std::chrono::seconds kLongestRetry = 30min;
// How far back the store is asked for closed notices: more than a night can bring.
constexpr std::size_t kRemembered = 500;

// Doubles with each attempt, up to half an hour.
std::chrono::seconds back_off(int attempts) {
  const int doublings = std::min(attempts - 1, 10);
  return std::min(kFirstRetry * (1 << doublings), kLongestRetry);
}

bool is_for(const RouteSettings& route, const NoticeRow& notice) {
  const auto lists = [](const std::vector<std::string>& wanted, const std::string& one) {
    return wanted.empty() || std::ranges::find(wanted, one) != wanted.end();
  };
  // What is about the garden as a whole is about each of its places.
  const bool of_place = notice.place.empty() || lists(route.places, notice.place);
  return lists(route.kinds_for, notice.kind) && of_place;
}

// What a person should be told, apart from what only keeps a picture up to date.
bool is_told(std::string_view event) {
  return event == "raised" || event == "worse";
}

// A route that shows what stands now wants every change of it.
bool wants(const RouteSettings& route, std::string_view event) {
  return route.kind == "mqtt" || is_told(event);
}

}  // namespace

Keeper::Keeper(const Garden& garden, const Store& store, LogSink log)
    : garden_(garden), log_(std::move(log)) {
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
  for (OutboxRow& row : store.waiting_outbox())
    outbox_.emplace(row.id, std::move(row));
  last_notice_ = store.last_notice_id();
  last_outbox_ = store.last_outbox_id();
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
  }
  expire_outbox(situation.now, changes);
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
      open->title = finding->title;
      open->body = finding->body;
      open->layers = finding->layers;
      changes.notices[open->id] = *open;
      post(*open, "changed", finding->send_until, now, changes);
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
  notice = NoticeRow{.id = ++last_notice_,
                     .kind = std::string(rule.kind),
                     .subject = finding.subject,
                     .place = finding.place,
                     .state = NoticeState::kRaised,
                     .raised_at = now,
                     .revision = 0};
  matter.notice = notice.id;
  matter.settled_urgency.reset();
  tell(notice, finding, now, changes);
  if (rule.takes_over.empty()) return;
  if (NoticeRow* other = open_notice(Key{std::string(rule.takes_over), finding.place})) {
    close(*other, NoticeState::kOvertaken, now, changes);
    settle(*other, changes);
  }
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
  changes.notices[notice.id] = notice;
  withdraw(notice.id, changes);
  post(notice, notice.revision == 1 ? "raised" : "worse", finding.send_until, now,
       changes);
  urgent_ = true;
  log_(LogLevel::kInfo,
       fmt::format("notice {} ({} {}) {}: {}", notice.id, notice.kind, notice.subject,
                   notice.revision == 1 ? "raised" : "got worse", notice.title));
}

void Keeper::close(NoticeRow& notice, NoticeState state, Instant now, Changes& changes) {
  notice.state = state;
  notice.closed_at = now;
  changes.notices[notice.id] = notice;
  withdraw(notice.id, changes);
  post(notice, "over", std::nullopt, now, changes);
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
  for (auto& [key, notice] : notices_) {
    if (notice.id != id || !is_open(notice.state)) continue;
    close(notice, NoticeState::kDone, now, changes);
    settle(notice, changes);
    return &notice;
  }
  return nullptr;
}

void Keeper::covered(std::string_view place, int layers, Instant now, Changes& changes) {
  for (auto& [key, notice] : notices_) {
    const bool answered = notice.place == place && is_open(notice.state) &&
                          notice.layers > 0 && notice.layers <= layers;
    if (!answered) continue;
    close(notice, NoticeState::kDone, now, changes);
    settle(notice, changes);
  }
}

void Keeper::post(const NoticeRow& notice, std::string_view event,
                  std::optional<Instant> send_until, Instant now, Changes& changes) {
  for (std::size_t i = 0; i < garden_.routes.size(); ++i) {
    const RouteSettings& route = garden_.routes[i];
    if (!is_for(route, notice) || !wants(route, event)) continue;
    save({.id = ++last_outbox_,
          .notice = notice.id,
          .revision = notice.revision,
          .route = route_name(route, i),
          .event = std::string(event),
          .due_at = now,
          .ends_at = send_until},
         changes);
  }
}

// What was to be sent of the notice so far is out of date.
void Keeper::withdraw(NoticeId notice, Changes& changes) {
  for (auto [id, row] : std::map(outbox_)) {
    if (row.notice != notice) continue;
    row.state = OutboxState::kGivenUp;
    row.trouble = "overtaken by what came after it";
    save(row, changes);
  }
}

void Keeper::expire_outbox(Instant now, Changes& changes) {
  for (auto [id, row] : std::map(outbox_)) {
    if (!row.ends_at || now < *row.ends_at || under_way_.contains(id)) continue;
    row.state = OutboxState::kGivenUp;
    if (row.trouble.empty()) row.trouble = "past its end";
    save(row, changes);
    if (!is_told(row.event)) continue;
    log_(LogLevel::kError, fmt::format("notice {} never left by {}: {}", row.notice,
                                       row.route, row.trouble));
  }
}

void Keeper::save(OutboxRow row, Changes& changes) {
  changes.outbox[row.id] = row;
  if (row.state == OutboxState::kWaiting) {
    outbox_[row.id] = std::move(row);
  } else {
    outbox_.erase(row.id);
  }
}

std::vector<std::pair<OutboxRow, NoticeRow>> Keeper::take_due(Instant now) {
  std::vector<std::pair<OutboxRow, NoticeRow>> due;
  for (const auto& [id, row] : outbox_) {
    if (row.due_at > now || under_way_.contains(id)) continue;
    const auto notice = std::ranges::find(notices_, row.notice,
                                          [](const auto& one) { return one.second.id; });
    if (notice == notices_.end()) continue;
    due.emplace_back(row, notice->second);
    under_way_.insert(id);
  }
  return due;
}

void Keeper::delivered(const Delivered& delivered, Instant now, Changes& changes) {
  under_way_.erase(delivered.outbox);
  const auto found = outbox_.find(delivered.outbox);
  if (found == outbox_.end()) return;  // withdrawn meanwhile
  OutboxRow row = found->second;
  ++row.attempts;
  row.trouble = delivered.trouble;
  const auto notice = std::ranges::find(notices_, row.notice,
                                        [](const auto& one) { return one.second.id; });
  if (delivered.outcome == Delivered::Outcome::kDone) {
    row.state = OutboxState::kDelivered;
    row.delivered_at = now;
    if (notice != notices_.end() && notice->second.state == NoticeState::kRaised) {
      notice->second.state = NoticeState::kDelivered;
      changes.notices[row.notice] = notice->second;
    }
  } else {
    const bool again = delivered.outcome == Delivered::Outcome::kAgain;
    row.due_at = now + back_off(row.attempts);
    if (!again) row.state = OutboxState::kGivenUp;
    if (notice != notices_.end()) {
      ++notice->second.failures;
      changes.notices[row.notice] = notice->second;
    }
    const std::string then =
        again ? fmt::format("again in {}", span_text(back_off(row.attempts)))
              : "given up";
    log_(
        again ? LogLevel::kWarning : LogLevel::kError,
        fmt::format("notice {} by {}: {}; {}", row.notice, row.route, row.trouble, then));
  }
  save(row, changes);
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

bool Keeper::is_taken_over(const Rule& rule, const std::string& place) const {
  return std::ranges::any_of(all_rules(), [&](const Rule& other) {
    if (other.takes_over != rule.kind) return false;
    const NoticeRow* notice = newest(other.kind, place);
    return notice != nullptr && is_open(notice->state);
  });
}

}  // namespace rimeward
