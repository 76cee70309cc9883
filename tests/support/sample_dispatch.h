// A frost notice of the Hochfeld garden, ready to be sent.

#pragma once

#include <string>

#include "daemon/delivery/route.h"

namespace rimeward {

inline Dispatch sample_dispatch(const std::string& event = "raised") {
  Dispatch dispatch;
  dispatch.outbox = 7;
  dispatch.route = "command-1";
  dispatch.event = event;
  dispatch.place_name = "North frame";
  dispatch.notice.id = 3;
  dispatch.notice.revision = 2;
  dispatch.notice.kind = "cover";
  dispatch.notice.subject = "north-frame";
  dispatch.notice.place = "north-frame";
  dispatch.notice.title = "Fleece the north frame tonight";
  dispatch.notice.body = "The low is expected at -1.5 °C.";
  dispatch.notice.deadline = Instant{std::chrono::seconds{1'776'013'500}};
  dispatch.json = R"({"id":3,"revision":2,"kind":"cover"})";
  dispatch.text = "Fleece the north frame tonight\nThe low is expected at -1.5 °C.";
  return dispatch;
}

}  // namespace rimeward
