#include "daemon/notice/outbox.h"

#include <algorithm>
#include <chrono>

#include <fmt/format.h>

#include "daemon/notice/notice_kinds.h"
#include "daemon/notice/sending.h"
#include "daemon/notice/words.h"

namespace rimeward {

Outbox::Outbox(const Garden& garden, const Zone& zone, const Store& store, LogSink log)
    : garden_(garden), zone_(zone), log_(std::move(log)), last_(store.last_outbox_id()) {
  for (OutboxRow& row : store.waiting_outbox())
    waiting_.emplace(row.id, std::move(row));
  for (RouteRow& row : store.routes())
    routes_.emplace(row.name, std::move(row));
  for (MuteRow& row : store.mutes())
    mutes_.emplace(std::pair(row.kind, row.place), std::move(row));
}

std::optional<Instant> Outbox::post(const NoticeRow& notice, std::string_view event,
                                    std::optional<Instant> send_until, Instant now,
                                    Changes& changes) {
  std::optional<Instant> first;
  for (std::size_t i = 0; i < garden_.routes.size(); ++i) {
    const RouteSettings& route = garden_.routes[i];
    const std::string name = route_name(route, i);
    if (!is_for(route, notice, event)) continue;
    // That a route fails cannot be told by it.
    if (notice.kind == kRoute && notice.subject == name) continue;
    const bool waits = std::ranges::any_of(waiting_, [&](const auto& one) {
      return one.second.notice == notice.id && one.second.route == name;
    });
    // Whoever has not been told yet needs no reminder.
    if (event == "reminder" && waits) continue;
    const Instant due = leaves(route, notice, event, send_until, now);
    first = first ? std::min(*first, due) : due;
    save({.id = ++last_,
          .notice = notice.id,
          .revision = notice.revision,
          .route = name,
          .event = std::string(event),
          .due_at = due,
          .ends_at = send_until},
         changes);
  }
  return first;
}

Instant Outbox::leaves(const RouteSettings& route, const NoticeRow& notice,
                       std::string_view event, std::optional<Instant> send_until,
                       Instant now) const {
  if (event == "over") return now;
  return leaves_at(route, notice, send_until, after_mute(notice, now), zone_);
}

Instant Outbox::after_mute(const NoticeRow& notice, Instant now) const {
  for (const std::string& place : {std::string{}, notice.place}) {
    const auto mute = mutes_.find({notice.kind, place});
    if (mute != mutes_.end()) now = std::max(now, mute->second.until);
  }
  return now;
}

void Outbox::withdraw(NoticeId notice, Changes& changes) {
  for (const auto& [id, row] : std::map(waiting_)) {
    if (row.notice == notice) give_up(row, "overtaken by what came after it", changes);
  }
}

void Outbox::expire(Instant now, const std::set<NoticeId>& known, Changes& changes) {
  for (const auto& [id, row] : std::map(waiting_)) {
    const auto way = under_way_.find(row.route);
    if (way != under_way_.end() && way->second.contains(id)) continue;
    if (!known.contains(row.notice)) {
      give_up(row, "overtaken by what came after it", changes);
    } else if (route_named(row.route) == nullptr) {
      give_up(row, "no such route in the settings any more", changes);
    } else if (row.ends_at && now >= *row.ends_at) {
      const std::string why = row.trouble.empty() ? "past its end" : row.trouble;
      give_up(row, why, changes);
      if (!is_told(row.event)) continue;
      log_(LogLevel::kError,
           fmt::format("notice {} never left by {}: {}", row.notice, row.route, why));
    }
  }
}

void Outbox::mute(const MuteRow& mute, std::span<const NoticeRow* const> concerned,
                  Instant now, Changes& changes) {
  const std::pair key(mute.kind, mute.place);
  mutes_.insert_or_assign(key, mute);
  changes.mutes.insert_or_assign(key, mute);
  for (const NoticeRow* notice : concerned) {
    for (const auto& [id, waits] : std::map(waiting_)) {
      const RouteSettings* route = route_named(waits.route);
      if (waits.notice != notice->id || waits.attempts > 0 || route == nullptr) continue;
      OutboxRow row = waits;
      row.due_at = leaves(*route, *notice, row.event, row.ends_at, now);
      save(std::move(row), changes);
    }
  }
}

bool Outbox::is_ready(const OutboxRow& row, Instant now,
                      const FindNotice& notice_of) const {
  const bool is_time = row.due_at <= now && (!row.ends_at || now < *row.ends_at);
  return is_time && !under_way_.contains(row.route) &&
         route_named(row.route) != nullptr && notice_of(row.notice) != nullptr;
}

bool Outbox::has_due(Instant now, const FindNotice& notice_of) const {
  return std::ranges::any_of(
      waiting_, [&](const auto& one) { return is_ready(one.second, now, notice_of); });
}

std::vector<Parcel> Outbox::take_due(Instant now, const FindNotice& notice_of) {
  std::map<std::string, Parcel> parcels;
  const auto take = [&](bool dangers) {
    for (const auto& [id, row] : waiting_) {
      if (!is_ready(row, now, notice_of)) continue;
      const NoticeRow& notice = *notice_of(row.notice);
      if ((notice.kind == kDanger) != dangers) continue;
      Parcel& parcel = parcels[row.route];
      const bool is_digest = !dangers && route_named(row.route)->digest;
      if (!parcel.items.empty() && !is_digest) continue;
      parcel.route = row.route;
      parcel.items.push_back({row, notice});
    }
    for (const auto& [name, parcel] : parcels) {
      for (const Parcel::Item& item : parcel.items)
        under_way_[name].insert(item.row.id);
    }
  };
  take(true);
  take(false);
  std::vector<Parcel> taken;
  for (auto& [name, parcel] : parcels)
    taken.push_back(std::move(parcel));
  return taken;
}

std::vector<OutboxRow> Outbox::delivered(const Delivered& delivered, Instant now,
                                         Changes& changes) {
  under_way_.erase(delivered.route);
  note_outcome(delivered, now, changes);
  std::vector<OutboxRow> told;
  for (const std::int64_t id : delivered.outbox) {
    const auto found = waiting_.find(id);
    if (found == waiting_.end()) continue;  // withdrawn meanwhile
    OutboxRow row = found->second;
    ++row.attempts;
    row.trouble = delivered.trouble;
    if (delivered.outcome == Delivered::Outcome::kDone) {
      row.state = OutboxState::kDelivered;
      row.delivered_at = now;
      if (!row.trouble.empty()) {
        log_(LogLevel::kWarning,
             fmt::format("notice {} by {}: {}", row.notice, row.route, row.trouble));
      }
    } else if (delivered.outcome == Delivered::Outcome::kAgain) {
      row.due_at = now + back_off(row.id, row.attempts);
      log_(LogLevel::kWarning,
           fmt::format("notice {} by {}: {}; again in {}", row.notice, row.route,
                       row.trouble, span_text(row.due_at - now)));
    } else {
      row.state = OutboxState::kGivenUp;
      log_(LogLevel::kError, fmt::format("notice {} by {}: {}; given up", row.notice,
                                         row.route, row.trouble));
    }
    told.push_back(row);
    save(std::move(row), changes);
  }
  return told;
}

void Outbox::note_outcome(const Delivered& delivered, Instant now, Changes& changes) {
  RouteRow& row = routes_[delivered.route];
  row.name = delivered.route;
  row.trouble = delivered.trouble;
  if (delivered.outcome == Delivered::Outcome::kDone) {
    row.failing_since.reset();
    row.delivered_at = now;
  } else if (!row.failing_since) {
    row.failing_since = now;
  }
  changes.routes[row.name] = row;
}

std::vector<RouteView> Outbox::failing() const {
  std::vector<RouteView> views;
  for (const auto& [name, row] : routes_) {
    if (!row.failing_since || route_named(name) == nullptr) continue;
    const bool is_tried = std::ranges::any_of(waiting_, [&](const auto& one) {
      return one.second.route == name && one.second.attempts > 0;
    });
    views.push_back({.name = name,
                     .failing_since = *row.failing_since,
                     .trouble = row.trouble,
                     .delivered_at = row.delivered_at,
                     .is_tried = is_tried});
  }
  return views;
}

const RouteSettings* Outbox::route_named(std::string_view name) const {
  for (std::size_t i = 0; i < garden_.routes.size(); ++i) {
    if (route_name(garden_.routes[i], i) == name) return &garden_.routes[i];
  }
  return nullptr;
}

void Outbox::give_up(OutboxRow row, std::string_view why, Changes& changes) {
  row.state = OutboxState::kGivenUp;
  row.trouble = why;
  save(std::move(row), changes);
}

void Outbox::save(OutboxRow row, Changes& changes) {
  changes.outbox[row.id] = row;
  if (row.state == OutboxState::kWaiting) {
    waiting_[row.id] = std::move(row);
  } else {
    waiting_.erase(row.id);
  }
}

}  // namespace rimeward
