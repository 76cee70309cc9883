// A way for a notice to reach a person. To add one: write daemon/delivery/route_<kind>.cc
// with its make_route_<kind>() and add its line to daemon/delivery/routes.def.

#pragma once

#include <cstdint>
#include <stop_token>
#include <string>

#include "daemon/notice/delivered.h"
#include "daemon/store/rows.h"

namespace rimeward {

// One telling of one notice on one route.
struct Dispatch {
  std::int64_t outbox = 0;  // OutboxRow::id
  std::string route;        // "mqtt-1"
  std::string event;        // raised, worse, changed, over
  NoticeRow notice;
  std::string place_name;
  std::string json;  // notice_json()
  std::string text;  // title, newline, body
};

struct Outcome {
  Delivered::Outcome outcome = Delivered::Outcome::kDone;
  std::string trouble;  // what went wrong and what to do; empty when done
};

class Route {
 public:
  virtual ~Route() = default;

  // May take as long as its time limit; when `stop` is requested it gives up soon. Called
  // by one thread at a time. Never throws for what the outside does.
  virtual Outcome deliver(const Dispatch& dispatch, std::stop_token stop) = 0;
};

}  // namespace rimeward
