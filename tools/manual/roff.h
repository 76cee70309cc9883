// Manual pages in the language of man(7). Pure: text in, roff source out, ASCII only.

#pragma once

#include <span>
#include <string>
#include <string_view>

namespace rimeward {

// Text of a sentence. Backslashes and quotes are themselves, what is no ASCII is named, a
// hyphen that begins a word is a minus, as in an option or a number below zero; what
// stands between `backquotes` is bold.
std::string roff_prose(std::string_view text);

// The same of what is typed or shown to the letter: no hyphen may turn into another sign,
// and backquotes are themselves.
std::string roff_literal(std::string_view text);

std::string roff_bold(std::string_view literal);
std::string roff_italic(std::string_view literal);

// A page, put together from top to bottom. Texts are plain but where roff is said.
class ManualPage {
 public:
  // "rimeward", "1", "what it is".
  ManualPage(std::string_view name, std::string_view section, std::string_view what);

  // A title stands as it is; by habit a section's is in capitals.
  void section(std::string_view title);
  void subsection(std::string_view title);
  // A line feed makes a space; of nothing, nothing.
  void paragraph(std::string_view text);
  void roff_paragraph(std::string_view roff);
  // Lines as they are, each ended by a line feed.
  void example(std::string_view lines);
  // What is explained, a line of roff each, and the explanation beside it.
  void item(std::span<const std::string> roff_tags, std::string_view text);
  void item(const std::string& roff_tag, std::string_view text) {
    item({&roff_tag, 1}, text);
  }
  // What stands between the two belongs to the item before.
  void begin_inside();
  void end_inside();

  const std::string& text() const { return text_; }

 private:
  void request(std::string_view roff);
  void text_line(std::string_view roff);
  void begin_paragraph();

  std::string text_;
  bool is_below_title_ = false;  // where a paragraph needs no mark
};

}  // namespace rimeward
