#include "daemon/notice/notice_json.h"

#include <algorithm>

#include <nlohmann/json.hpp>

#include "sensors/iso_time.h"

namespace rimeward {

std::string place_name(const NoticeRow& notice, const Garden& garden) {
  if (notice.place.empty()) return garden.name;
  const auto place = std::ranges::find(garden.places, notice.place, &Place::id);
  return place != garden.places.end() ? place->name : notice.place;
}

std::string notice_json(const NoticeRow& notice, const Garden& garden, const Zone& zone,
                        const std::optional<TellingMarks>& marks) {
  nlohmann::ordered_json json{
      {"id", notice.id},
      {"revision", notice.revision},
      {"kind", notice.kind},
      {"subject", notice.subject},
      {"place", notice.place},
      {"place_name", place_name(notice, garden)},
      {"state", name_of(notice.state)},
      {"title", notice.title},
      {"body", notice.body},
      {"raised_at", format_utc(notice.raised_at)},
      {"spoke_at", format_utc(notice.spoke_at)},
  };
  if (notice.deadline) {
    json["deadline"] = format_utc(*notice.deadline);
    json["deadline_local"] = zone.time_text(*notice.deadline);
  }
  if (notice.ends_at) json["ends_at"] = format_utc(*notice.ends_at);
  if (notice.closed_at) json["closed_at"] = format_utc(*notice.closed_at);
  if (notice.reminded_at) json["reminded_at"] = format_utc(*notice.reminded_at);
  if (notice.layers > 0) json["layers"] = notice.layers;
  if (marks) {
    json["event"] = marks->event;
    json["message"] = marks->message;
  }
  // Names come from a file that a person wrote: bytes that are not UTF-8 are replaced.
  return json.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace);
}

}  // namespace rimeward
