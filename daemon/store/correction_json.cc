#include "daemon/store/correction_json.h"

#include <cmath>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sensors/escape.h"
#include "sensors/iso_time.h"

namespace rimeward {
namespace {

using Json = nlohmann::ordered_json;

Json parsed(std::string_view text) {
  return Json::parse(text, nullptr, /*allow_exceptions=*/false);
}

// Nothing where the member is missing or of another kind.
std::optional<std::string> optional_text(const Json& object, const char* key) {
  const auto found = object.find(key);
  if (found == object.end() || !found->is_string()) return std::nullopt;
  return found->get<std::string>();
}

std::optional<double> number_in(const Json& object, const char* key) {
  const auto found = object.find(key);
  if (found == object.end() || !found->is_number()) return std::nullopt;
  const auto number = found->get<double>();
  return std::isfinite(number) ? std::optional(number) : std::nullopt;
}

std::vector<SaidAndTrue> points_in(const Json& list) {
  if (!list.is_array()) return {};
  std::vector<SaidAndTrue> points;
  for (const Json& pair : list) {
    const bool is_pair =
        pair.is_array() && pair.size() == 2 && pair[0].is_number() && pair[1].is_number();
    if (!is_pair) return {};
    points.push_back({pair[0].get<double>(), pair[1].get<double>()});
  }
  return points;
}

tl::unexpected<Error> missing(std::string_view key) {
  return refuse(fmt::format("a correction without a fit {}", key));
}

}  // namespace

std::string correction_json(const CorrectionRow& row) {
  const Json points = parsed(row.points);
  const Json json{{"sensor", row.sensor},
                  {"channel", traits(row.channel).name},
                  {"since", format_utc(row.since)},
                  {"gain", row.gain},
                  {"offset", row.offset},
                  {"uncertainty", row.uncertainty},
                  {"method", row.method},
                  {"points", points.is_discarded() ? Json::array() : points}};
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

Result<CorrectionRow> correction_from_json(std::string_view text) {
  const Json json = parsed(text);
  if (!json.is_object()) return refuse("a correction that is no JSON object");
  CorrectionRow row;
  const auto sensor = optional_text(json, "sensor");
  if (!sensor || sensor->empty()) return missing("sensor");
  row.sensor = *sensor;
  const std::string channel_name = optional_text(json, "channel").value_or("");
  const auto channel = channel_named(channel_name);
  if (!channel) {
    return refuse(
        fmt::format("a correction of no channel: \"{}\"", escaped(channel_name)));
  }
  row.channel = *channel;
  const auto since = parse_instant(optional_text(json, "since").value_or(""));
  if (!since) return missing("since");
  row.since = *since;
  const auto gain = number_in(json, "gain");
  if (!gain || *gain <= 0) return missing("gain");
  row.gain = *gain;
  const auto offset = number_in(json, "offset");
  if (!offset) return missing("offset");
  row.offset = *offset;
  const auto uncertainty = number_in(json, "uncertainty");
  if (!uncertainty || *uncertainty < 0) return missing("uncertainty");
  row.uncertainty = *uncertainty;
  const auto method = optional_text(json, "method");
  if (!method || method->empty()) return missing("method");
  row.method = *method;
  row.points = "[]";
  const auto points = json.find("points");
  if (points != json.end()) row.points = points_json(points_in(*points));
  return row;
}

std::string points_json(std::span<const SaidAndTrue> points) {
  Json json = Json::array();
  for (const SaidAndTrue& point : points)
    json.push_back({point.said, point.known});
  return json.dump();
}

std::vector<SaidAndTrue> points_from_json(std::string_view text) {
  return points_in(parsed(text));
}

}  // namespace rimeward
