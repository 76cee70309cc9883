#include "tools/cli/completion_run.h"

#include <charconv>
#include <exception>
#include <filesystem>
#include <optional>
#include <string_view>
#include <system_error>

#include "daemon/crops.h"
#include "daemon/settings.h"
#include "tools/cli/completion.h"

namespace rimeward {
namespace {

namespace fs = std::filesystem;

// Anything else, such as a pipe, might be waited for without an end.
bool is_plain_file(const fs::path& file) {
  std::error_code ignored;
  return fs::is_regular_file(file, ignored);
}

std::optional<Garden> garden_of(const fs::path& file) {
  if (!is_plain_file(file)) return std::nullopt;
  SettingsOutcome garden = read_garden(file);
  if (!garden) return std::nullopt;
  return *std::move(garden);
}

std::optional<Store> store_of(const fs::path& file) {
  if (!is_plain_file(file)) return std::nullopt;
  try {
    return Store::open(file, Store::Access::kReadOnly);
  } catch (const StoreError&) {
    return std::nullopt;
  }
}

std::optional<CropTable> crops_of(const std::optional<Garden>& garden) {
  std::optional<fs::path> own;
  if (garden && !garden->crops_file.empty() && is_plain_file(garden->crops_file)) {
    own = garden->crops_file;
  }
  CropsOutcome crops = read_crops(own);
  if (!crops) return std::nullopt;
  return *std::move(crops);
}

template <class Part>
const Part* pointer_to(const std::optional<Part>& part) {
  return part ? &*part : nullptr;
}

Completions completions_in(std::span<const std::string> words, std::size_t index) {
  const CursorPlace place = cursor_place(words, index);
  std::optional<Garden> garden;
  if (wants_garden(place)) {
    garden = garden_of(
        value_in(words, "--config").value_or(Surroundings{}.config_file.string()));
  }
  std::optional<Store> store;
  if (garden && wants_store(place)) {
    store = store_of(value_in(words, "--store").value_or(garden->store.file));
  }
  std::optional<CropTable> crops;
  if (wants_crops(place)) crops = crops_of(garden);
  return completions(place, {.garden = pointer_to(garden),
                             .store = pointer_to(store),
                             .crops = pointer_to(crops)});
}

}  // namespace

std::string complete_line(std::span<const std::string> words, const Screen& screen) {
  std::size_t index = 0;
  if (!words.empty()) {
    const std::string& first = words.front();
    std::from_chars(first.data(), first.data() + first.size(), index);
    words = words.subspan(1);
  }
  try {
    return completion_lines(completions_in(words, index), screen);
  } catch (const std::exception&) {
    // A damaged store, say: it is told where something is asked of it, not here.
    return completion_lines({}, screen);
  }
}

}  // namespace rimeward
