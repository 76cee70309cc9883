// The store as the verbs about it name and measure it. Pure.

#pragma once

#include <cstdint>
#include <filesystem>
#include <string>

#include "daemon/store/store_care.h"
#include "tools/cli/verb.h"

namespace rimeward {

// The file that is open as context.store.
std::filesystem::path store_file_of(const Context& context);

// "812 bytes", "14 kB", "148.2 MB", in powers of ten, as disks are sold.
std::string bytes_text(std::uint64_t bytes);

// File and log by the readings; 0 without any.
double bytes_a_reading(const StoreSize& size);

}  // namespace rimeward
