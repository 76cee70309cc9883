// Where the program is that carries e-mail and HTTP (daemon/post). Thread-safe: no state.

#pragma once

#include <filesystem>

namespace rimeward {

// rimeward-post in the folder of the program that runs, whether it is there or not.
// Throws std::filesystem::filesystem_error where the machine does not tell that folder.
std::filesystem::path post_program();

}  // namespace rimeward
