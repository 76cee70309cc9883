// A stand-in for the program rimeward-post: a shell script that keeps the job it is given
// and then does as it is told.

#pragma once

#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>

#include <doctest/doctest.h>
#include <sys/stat.h>

#include "daemon/delivery/routes.h"
#include "daemon/post/job.h"
#include "tests/support/scratch_folder.h"

namespace rimeward {

class FakePost {
 public:
  // `script` in the words of the shell; "" ends with status 0.
  explicit FakePost(const std::string& script = "") {
    std::ofstream(program()) << "#!/bin/sh\ncat >\"" << kept() << "\"\n"
                             << script << "\n";
    ::chmod(program().c_str(), 0755);
  }

  std::string program() const { return (folder_ / "rimeward-post").string(); }

  Outside outside() const {
    Outside outside;
    outside.post_program = program();
    outside.garden = "Hochfeld school garden";
    return outside;
  }

  template <class Kind>
  Kind job() const {
    std::ostringstream text;
    text << std::ifstream(kept()).rdbuf();
    const auto read = job_from_json(text.str());
    REQUIRE(read);
    REQUIRE(std::holds_alternative<Kind>(*read));
    return std::get<Kind>(*read);
  }

 private:
  std::string kept() const { return (folder_ / "job.json").string(); }

  ScratchFolder folder_;
};

}  // namespace rimeward
