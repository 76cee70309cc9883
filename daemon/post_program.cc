#include "daemon/post_program.h"

namespace rimeward {

std::filesystem::path post_program() {
  return std::filesystem::read_symlink("/proc/self/exe").parent_path() / "rimeward-post";
}

}  // namespace rimeward
