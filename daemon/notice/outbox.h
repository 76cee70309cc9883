// The outbox: what is still to be sent, by which route and when, how each route did
// lately, and what is muted. All of it is in the store too, written in the commit that
// raises the notice, so that a new outbox goes on where the last one was killed. Not
// thread-safe.

#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <set>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/base/log.h"
#include "daemon/base/zone.h"
#include "daemon/notice/delivered.h"
#include "daemon/notice/situation.h"
#include "daemon/store/store.h"

namespace rimeward {

// What goes over one route at once; never empty, and of one telling but for a digest.
struct Parcel {
  struct Item {
    OutboxRow row;
    NoticeRow notice;
  };
  std::string route;
  std::vector<Item> items;
};

class Outbox {
 public:
  // Goes on from what the store holds. `garden` and `zone` must outlive this.
  Outbox(const Garden& garden, const Zone& zone, const Store& store, LogSink log);

  // A telling for each route that wants it, of no use after `send_until`. When the first
  // of them may leave; nothing where no route wants it.
  std::optional<Instant> post(const NoticeRow& notice, std::string_view event,
                              std::optional<Instant> send_until, Instant now,
                              Changes& changes);
  // What was to be sent of the notice so far is out of date.
  void withdraw(NoticeId notice, Changes& changes);
  // Gives up what is past its end, or of a notice that is none of the `known` any more.
  void expire(Instant now, const std::set<NoticeId>& known, Changes& changes);

  // Nobody is told of that kind until then. `concerned` are the open notices of it: what
  // of them has not been tried yet waits as long, or no longer.
  void mute(const MuteRow& mute, std::span<const NoticeRow* const> concerned, Instant now,
            Changes& changes);

  // What is to be sent now: of each route that has nothing under way the oldest, a danger
  // first, or all of a digest. `notice_of` finds a notice, or null where it is known no
  // more. To be called only when all rows are committed: what nobody could prove was
  // raised is never sent.
  using FindNotice = std::function<const NoticeRow*(NoticeId)>;
  std::vector<Parcel> take_due(Instant now, const FindNotice& notice_of);
  bool has_due(Instant now, const FindNotice& notice_of) const;

  // The rows that the word is about, as they now stand, and whether it got through.
  std::vector<OutboxRow> delivered(const Delivered& delivered, Instant now,
                                   Changes& changes);

  // The routes of the settings that have failed since they last got through.
  std::vector<RouteView> failing() const;

 private:
  bool is_ready(const OutboxRow& row, Instant now, const FindNotice& notice_of) const;
  const RouteSettings* route_named(std::string_view name) const;
  Instant after_mute(const NoticeRow& notice, Instant now) const;
  Instant leaves(const RouteSettings& route, const NoticeRow& notice,
                 std::string_view event, std::optional<Instant> send_until,
                 Instant now) const;
  void note_outcome(const Delivered& delivered, Instant now, Changes& changes);
  void give_up(OutboxRow row, std::string_view why, Changes& changes);
  void save(OutboxRow row, Changes& changes);

  const Garden& garden_;
  const Zone& zone_;
  LogSink log_;
  std::map<std::int64_t, OutboxRow> waiting_;
  std::map<std::string, std::set<std::int64_t>, std::less<>> under_way_;  // by route
  std::map<std::string, RouteRow, std::less<>> routes_;
  std::map<std::pair<std::string, std::string>, MuteRow> mutes_;  // by kind, place
  std::int64_t last_ = 0;
};

}  // namespace rimeward
