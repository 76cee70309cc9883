#include "tools/cli/store_words.h"

#include <fmt/format.h>

namespace rimeward {

std::filesystem::path store_file_of(const Context& context) {
  return context.around.store_file.value_or(context.garden.store.file);
}

std::string bytes_text(std::uint64_t bytes) {
  if (bytes < 1000) return fmt::format("{} bytes", bytes);
  if (bytes < 1'000'000)
    return fmt::format("{:.0f} kB", static_cast<double>(bytes) / 1e3);
  return fmt::format("{:.1f} MB", static_cast<double>(bytes) / 1e6);
}

double bytes_a_reading(const StoreSize& size) {
  if (size.readings == 0) return 0;
  return static_cast<double>(size.file_bytes + size.log_bytes) /
         static_cast<double>(size.readings);
}

}  // namespace rimeward
