// The folder of real weather records and outside check values that some tests read when
// it is there: too large, or not free to be passed on, to be part of the source.

#pragma once

#include <cstdlib>
#include <filesystem>
#include <optional>

namespace rimeward {

// The folder that the environment's RIMEWARD_SHARED names, else `shared` beside the
// source's own folder. Nothing when it is no folder: the test then says so and passes.
inline std::optional<std::filesystem::path> shared_folder() {
  // No test changes the environment.
  const char* named = std::getenv("RIMEWARD_SHARED");  // NOLINT(concurrency-mt-unsafe)
  const std::filesystem::path folder =
      named != nullptr
          ? std::filesystem::path{named}
          : std::filesystem::path{RIMEWARD_SOURCE_DIR}.parent_path() / "shared";
  std::error_code ignored;
  if (!std::filesystem::is_directory(folder, ignored)) return std::nullopt;
  return folder;
}

}  // namespace rimeward
