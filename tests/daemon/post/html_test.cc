#include "daemon/post/html.h"

#include <algorithm>

#include <doctest/doctest.h>

#include "tests/daemon/post/sample_jobs.h"

namespace rimeward {
namespace {

bool has(const std::string& page, const std::string& piece) {
  return page.find(piece) != std::string::npos;
}

TEST_CASE("what means something in HTML is escaped") {
  CHECK(html_escaped("<a href=\"x\">&'\x01") ==
        "&lt;a href=&quot;x&quot;&gt;&amp;&#39; ");
  CHECK(html_escaped("Höhe ☃") == "Höhe ☃");
}

TEST_CASE("a page has the headlines, the paragraphs, the tables and the garden's name") {
  Letter letter = sample_email().letter;
  letter.sections.push_back({.headline = "Open the glasshouse, by 10:30",
                             .body = "It will be warm.\nVery warm."});
  const std::string page = letter_html(letter, "Hochfeld school garden", "");
  CHECK(has(page, ">Fleece the north frame tonight, by 19:20</h2>"));
  CHECK(has(page, "<p>Low -1.3 °C expected.</p>"));
  CHECK(has(page, ">  place       low\n  North frame  -1.3</pre>"));
  CHECK(has(page, ">Open the glasshouse, by 10:30</h2>"));
  CHECK(has(page, "<p>It will be warm.<br>\nVery warm.</p>"));
  CHECK(has(page, ">Hochfeld school garden</p>"));
  CHECK_FALSE(has(page, "<img"));
}

TEST_CASE("a picture is shown with the chart's title for those who see none") {
  Letter letter = sample_email().letter;
  letter.chart = sample_chart();
  letter.chart->title = "Lows \"and\" highs";
  CHECK(has(letter_html(letter, "", "cid:week@example.org"),
            "<img src=\"cid:week@example.org\" alt=\"Lows &quot;and&quot; highs\""));
}

TEST_CASE("nothing from outside becomes a tag or an attribute") {
  const std::string hostile = "\"'><script>alert(1)</script><img src=x onerror=y>";
  Letter letter = sample_email().letter;
  const auto tags = [](const std::string& page) { return std::ranges::count(page, '<'); };
  letter.chart = sample_chart();
  const auto usual = tags(letter_html(letter, "Hochfeld", "cid:x"));
  letter.sections = {{.headline = hostile, .body = hostile + "\n\n  " + hostile}};
  letter.chart->title = hostile;
  const std::string page = letter_html(letter, hostile, "cid:x");
  CHECK(tags(page) == usual);
  CHECK(std::ranges::count(page, '\'') == 0);
}

}  // namespace
}  // namespace rimeward
