// A frost notice of the Hochfeld garden, ready to be sent.

#pragma once

#include <string>

#include "daemon/delivery/route.h"

namespace rimeward {

inline Telling sample_telling(const std::string& event = "raised") {
  Telling telling;
  telling.outbox = 7;
  telling.event = event;
  telling.place_name = "North frame";
  telling.notice.id = 3;
  telling.notice.revision = 2;
  telling.notice.kind = "cover";
  telling.notice.subject = "north-frame";
  telling.notice.place = "north-frame";
  telling.notice.title = "Fleece the north frame tonight";
  telling.notice.body = "The low is expected at -1.5 °C.";
  telling.notice.deadline = Instant{std::chrono::seconds{1'776'013'500}};
  telling.headline = "Fleece the north frame tonight, by 19:05";
  telling.json = R"({"id":3,"revision":2,"kind":"cover"})";
  return telling;
}

inline Dispatch sample_dispatch(const std::string& event = "raised") {
  return {.route = "command-1",
          .tellings = {sample_telling(event)},
          .id = "7-1776000000",
          .chart = std::nullopt};
}

}  // namespace rimeward
