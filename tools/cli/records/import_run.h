// Reads a file of records line by line and puts them into the store in groups. However
// long the file, little of it is in memory, and no group holds the store for long. Ended
// anywhere, it has stored some whole groups; the same file again stores the rest.

#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include "sensors/result.h"
#include "tools/cli/records/import_file.h"
#include "tools/cli/records/record_form.h"
#include "tools/cli/verb.h"

namespace rimeward {

// How many lines are told by their number; others are counted.
inline constexpr std::size_t kMostTold = 20;

struct BadLine {
  std::size_t line = 0;
  std::string what;  // is wrong with it
};

struct ImportReport {
  RecordKind kind = RecordKind::kReadings;
  std::vector<std::string> passed_over;  // columns
  std::uint64_t good = 0;                // records that can be, of readings or days
  std::vector<BadLine> bad;              // the first
  std::uint64_t bad_count = 0;
  // Of the good ones, where they were put into the store:
  std::uint64_t added = 0;
  std::uint64_t repeated = 0;
  std::uint64_t too_old = 0;                 // for [store] keep_readings
  std::uint64_t different = 0;               // and not added
  std::uint64_t differing = 0;               // different, or added in part
  std::vector<std::size_t> differing_lines;  // the first
};

struct ImportAsked {
  const Place* place = nullptr;  // of lines that name none
  bool in_fahrenheit = false;
};

// Looks at every line and stores nothing. Refuses a file whose first line tells no form,
// with where: "april.csv:1: ...".
Result<ImportReport> check_records(const Context& context, const ImportAsked& asked,
                                   ImportFile& file);

// Stores what is good. The daemon is told to start over where anything was new. Throws
// StoreError.
Result<ImportReport> import_records(const Context& context, const ImportAsked& asked,
                                    ImportFile& file);

}  // namespace rimeward
