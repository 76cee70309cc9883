// What a shell may offer where the cursor stands in a command line of `rimeward`: by the
// verbs' own tables, the garden and its store. Nothing here fails: what is not known is
// not offered. Pure, but that it reads the store that it is given.

#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "tools/cli/verb.h"

namespace rimeward {

// What is being typed, and what the words around it make of it.
struct CursorPlace {
  const Verb* verb = nullptr;  // null: none is named yet
  // The word as far as it is typed; of "--place=nor" only the value, the rest is `lead`.
  std::string typed{};
  std::string lead{};
  // Of an argument of several words: those before the cursor, each with a space behind
  // it.
  std::string before{};
  std::string step{};  // of a verb with steps: the one that is named; empty: none
  // The option or argument whose value it is; absent where a verb or an option is to
  // come.
  std::optional<Parameter> value{};
  std::vector<Parameter> options{};  // that can still be given
};

// `words` without the program's name; `index` of the one at the cursor, which may be one
// past the last. As bash cuts words, "--place=nor" may come as three.
CursorPlace cursor_place(std::span<const std::string> words, std::size_t index);

// The value that an option has in the line, wherever it stands.
std::optional<std::string> value_in(std::span<const std::string> words,
                                    std::string_view option);

// What is known where the line is typed.
struct Known {
  const Garden* garden = nullptr;    // null: no settings that can be read
  const Store* store = nullptr;      // null: no store that can be read
  const CropTable* crops = nullptr;  // null: not needed
};

// Whether the garden, its store, or the crop table would add anything.
bool wants_garden(const CursorPlace& place);
bool wants_store(const CursorPlace& place);
bool wants_crops(const CursorPlace& place);

// A word that fits, and what it is; no help where the word says it all.
struct Completion {
  std::string value;
  std::string help;
  bool operator==(const Completion&) const = default;
};

struct Completions {
  std::vector<Completion> values{};
  bool files = false;  // so do file names, which the shell knows better
};

Completions completions(const CursorPlace& place, const Known& known);

// For the files in config/completion: a line for each value, a tabulator before its help,
// then ":files" or ":done". A value that a shell might take for more than a word is left
// out, and its help is printable.
std::string completion_lines(const Completions& found, const Screen& screen);

}  // namespace rimeward
