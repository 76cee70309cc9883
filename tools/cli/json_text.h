// The members that the verbs' JSON documents have in common. Pure.

#pragma once

#include <optional>
#include <span>
#include <string>

#include <nlohmann/json_fwd.hpp>

#include "daemon/store/rows.h"
#include "sensors/units.h"
#include "tools/cli/verb.h"

namespace rimeward {

// Indented, one newline at the end; what is not UTF-8 in a name is replaced.
std::string json_text(const nlohmann::ordered_json& document);

// null when absent; temperatures and odds to a thousandth, times UTC ISO 8601.
nlohmann::ordered_json json_of(std::optional<Celsius> temperature);
nlohmann::ordered_json json_of(std::optional<Kelvins> difference);
nlohmann::ordered_json json_of(std::optional<Odds> odds);
nlohmann::ordered_json json_of(std::optional<Instant> time);
// "2026-04-12 18:03", the garden's time.
nlohmann::ordered_json json_local(std::optional<Instant> time, const Zone& zone);

// The members that every document about a garden begins with: garden, now, now_local.
nlohmann::ordered_json json_heading(const Context& context);

// Each as daemon/notice/notice_json.h has it.
nlohmann::ordered_json json_of(std::span<const NoticeRow> notices,
                               const Context& context);

}  // namespace rimeward
