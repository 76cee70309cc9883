#include "daemon/post/html.h"

#include <fmt/format.h>

#include "daemon/post/paragraphs.h"

namespace rimeward {
namespace {

constexpr std::string_view kHead =
    "<!DOCTYPE html>\n<html>\n<head>\n<meta charset=\"utf-8\">\n"
    "<meta name=\"viewport\" content=\"width=device-width\">\n"
    "<meta name=\"color-scheme\" content=\"light dark\">\n</head>\n"
    "<body style=\"font-family:sans-serif;line-height:1.4;max-width:46em\">\n";

std::string html_of(const Paragraph& paragraph) {
  const std::string_view between = paragraph.is_table ? "\n" : "<br>\n";
  std::string lines;
  for (const std::string& line : paragraph.lines) {
    if (!lines.empty()) lines += between;
    lines += html_escaped(line);
  }
  if (!paragraph.is_table) return fmt::format("<p>{}</p>\n", lines);
  return fmt::format(
      "<pre style=\"font-size:90%;line-height:1.3;overflow-x:auto\">{}</pre>\n", lines);
}

}  // namespace

std::string html_escaped(std::string_view text) {
  std::string safe;
  for (const char c : one_line(text)) {
    switch (c) {
      case '&':
        safe += "&amp;";
        break;
      case '<':
        safe += "&lt;";
        break;
      case '>':
        safe += "&gt;";
        break;
      case '"':
        safe += "&quot;";
        break;
      case '\'':
        safe += "&#39;";
        break;
      default:
        safe += c;
    }
  }
  return safe;
}

std::string letter_html(const Letter& letter, std::string_view garden,
                        std::string_view picture) {
  std::string page(kHead);
  for (const Letter::Section& section : letter.sections) {
    page += fmt::format("<h2 style=\"font-size:120%;margin:1.2em 0 0.4em\">{}</h2>\n",
                        html_escaped(section.headline));
    for (const Paragraph& paragraph : paragraphs(section.body))
      page += html_of(paragraph);
  }
  if (!picture.empty() && letter.chart) {
    page += fmt::format(
        "<p><img src=\"{}\" alt=\"{}\" style=\"max-width:100%;height:auto\"></p>\n",
        html_escaped(picture), html_escaped(letter.chart->title));
  }
  page += fmt::format("<hr>\n<p style=\"font-size:85%\">{}</p>\n</body>\n</html>\n",
                      html_escaped(garden));
  return page;
}

}  // namespace rimeward
