// Runs every tests/tools/*.case: a command line and exactly what the terminal then shows.
//
//   # why the case is there
//   $ rimeward week --days 3     the command line; single spaces, no quotes
//   columns 60                   the screen's width; 80 when left out
//   screen ascii                 or `colour`; plain UTF-8 when left out
//   now 2026-04-13T01:10:00Z     the garden's clock; sample_evening() when left out
//   exit 1                       0 when left out
//   --- text                     what goes to stdout
//   --- trouble                  what goes to stderr, before "rimeward: " is added
//
// Set RIMEWARD_UPDATE_CASES to have the expected parts written anew; review the diff.

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <sstream>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "sensors/iso_time.h"
#include "tests/support/sample_store.h"
#include "tests/tools/cli_run.h"

namespace rimeward {
namespace {

struct Case {
  std::string head;  // up to the first expected part
  std::string command;
  RunIn in;
  int status = 0;
  std::string text;
  std::string trouble;
};

void read_head_line(Case& result, const std::string& line) {
  const std::string word = line.substr(0, line.find(' '));
  const std::string rest = line.substr(std::min(line.size(), word.size() + 1));
  if (word == "$") {
    result.command = rest.substr(rest.find(' ') + 1);
    if (rest.find(' ') == std::string::npos) result.command.clear();
  } else if (word == "columns") {
    result.in.screen.width = std::stoul(rest);
  } else if (word == "screen") {
    result.in.screen.utf8 = rest != "ascii";
    result.in.screen.colour = rest == "colour";
  } else if (word == "now") {
    result.in.now = parse_instant(rest).value();
  } else if (word == "exit") {
    result.status = std::stoi(rest);
  } else {
    REQUIRE_MESSAGE((word == "#" || word.empty()), line);
  }
}

Case read_case(const std::filesystem::path& file) {
  std::ifstream stream(file);
  Case result;
  std::string* part = nullptr;
  for (std::string line; std::getline(stream, line);) {
    if (line == "--- text") {
      part = &result.text;
    } else if (line == "--- trouble") {
      part = &result.trouble;
    } else if (part != nullptr) {
      *part += line + "\n";
    } else {
      result.head += line + "\n";
      read_head_line(result, line);
    }
  }
  return result;
}

void update(const std::filesystem::path& file, const Case& was, const Reply& reply) {
  std::ofstream stream(file);
  stream << was.head;
  if (!reply.text.empty()) stream << "--- text\n" << reply.text;
  if (!reply.trouble.empty()) stream << "--- trouble\n" << reply.trouble << "\n";
}

std::vector<std::filesystem::path> case_files() {
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator(
           std::filesystem::path(RIMEWARD_SOURCE_DIR) / "tests/tools")) {
    if (entry.path().extension() == ".case") files.push_back(entry.path());
  }
  std::ranges::sort(files);
  return files;
}

TEST_CASE("every command line of the cases shows exactly what its case says") {
  const std::vector<std::filesystem::path> files = case_files();
  REQUIRE(files.size() >= 20);
  for (const std::filesystem::path& file : files) {
    CAPTURE(file.filename().string());
    const Case expected = read_case(file);
    const Reply reply = run_client(words_of(expected.command), expected.in);
    // NOLINTNEXTLINE(concurrency-mt-unsafe): the tests have one thread here.
    if (std::getenv("RIMEWARD_UPDATE_CASES") != nullptr) update(file, expected, reply);
    CHECK(reply.status == expected.status);
    CHECK(reply.text == expected.text);
    CHECK(reply.trouble + (reply.trouble.empty() ? "" : "\n") == expected.trouble);
  }
}

TEST_CASE("no text of a case is wider than its screen unless a word or number is") {
  for (const std::filesystem::path& file : case_files()) {
    const Case expected = read_case(file);
    // Example lines of help texts stand as they are.
    if (expected.command.find("--help") != std::string::npos) continue;
    if (expected.command.find("--csv") != std::string::npos) continue;
    if (expected.command.find("--json") != std::string::npos) continue;
    if (expected.in.screen.colour) continue;
    std::istringstream lines(expected.text);
    for (std::string line; std::getline(lines, line);) {
      CAPTURE(file.filename().string());
      CAPTURE(line);
      CHECK(display_width(line) <= expected.in.screen.width);
    }
  }
}

}  // namespace
}  // namespace rimeward
