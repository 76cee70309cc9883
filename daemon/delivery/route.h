// A way for a notice to reach a person. To add one: write daemon/delivery/route_<kind>.cc
// with its make_route_<kind>() and add its line to daemon/delivery/routes.def.

#pragma once

#include <cstdint>
#include <optional>
#include <stop_token>
#include <string>
#include <vector>

#include "daemon/base/week_chart.h"
#include "daemon/notice/delivered.h"
#include "daemon/store/rows.h"

namespace rimeward {

// One telling of one notice.
struct Telling {
  std::int64_t outbox = 0;  // OutboxRow::id
  std::string event;        // raised, worse, reminder, changed, over, letter
  NoticeRow notice;
  std::string place_name;
  std::string headline;  // the title with its deadline, and that it is a reminder
  std::string json;      // notice_json()
};

// What goes over one route at once: one telling, or where the settings ask for a digest
// all that are due. Never empty.
struct Dispatch {
  std::string route;  // "mqtt-1"
  std::vector<Telling> tellings;
  // The same whenever the same tellings are tried again, and on no other dispatch, so
  // that a receiver can drop a repeat: letters, digits, "-" and ".".
  std::string id;
  std::optional<WeekChart> chart;  // of a Sunday letter
};

struct Outcome {
  Delivered::Outcome outcome = Delivered::Outcome::kDone;
  // What went wrong and what to do. When done, what went wrong beside it: a letter that
  // one of several people could not be given.
  std::string trouble;
};

class Route {
 public:
  virtual ~Route() = default;

  // May take as long as its time limit; when `stop` is requested it gives up soon. Called
  // by one thread at a time. Never throws for what the outside does.
  virtual Outcome deliver(const Dispatch& dispatch, std::stop_token stop) = 0;
};

}  // namespace rimeward
