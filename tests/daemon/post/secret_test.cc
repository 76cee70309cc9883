#include "daemon/post/secret.h"

#include <fstream>

#include <doctest/doctest.h>

#include "tests/support/scratch_folder.h"

namespace rimeward {
namespace {

TEST_CASE("a secret is the first line of its file, without the end of the line") {
  const ScratchFolder folder;
  const std::string file = (folder / "password").string();
  for (const char* text : {"rime", "rime\n", "rime\r\n", "rime\n# of the shed\n"}) {
    CAPTURE(text);
    std::ofstream(file) << text;
    CHECK(read_secret("password_file", file).value() == "rime");
  }
}

TEST_CASE(
    "a file without a secret is named, with its key and what to do, and not shown") {
  const ScratchFolder folder;
  const std::string file = (folder / "token").string();
  CHECK(read_secret("bearer_file", file).error().message ==
        "cannot read [[route]] bearer_file " + file +
            ": No such file or directory; let the daemon's user read it");
  CHECK(read_secret("bearer_file", folder.path().string()).error().message ==
        "cannot read [[route]] bearer_file " + folder.path().string() +
            ": Is a directory; let the daemon's user read it");
  std::ofstream(file) << "\nrime\n";
  CHECK(read_secret("bearer_file", file).error().message ==
        "[[route]] bearer_file " + file +
            ": its first line holds nothing; write the secret there, and nothing else");
  std::ofstream(file) << "rime\x1b\n";
  CHECK(read_secret("bearer_file", file).error().message ==
        "[[route]] bearer_file " + file +
            ": its first line holds control characters; write the secret there, and "
            "nothing else");
}

}  // namespace
}  // namespace rimeward
