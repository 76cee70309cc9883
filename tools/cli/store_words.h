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

// What the daemon wrote to its medium.
struct Wear {
  std::int64_t bytes = 0;  // in all
  int days = 0;            // whole UTC days that the average is of, 30 at most
  std::optional<std::int64_t> bytes_a_day{};  // absent: there is no whole day yet
};

// The day it first wrote and the one under way are no whole ones.
Wear wear_of(const std::vector<WrittenRow>& written, Instant now);

// When the UTC day of `now` began.
Instant last_midnight(Instant now);

// How many UTC days that are over are not packed, by the dates.
std::int64_t days_to_pack(const PackingState& state, Instant now);

}  // namespace rimeward
