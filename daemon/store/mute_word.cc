#include "daemon/store/mute_word.h"

#include <fmt/format.h>

#include "sensors/iso_time.h"

namespace rimeward {

std::string mute_detail(std::string_view kind, Instant until) {
  return fmt::format("{} {}", kind, format_utc(until));
}

std::optional<MuteRow> mute_of(const ActionRow& action) {
  const std::string_view detail = action.detail;
  const std::size_t gap = detail.find(' ');
  if (action.verb != "mute" || gap == std::string_view::npos || gap == 0) {
    return std::nullopt;
  }
  const auto until = parse_instant(detail.substr(gap + 1));
  if (!until) return std::nullopt;
  return MuteRow{
      .kind = std::string(detail.substr(0, gap)), .place = action.place, .until = *until};
}

}  // namespace rimeward
