// The keeper of notices: runs the rules, leads each matter through its life, and fills
// the outbox. Owns what is open; all of it is in the store too, so that a new keeper goes
// on where the last one was killed. Not thread-safe.

#pragma once

#include <map>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/base/log.h"
#include "daemon/notice/lifecycle.h"
#include "daemon/notice/outbox.h"
#include "daemon/notice/rule.h"
#include "daemon/store/store.h"

namespace rimeward {

class Keeper {
 public:
  // Goes on from what the store holds. `garden` and `zone` must outlive the keeper.
  Keeper(const Garden& garden, const Zone& zone, const Store& store, LogSink log);

  // Looks at the garden once, by every rule that is to look then. Rows that changed go
  // into `changes`.
  void look(const Situation& situation, Changes& changes);

  // Tells what asks for nothing: a letter. It is over as soon as it is told.
  void announce(std::string_view kind, std::string title, std::string body,
                Instant send_until, Instant now, Changes& changes);

  // The gardener did what the notice asked, or says so. Null, and nothing changed, when
  // no notice of that id is open.
  const NoticeRow* mark_done(NoticeId id, Instant now, Changes& changes);
  // What was done in a place answers its notices that ask for it: uncover, open, shut,
  // water; cover: those that ask for no more layers than are on now.
  void answered(std::string_view verb, std::string_view place, int layers, Instant now,
                Changes& changes);
  // Nobody is told of that kind until then.
  void mute(const MuteRow& mute, Instant now, Changes& changes);

  void delivered(const Delivered& delivered, Instant now, Changes& changes);

  // What is to be sent now. To be called only when all rows are committed: what nobody
  // could prove was raised is never sent.
  std::vector<Parcel> take_due(Instant now);
  bool has_due(Instant now) const;

  // The routes that fail.
  std::vector<RouteView> failing_routes() const { return outbox_.failing(); }

  // The newest notice of a kind about a subject, open or closed; null: none.
  const NoticeRow* newest(std::string_view kind, std::string_view subject) const;

  // True when something was raised, told again or closed since the last call.
  bool take_urgency() { return std::exchange(urgent_, false); }

 private:
  using Key = std::pair<std::string, std::string>;  // kind, subject

  void step(const Rule& rule, const std::string& subject, const Finding* finding,
            Instant now, Changes& changes);
  void raise(const Rule& rule, const Finding& finding, MatterRow& matter, Instant now,
             Changes& changes);
  void take_up_again(NoticeRow& notice, const Finding& finding, Instant now,
                     Changes& changes);
  void tell(NoticeRow& notice, const Finding& finding, Instant now, Changes& changes);
  void follow(NoticeRow& notice, const Finding& finding, Instant now, Changes& changes);
  void remind(const Rule& rule, Instant now, Changes& changes);
  void close(NoticeRow& notice, NoticeState state, Instant now, Changes& changes);
  void settle(const NoticeRow& notice, Changes& changes);
  bool is_taken_over(const Rule& rule, const std::string& place) const;
  NoticeRow* open_notice(const Key& key);
  NoticeRow* notice_of(NoticeId id);
  const NoticeRow* notice_of(NoticeId id) const;
  std::set<NoticeId> known() const;

  LogSink log_;
  std::map<Key, NoticeRow> notices_;  // the newest of each
  std::map<Key, MatterRow> matters_;  // only those that stand, stood, or are settled
  Outbox outbox_;
  NoticeId last_notice_ = 0;
  bool urgent_ = false;
};

}  // namespace rimeward
