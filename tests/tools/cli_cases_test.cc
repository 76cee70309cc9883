// Runs every tests/tools/*.case: a command line and exactly what the terminal then shows.
//
//   # why the case is there
//   $ rimeward week --days 3     the command line; single spaces, no quotes
//   columns 60                   the screen's width; 80 when left out
//   screen ascii                 or `colour`; plain UTF-8 when left out
//   screens 60 80 120            instead: each width, without colour and with it, what
//                                each shows below a line of its own
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
  std::vector<std::size_t> widths;  // of `screens`
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
  } else if (word == "screens") {
    std::istringstream widths(rest);
    for (std::size_t width = 0; widths >> width;)
      result.widths.push_back(width);
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

std::string screen_line(std::size_t width, bool colour) {
  return fmt::format("=== {} columns{}\n", width, colour ? ", colour" : "");
}

// On every screen of the case, one below the other.
Reply run_case(const Case& of) {
  const std::vector<std::string> words = words_of(of.command);
  if (of.widths.empty()) return run_client(words, of.in);
  Reply all;
  for (const std::size_t width : of.widths) {
    for (const bool colour : {false, true}) {
      RunIn in = of.in;
      in.screen.width = width;
      in.screen.colour = colour;
      Reply one = run_client(words, in);
      all.status = one.status;
      all.text += screen_line(width, colour) + one.text;
      all.trouble = std::move(one.trouble);
    }
  }
  return all;
}

// What the text is without its colours, which are ECMA-48 control sequences.
std::string without_colours(std::string_view text) {
  std::string plain;
  while (!text.empty()) {
    if (text.starts_with("\x1b[")) {
      text.remove_prefix(std::min(text.find('m'), text.size() - 1) + 1);
    } else {
      plain += text.front();
      text.remove_prefix(1);
    }
  }
  return plain;
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
    const Reply reply = run_case(expected);
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
    std::size_t width = expected.in.screen.width;
    std::istringstream lines(without_colours(expected.text));
    for (std::string line; std::getline(lines, line);) {
      if (line.starts_with("=== ")) width = std::stoul(line.substr(4));
      CAPTURE(file.filename().string());
      CAPTURE(line);
      CHECK(display_width(line) <= width);
    }
  }
}

TEST_CASE("colour says nothing that the words do not") {
  for (const std::filesystem::path& file : case_files()) {
    const Case expected = read_case(file);
    std::string plain;  // what the same width showed without colour
    std::string_view text = expected.text;
    for (const std::size_t width : expected.widths) {
      for (const bool colour : {false, true}) {
        CAPTURE(file.filename().string());
        const std::string head = screen_line(width, colour);
        REQUIRE(text.starts_with(head));
        text.remove_prefix(head.size());
        const std::string_view shown = text.substr(0, text.find("=== "));
        if (colour) CHECK(without_colours(shown) == plain);
        plain = shown;
        text.remove_prefix(shown.size());
      }
    }
  }
}

}  // namespace
}  // namespace rimeward
