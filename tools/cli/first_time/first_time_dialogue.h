// Questions with a default, asked until there is a good answer. One thread.

#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/garden.h"
#include "sensors/result.h"
#include "tools/cli/verb.h"

namespace rimeward {

// Nobody answers any more: interrupted, or the end of the input. An exception, for it
// ends the whole dialogue wherever in it that is; caught where that begins, and nowhere
// else.
struct Interrupted {};

struct Question {
  std::string asks;  // one line, with its question mark
  // Shown in brackets, and what Enter answers. Empty: there is none.
  std::string usual{};
  std::string help{};  // for "?": what it is for, in two lines
  // Enter is an answer of its own, "".
  bool may_be_empty = false;
};

class Dialogue {
 public:
  // `around` outlives this. REQUIRES: it has a Conversation.
  explicit Dialogue(const Surroundings& around) : around_(around) {}

  const Screen& screen() const { return around_.screen; }

  // Paragraphs, wrapped and made printable.
  void say(std::string_view text, std::size_t indent = 0) const;
  // An empty line.
  void pause() const { around_.conversation->tell("\n"); }
  // Lines that stand as they are. REQUIRES: they are printable.
  void show(std::string_view lines) const { around_.conversation->tell(lines); }

  // What was typed, without spaces around it, or what is usual. Throws Interrupted.
  std::string ask(const Question& question) const;

  // Asks until `read`, a Result of the answer, takes what was typed; says why it does
  // not.
  template <class Read>
  auto ask(const Question& question, Read read) const {
    while (true) {
      auto answer = read(ask(question));
      if (answer) return *std::move(answer);
      say(sentence(answer.error().message), kIndent);
    }
  }

  // One of some words, or the beginning that only one of them has, or its number from 1.
  std::size_t choose(const Question& question,
                     const std::vector<std::string_view>& words) const;
  bool agrees(std::string_view question, bool usual) const;

  // False: interrupted meanwhile.
  bool wait(std::chrono::seconds span) const {
    return around_.conversation->wait(span).has_value();
  }

 private:
  static constexpr std::size_t kIndent = 2;
  static std::string sentence(std::string text);

  const Surroundings& around_;
};

// The index of the word that was meant. Pure.
Result<std::size_t> choice_from_text(std::string_view typed,
                                     const std::vector<std::string_view>& words);

// A text for the settings file: UTF-8 without control characters and not too long.
Result<std::string> fit_text(std::string typed);

// A temperature as it is shown, with a point or a comma, perhaps with its unit.
Result<Celsius> temperature_from_text(std::string_view typed, TemperatureUnit unit);

// A duration as people type it; a bare number is one of seconds.
Result<std::chrono::seconds> span_from_text(std::string_view typed);

}  // namespace rimeward
