#include "daemon/console.h"

#include <cstddef>
#include <fstream>
#include <sstream>
#include <string>

#include <doctest/doctest.h>
#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include "tests/support/scratch_folder.h"
#include "tests/support/variable.h"

using namespace rimeward;

namespace {

// stderr goes into a file as long as this lives.
class Stderr {
 public:
  Stderr()
      : file_(open((folder_ / "stderr").c_str(), O_RDWR | O_CREAT, 0600)),
        before_(dup(STDERR_FILENO)) {
    REQUIRE(dup2(file_, STDERR_FILENO) == STDERR_FILENO);
  }
  ~Stderr() {
    dup2(before_, STDERR_FILENO);
    close(before_);
    close(file_);
  }
  Stderr(const Stderr&) = delete;
  Stderr& operator=(const Stderr&) = delete;

  // As $JOURNAL_STREAM names it (systemd.exec(5)).
  std::string name() const {
    struct stat its {};
    REQUIRE(fstat(file_, &its) == 0);
    return fmt::format("{}:{}", its.st_dev, its.st_ino);
  }
  std::string text() const {
    std::ostringstream text;
    text << std::ifstream(folder_ / "stderr").rdbuf();
    return text.str();
  }

 private:
  ScratchFolder folder_;
  int file_;
  int before_;
};

// What a log writes to a stderr that is the journal's, or is not though the environment
// names one.
std::string written(bool to_journal) {
  const Stderr end;
  const Variable journal("JOURNAL_STREAM", to_journal ? end.name() : "8:12345");
  const LogSink log = console_log();
  log(LogLevel::kInfo, "listening");
  log(LogLevel::kWarning, "the card is slow");
  log(LogLevel::kError, "the disk is full");
  return end.text();
}

}  // namespace

TEST_CASE("the journal gets each line with the priority that sd-daemon(3) gives it") {
  CHECK(written(true) == "<6>listening\n<4>the card is slow\n<3>the disk is full\n");
}

TEST_CASE("another end than the journal's gets each line with its time and no priority") {
  const std::string text = written(false);
  CAPTURE(text);
  CHECK(text.find('<') == std::string::npos);
  std::istringstream lines(text);
  for (const char* const end :
       {" info: listening", " warning: the card is slow", " error: the disk is full"}) {
    std::string line;
    REQUIRE(std::getline(lines, line));
    // "2026-04-12T19:35:00.000"
    constexpr std::size_t kStamp = 23;
    REQUIRE(line.size() > kStamp);
    CHECK(line.substr(kStamp) == end);
    CHECK(line[10] == 'T');
  }
}
