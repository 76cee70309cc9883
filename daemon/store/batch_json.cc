#include "daemon/store/batch_json.h"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sensors/escape.h"
#include "sensors/iso_time.h"

namespace rimeward {
namespace {

using Json = nlohmann::ordered_json;
using std::chrono::sys_days;

// Days since 1970-01-01, as the store has dates.
std::int64_t days_of(sys_days date) {
  return date.time_since_epoch().count();
}

constexpr std::int64_t kMostDays = 100'000;  // some centuries

std::string text_in(const Json& object, const char* key) {
  const auto found = object.find(key);
  if (found == object.end() || !found->is_string()) return {};
  return found->get<std::string>();
}

std::optional<sys_days> date_in(const Json& object, const char* key) {
  const auto found = object.find(key);
  if (found == object.end() || !found->is_number_integer()) return std::nullopt;
  const auto days = found->get<std::int64_t>();
  if (days < -kMostDays || days > kMostDays) return std::nullopt;
  return sys_days{std::chrono::days{days}};
}

}  // namespace

std::string batch_json(const BatchWord& word) {
  Json json{{"batch", word.batch.id},
            {"crop", word.batch.crop},
            {"sown", days_of(word.batch.sown)},
            {"count", word.batch.count},
            {"next_place", word.batch.next_place},
            {"place", word.place}};
  if (word.batch.finished) json["finished"] = days_of(*word.batch.finished);
  if (word.since) json["since"] = format_utc(*word.since);
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

Result<BatchWord> batch_from_json(std::string_view text) {
  const Json json = Json::parse(text, nullptr, /*allow_exceptions=*/false);
  if (!json.is_object()) return refuse("a word about a batch that is no JSON object");
  BatchWord word;
  word.batch.id = text_in(json, "batch");
  if (word.batch.id.empty()) return refuse("a word about a batch without its id");
  const auto wrong = [&word](std::string_view key) {
    return refuse(fmt::format("a word about the batch \"{}\" without a fit {}",
                              escaped(word.batch.id), key));
  };
  word.batch.crop = text_in(json, "crop");
  word.batch.next_place = text_in(json, "next_place");
  word.place = text_in(json, "place");
  const auto sown = date_in(json, "sown");
  if (!sown) return wrong("sown");
  word.batch.sown = *sown;
  const auto count = json.find("count");
  if (count == json.end() || !count->is_number_unsigned()) return wrong("count");
  word.batch.count = count->get<int>();
  if (json.contains("finished")) {
    word.batch.finished = date_in(json, "finished");
    if (!word.batch.finished) return wrong("finished");
  }
  if (json.contains("since")) {
    const auto since = parse_instant(text_in(json, "since"));
    if (!since) return wrong("since");
    word.since = *since;
  }
  return word;
}

}  // namespace rimeward
