#include "daemon/ingest/note.h"

#include <fstream>
#include <system_error>

namespace rimeward {

namespace fs = std::filesystem;

std::string read_note(const fs::path& file) {
  std::ifstream stream(file);
  std::string line;
  std::getline(stream, line);
  return line;
}

bool write_note(const fs::path& file, std::string_view line) noexcept {
  try {
    fs::path draft = file;
    draft += ".new";
    {
      std::ofstream stream(draft, std::ios::trunc);
      stream << line << '\n' << std::flush;
      if (!stream) return false;
    }
    std::error_code trouble;
    fs::rename(draft, file, trouble);
    return !trouble;
  } catch (...) {
    return false;
  }
}

}  // namespace rimeward
