#include "daemon/post/secret.h"

#include <cerrno>
#include <fstream>
#include <string>
#include <system_error>

#include <fmt/format.h>

#include "daemon/post/paragraphs.h"
#include "daemon/post/trouble.h"

namespace rimeward {

Result<std::string> read_secret(const std::string& key, const std::string& file) {
  const std::string shown = as_said(file);
  errno = 0;
  std::ifstream stream(file, std::ios::binary);
  std::string secret;
  std::getline(stream, secret);
  if (!stream.is_open() || stream.bad()) {
    return refuse(
        fmt::format("cannot read [[route]] {} {}: {}; let the daemon's user read it", key,
                    shown, std::generic_category().message(errno)));
  }
  if (secret.ends_with('\r')) secret.pop_back();
  if (secret.empty() || secret != one_line(secret)) {
    return refuse(
        fmt::format("[[route]] {} {}: its first line holds {}; write the secret "
                    "there, and nothing else",
                    key, shown, secret.empty() ? "nothing" : "control characters"));
  }
  return secret;
}

}  // namespace rimeward
