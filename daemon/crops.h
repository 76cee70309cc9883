// Reads the crop table: config/crops.toml, which is part of the program and the manual of
// the keys, and then a file of the gardener's own that adds crops to it or changes single
// figures of its crops.

#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/base/crop.h"
#include "daemon/base/garden.h"

namespace rimeward {

// The table, or every mistake of the files, each as "FILE:LINE: [[crop]] key: what was
// wrong; remedy" and in the order of the lines. A table that comes back is sound: ids and
// names are unique, figures in range and in order, stages counted from earlier ones.
using CropsOutcome = tl::expected<CropTable, std::vector<std::string>>;

// What the program brings along and, when there is one, the gardener's own file.
CropsOutcome read_crops(const std::optional<std::filesystem::path>& own_file);

// Puts the table of the program and of the garden's own file to the garden. What is wrong
// with them; empty: nothing.
std::vector<std::string> add_crops(Garden& garden);

// A crop file that is already in memory; the name is for the messages.
struct CropsText {
  std::string_view toml;
  std::string_view file_name;
};

// The same from texts. Only in the first must every figure have a source: what a gardener
// writes is the gardener's own.
CropsOutcome read_crops_text(CropsText shipped, std::optional<CropsText> own);

// config/crops.toml as it was when the program was built.
std::string_view shipped_crops_text();

}  // namespace rimeward
