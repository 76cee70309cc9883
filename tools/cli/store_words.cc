#include "tools/cli/store_words.h"

#include <algorithm>

#include <fmt/format.h>

namespace rimeward {
namespace {

constexpr int kWearDays = 30;

}  // namespace

std::filesystem::path store_file_of(const Context& context) {
  return context.around.store_file.value_or(context.garden.store.file);
}

std::string bytes_text(std::uint64_t bytes) {
  if (bytes < 1000) return fmt::format("{} bytes", bytes);
  if (bytes < 1'000'000)
    return fmt::format("{:.0f} kB", static_cast<double>(bytes) / 1e3);
  if (bytes < 1'000'000'000)
    return fmt::format("{:.1f} MB", static_cast<double>(bytes) / 1e6);
  return fmt::format("{:.1f} GB", static_cast<double>(bytes) / 1e9);
}

double bytes_a_reading(const StoreSize& size) {
  if (size.readings == 0) return 0;
  return static_cast<double>(size.file_bytes + size.log_bytes) /
         static_cast<double>(size.readings);
}

Wear wear_of(const std::vector<WrittenRow>& written, Instant now) {
  const auto today = std::chrono::floor<std::chrono::days>(now);
  Wear wear;
  std::int64_t of_days = 0;
  for (std::size_t i = written.size(); i-- > 0;) {
    wear.bytes += written[i].bytes;
    const bool is_whole = i > 0 && written[i].day < today;
    if (!is_whole || wear.days == kWearDays) continue;
    of_days += written[i].bytes;
    ++wear.days;
  }
  if (wear.days > 0) wear.bytes_a_day = of_days / wear.days;
  return wear;
}

Instant last_midnight(Instant now) {
  return std::chrono::floor<std::chrono::days>(now);
}

std::int64_t days_to_pack(const PackingState& state, Instant now) {
  if (!state.oldest_loose) return 0;
  const auto oldest = std::chrono::floor<std::chrono::days>(*state.oldest_loose);
  return std::max<std::int64_t>(0, (last_midnight(now) - oldest) / std::chrono::days{1});
}

}  // namespace rimeward
