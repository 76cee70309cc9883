#include "tools/manual/roff.h"

#include <algorithm>
#include <cctype>

#include <fmt/format.h>

#include "sensors/utf8.h"

namespace rimeward {
namespace {

bool is_letter(char letter) {
  return std::isalnum(static_cast<unsigned char>(letter)) != 0;
}

// groff_char(7) has the names: those that the formatter would show as another sign.
std::string_view name_of_sign(char sign) {
  switch (sign) {
    case '\\':
      return "\\(rs";
    case '"':
      return "\\(dq";
    case '\'':
      return "\\(aq";
    case '`':
      return "\\(ga";
    case '~':
      return "\\(ti";
    case '^':
      return "\\(ha";
    default:
      return {};
  }
}

// One character; bytes that are no UTF-8 become a question mark.
std::string roff_of(std::string_view bytes) {
  const auto character = first_character(bytes);
  if (!character) return "?";
  if (character->code >= 0x80) {
    return fmt::format("\\[u{:04X}]", static_cast<std::uint32_t>(character->code));
  }
  const char sign = bytes.front();
  if (sign == '\n' || sign == '\t') return " ";
  if (std::iscntrl(static_cast<unsigned char>(sign)) != 0) return "?";
  const std::string_view name = name_of_sign(sign);
  return name.empty() ? std::string(1, sign) : std::string(name);
}

std::size_t length_of(std::string_view bytes) {
  const auto character = first_character(bytes);
  return character ? character->length : 1;
}

// A line that began with a dot would be a request.
std::string as_text_line(std::string roff) {
  if (roff.starts_with('.')) roff.insert(0, "\\&");
  return roff;
}

std::string upper(std::string_view text) {
  std::string result(text);
  std::ranges::transform(result, result.begin(), [](char letter) {
    return static_cast<char>(std::toupper(static_cast<unsigned char>(letter)));
  });
  return result;
}

// "\\%" forbids to cut the word behind it.
constexpr std::string_view kUncut = "\\%";

bool ends_sentence(std::string_view roff) {
  constexpr std::string_view plain_again = "\\fR";
  if (roff.ends_with(plain_again)) roff.remove_suffix(plain_again.size());
  return roff.ends_with('.') || roff.ends_with('?') || roff.ends_with('!') ||
         roff.ends_with(".)");
}

// Names of files, keys and the like, which somebody may copy; and what `is said` within
// brackets.
bool is_name(std::string_view word) {
  return word.find_first_of("/_@=") != std::string_view::npos ||
         word.find('`', 1) < word.size();
}

// Of several words. Only at its beginning the sign forbids anything: within a word it
// would be where to cut.
std::string unhyphenated(std::string_view literal, bool begins_word = true) {
  std::string roff;
  while (!literal.empty()) {
    const std::size_t end = std::min(literal.find(' '), literal.size());
    if (end > 0 && begins_word) roff += kUncut;
    roff += roff_literal(literal.substr(0, end));
    if (end < literal.size()) roff += ' ';
    literal.remove_prefix(std::min(end + 1, literal.size()));
    begins_word = true;
  }
  return roff;
}

// A space up to `longest`, but none behind a sentence: at a line's end that would be
// shown as two.
std::size_t place_to_cut(std::string_view roff, std::size_t longest) {
  std::size_t end = roff.rfind(' ', longest);
  while (end != std::string_view::npos && end > 0 && ends_sentence(roff.substr(0, end))) {
    end = roff.rfind(' ', end - 1);
  }
  return end != std::string_view::npos ? end : roff.find(' ', longest);
}

// An argument of a request.
std::string in_quotes(std::string_view roff) {
  return fmt::format("\"{}\"", roff);
}

}  // namespace

std::string roff_literal(std::string_view text) {
  std::string roff;
  while (!text.empty()) {
    roff += text.front() == '-' ? "\\-" : roff_of(text);
    text.remove_prefix(length_of(text));
  }
  return as_text_line(std::move(roff));
}

std::string roff_bold(std::string_view literal) {
  return fmt::format("\\fB{}\\fR", unhyphenated(literal));
}

std::string roff_italic(std::string_view literal) {
  return fmt::format("\\fI{}\\fR", unhyphenated(literal));
}

std::string roff_prose(std::string_view text) {
  std::string roff;
  char before = ' ';
  while (!text.empty()) {
    const char sign = text.front();
    const bool begins_word = before == ' ';
    if (begins_word && sign != '`' && is_name(text.substr(0, text.find(' ')))) {
      roff += kUncut;
    }
    const std::size_t closing = sign == '`' ? text.find('`', 1) : std::string_view::npos;
    if (closing != std::string_view::npos && closing > 1) {
      roff += fmt::format("\\fB{}\\fR",
                          unhyphenated(text.substr(1, closing - 1), begins_word));
      text.remove_prefix(closing + 1);
    } else {
      const bool is_minus = sign == '-' && !is_letter(before);
      roff += is_minus ? "\\-" : roff_of(text);
      text.remove_prefix(length_of(text));
    }
    before = sign;
  }
  return as_text_line(std::move(roff));
}

ManualPage::ManualPage(std::string_view name, std::string_view section,
                       std::string_view what) {
  request(fmt::format(".TH {} {} \"\" \"rimeward " RIMEWARD_VERSION "\" \"Rimeward\"",
                      in_quotes(upper(name)), section));
  // What is to be typed must not be drawn apart.
  request(".ad l");
  this->section("NAME");
  text_line(fmt::format("{} \\- {}", roff_prose(name), roff_prose(what)));
}

void ManualPage::request(std::string_view roff) {
  text_ += roff;
  text_ += '\n';
  is_below_title_ = false;
}

// Cut into lines that an editor shows whole; the formatter fills them anew.
void ManualPage::text_line(std::string_view roff) {
  constexpr std::size_t longest = 76;
  while (roff.size() > longest) {
    const std::size_t end = place_to_cut(roff, longest);
    if (end == std::string_view::npos) break;
    request(as_text_line(std::string(roff.substr(0, end))));
    roff.remove_prefix(end + 1);
  }
  request(as_text_line(std::string(roff)));
}

void ManualPage::begin_paragraph() {
  if (!is_below_title_) request(".PP");
}

void ManualPage::section(std::string_view title) {
  request(".SH " + in_quotes(roff_prose(title)));
  is_below_title_ = true;
}

void ManualPage::subsection(std::string_view title) {
  request(".SS " + in_quotes(roff_prose(title)));
  is_below_title_ = true;
}

void ManualPage::paragraph(std::string_view text) {
  if (!text.empty()) roff_paragraph(roff_prose(text));
}

void ManualPage::roff_paragraph(std::string_view roff) {
  begin_paragraph();
  text_line(roff);
}

void ManualPage::example(std::string_view lines) {
  begin_paragraph();
  request(".RS 2n");
  request(".EX");
  while (!lines.empty()) {
    const std::size_t end = std::min(lines.find('\n'), lines.size());
    request(end == 0 ? std::string("\\&") : roff_literal(lines.substr(0, end)));
    lines.remove_prefix(std::min(end + 1, lines.size()));
  }
  request(".EE");
  request(".RE");
}

void ManualPage::item(std::span<const std::string> roff_tags, std::string_view text) {
  for (std::size_t i = 0; i < roff_tags.size(); ++i) {
    request(i == 0 ? ".TP" : ".TQ");
    request(roff_tags[i]);
  }
  text_line(text.empty() ? std::string("\\&") : roff_prose(text));
}

void ManualPage::begin_inside() {
  request(".RS");
}

void ManualPage::end_inside() {
  request(".RE");
}

}  // namespace rimeward
