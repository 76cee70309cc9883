#include "tools/cli/json_text.h"

#include <cmath>

#include <nlohmann/json.hpp>

#include "daemon/notice/notice_json.h"
#include "sensors/iso_time.h"

namespace rimeward {
namespace {

using Json = nlohmann::ordered_json;

// Adding zero turns a rounded -0.0 into 0.0. What is not finite becomes null.
Json thousandths(double value) {
  return std::round(value * 1000) / 1000 + 0.0;
}

}  // namespace

std::string json_text(const Json& document) {
  return document.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

Json json_of(std::optional<Celsius> temperature) {
  return temperature ? thousandths(temperature->degrees) : Json();
}

Json json_of(std::optional<Kelvins> difference) {
  return difference ? thousandths(difference->degrees) : Json();
}

Json json_of(std::optional<Odds> odds) {
  return odds ? thousandths(odds->value) : Json();
}

Json json_of(std::optional<Instant> time) {
  return time ? Json(format_utc(*time)) : Json();
}

Json json_local(std::optional<Instant> time, const Zone& zone) {
  return time ? Json(zone.date_text(*time) + " " + zone.time_text(*time)) : Json();
}

Json json_heading(const Context& context) {
  return {{"garden", context.garden.name},
          {"now", format_utc(context.now)},
          {"now_local", json_local(context.now, context.zone)}};
}

Json json_of(std::span<const NoticeRow> notices, const Context& context) {
  Json list = Json::array();
  for (const NoticeRow& notice : notices) {
    list.push_back(Json::parse(notice_json(notice, context.garden, context.zone)));
  }
  return list;
}

}  // namespace rimeward
