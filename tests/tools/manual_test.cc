#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <sstream>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "daemon/flags.h"
#include "tools/cli/command_line.h"
#include "tools/manual/pages.h"
#include "tools/manual/roff.h"

namespace rimeward {
namespace {

std::string text_of(const char* file) {
  std::ifstream stream(std::filesystem::path(RIMEWARD_SOURCE_DIR) / file);
  return {std::istreambuf_iterator<char>(stream), {}};
}

bool has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

// From a title to the next one of its kind or above.
std::string part_of(const std::string& page, const std::string& title) {
  const std::size_t begin = page.find(title + "\n");
  if (begin == std::string::npos) return "";
  std::size_t end = page.find("\n.SH ", begin);
  if (title.starts_with(".SS")) end = std::min(end, page.find("\n.SS ", begin));
  return page.substr(begin, end - begin);
}

TEST_CASE("what roff would obey or draw otherwise is escaped") {
  CHECK(roff_literal("a\\b") == "a\\(rsb");
  CHECK(roff_literal(".dot") == "\\&.dot");
  CHECK(roff_literal("'quoted' \"twice\"") == "\\(aqquoted\\(aq \\(dqtwice\\(dq");
  CHECK(roff_literal("--day `x` ~ ^") == "\\-\\-day \\(gax\\(ga \\(ti \\(ha");
  CHECK(roff_literal("4.6 °C") == "4.6 \\[u00B0]C");
  CHECK(roff_literal("⡇") == "\\[u2847]");
  CHECK(roff_literal("a\tb\x1b\xff") == "a b??");
}

TEST_CASE("in prose a hyphen between letters stays one, and a minus is a minus") {
  CHECK(roff_prose("half-hardy, -0.6 to --all") == "half-hardy, \\-0.6 to \\-\\-all");
  CHECK(roff_prose("`rimeward now` asks") == "\\fB\\%rimeward \\%now\\fR asks");
  CHECK(roff_prose("(`cover`)") == "\\%(\\fBcover\\fR)");
  CHECK(roff_prose("a lone ` is itself") == "a lone \\(ga is itself");
  CHECK(roff_prose("see /etc/rimeward") == "see \\%/etc/rimeward");
}

TEST_CASE("a text cut into lines neither begins a request nor doubles a space") {
  ManualPage page("x", "1", "y");
  std::string text;
  for (int i = 0; i < 60; ++i)
    text += fmt::format("word{} .dot. Next ", i);
  page.paragraph(text);
  std::istringstream lines(page.text());
  for (std::string line; std::getline(lines, line);) {
    CAPTURE(line);
    CHECK(line.size() <= 80);
    CHECK_FALSE(line.starts_with(".dot"));
    CHECK_FALSE(line.ends_with("."));
  }
}

TEST_CASE("the terminal's page has every verb, with all that it takes") {
  const std::string page =
      page_of_terminal("An evening:\n\n    $ rimeward now\n    4.6\n");
  for (const Verb& verb : all_verbs()) {
    CAPTURE(verb.name);
    const std::string part =
        part_of(page, fmt::format(".SS \"{}\"", roff_prose(verb.name)));
    CHECK(part.size() > 200);
    for (const Parameter& parameter : verb.details.parameters) {
      CAPTURE(parameter.name);
      CHECK(has(part, "\n" + (is_option(parameter) ? roff_bold(parameter.name)
                                                   : roff_italic(parameter.name))));
    }
    CHECK(has(part, roff_bold("--csv")) == verb.details.tabular);
  }
  for (const Parameter& parameter : parameters_of(nullptr))
    CHECK(has(part_of(page, ".SH \"OPTIONS\""), roff_bold(parameter.name)));
}

TEST_CASE("every example line of a verb's teaching stands in its page as it is") {
  const std::string page = page_of_terminal("");
  for (const Verb& verb : all_verbs()) {
    std::istringstream lines{std::string(verb.details.teaching)};
    for (std::string line; std::getline(lines, line);) {
      if (!line.starts_with("  ")) continue;
      CAPTURE(line);
      CHECK(has(page, "\n" + roff_literal(line.substr(2)) + "\n"));
    }
  }
}

TEST_CASE("the dialogue of an evening is shown to the letter, with its gaps") {
  const std::string page = page_of_terminal(
      "What is\ngoing on?\n\n    $ rimeward now\n    a  b\n\n      c\nThen:\n");
  CHECK(has(page, "What is going on?\n"));
  CHECK(has(page, ".EX\n$ rimeward now\na  b\n\\&\n  c\n.EE\n"));
  CHECK(has(page, ".EE\n.RE\n.PP\nThen:\n"));
}

TEST_CASE("the daemon's page has every flag") {
  const std::string page = page_of_daemon();
  for (const FlagHelp& flag : all_flags())
    CHECK(has(page, "\n" + roff_bold(flag.name)));
}

TEST_CASE("the page of the settings has every table and key of the example") {
  const std::string toml = text_of("config/garden.toml");
  const std::string page = page_of_settings(toml);
  std::istringstream lines(toml);
  std::string part;
  int keys = 0;
  for (std::string line; std::getline(lines, line);) {
    CAPTURE(line);
    if (line.starts_with('[')) part = part_of(page, fmt::format(".SH \"{}\"", line));
    const std::size_t equals = line.find(" = ");
    if (line.starts_with('#') || equals == std::string::npos) continue;
    CHECK(has(part, "\n" + roff_bold(line.substr(0, line.find(' ')))));
    ++keys;
  }
  CHECK(keys > 60);
}

TEST_CASE("comments of the settings become paragraphs and lists beside their keys") {
  const std::string page = page_of_settings(
      "# On top.\n#\n# Second.\n\n# ----\n# Of the table.\n[one]\n\n# What it is:\n"
      "#   \"a\"   the first,\n#         and more\n#   {\"b\"}\n# Default: \"a\"\n"
      "key = \"a # b\"\n\nplain = [\n  1, 2,\n]\nother = 3   # the third\n");
  CHECK(has(page, ".PP\nOn top.\n.PP\nSecond.\n"));
  CHECK(has(page, ".SH \"[one]\"\nOf the table.\n"));
  CHECK(has(page,
            "\\fB\\%key\\fR = \\(dqa # b\\(dq\nWhat it is:\n.RS\n.TP\n\\(dqa\\(dq\n"
            "the first, and more\n.PP\n{\\(dqb\\(dq}\n.PP\nDefault: "
            "\\(dqa\\(dq\n.RE\n"));
  CHECK(has(page, "\\fB\\%other\\fR = 3\nthe third\n"));
}

}  // namespace
}  // namespace rimeward
