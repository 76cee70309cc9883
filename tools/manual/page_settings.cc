#include <algorithm>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include <fmt/format.h>

#include "tools/manual/pages.h"
#include "tools/manual/roff.h"

namespace rimeward {
namespace {

// How config/garden.toml is written: comments stand above the keys, or the table, that
// they explain, a short one behind its key; an empty line ends a block. A line in a
// comment that is set in is an entry of a list: a word or more, two spaces or more, and
// what it means, which may go on in lines that are set in further. A table of a kind that
// may be repeated is there several times, for the keys that only some of them have.

struct KeyLine {
  std::string key;
  std::string value;    // as it is written, of several lines all of them
  std::string comment;  // behind it
};

struct Block {
  std::vector<std::string> comment;  // lines, without the sign
  std::vector<std::string> tables;   // "[[place]]" lines in it
  std::vector<KeyLine> keys;
};

std::string_view trimmed_right(std::string_view text) {
  return text.substr(0, text.find_last_not_of(' ') + 1);
}

// Where a comment begins behind a value: at a # that is in no quotes.
std::size_t comment_in(std::string_view line) {
  bool is_quoted = false;
  for (std::size_t i = 0; i < line.size(); ++i) {
    if (line[i] == '"') is_quoted = !is_quoted;
    if (line[i] == '#' && !is_quoted) return i;
  }
  return std::string_view::npos;
}

KeyLine key_line(std::string_view line) {
  const std::size_t equals = line.find('=');
  const std::size_t comment = comment_in(line);
  KeyLine result;
  result.key = trimmed_right(line.substr(0, equals));
  const std::string_view value = line.substr(equals + 1);
  const std::size_t begin = std::min(value.find_first_not_of(' '), value.size());
  const std::size_t end =
      comment == std::string_view::npos ? value.size() : comment - equals - 1;
  result.value = trimmed_right(value.substr(begin, end - begin));
  if (comment != std::string_view::npos) {
    std::string_view said = line.substr(comment + 1);
    said.remove_prefix(std::min(said.find_first_not_of(' '), said.size()));
    result.comment = said;
  }
  return result;
}

bool is_rule(std::string_view line) {
  return line.starts_with("# ----");
}

// The file cut at its empty lines and rules.
class Reading {
 public:
  void read(std::string_view line) {
    if (is_open_value_) return go_on_with_value(line);
    if (line.empty() || is_rule(line)) return end_block();
    if (line.starts_with('#')) {
      // A comment below keys explains what follows it.
      if (!block_.keys.empty()) end_block();
      line.remove_prefix(
          std::min<std::size_t>(line.starts_with("# ") ? 2 : 1, line.size()));
      block_.comment.emplace_back(line);
    } else if (line.starts_with('[')) {
      block_.tables.emplace_back(line);
    } else if (line.find('=') != std::string_view::npos) {
      block_.keys.push_back(key_line(line));
      is_open_value_ = block_.keys.back().value == "[";
    }
  }

  std::vector<Block> end() {
    end_block();
    return std::move(blocks_);
  }

 private:
  void end_block() {
    const bool is_empty =
        block_.comment.empty() && block_.tables.empty() && block_.keys.empty();
    if (!is_empty) blocks_.push_back(std::move(block_));
    block_ = {};
  }

  void go_on_with_value(std::string_view line) {
    block_.keys.back().value += fmt::format("\n{}", line);
    is_open_value_ = !line.starts_with(']');
  }

  std::vector<Block> blocks_;
  Block block_;
  bool is_open_value_ = false;
};

std::vector<Block> blocks_in(std::string_view toml) {
  Reading reading;
  while (!toml.empty()) {
    const std::size_t end = std::min(toml.find('\n'), toml.size());
    reading.read(trimmed_right(toml.substr(0, end)));
    toml.remove_prefix(std::min(end + 1, toml.size()));
  }
  return reading.end();
}

std::size_t indent_of(std::string_view line) {
  return std::min(line.find_first_not_of(' '), line.size());
}

// A piece of a comment: a paragraph, or with a tag an entry of a list.
struct Piece {
  std::size_t indent = 0;
  std::string tag;
  std::string text;
};

Piece piece_of(std::string_view line) {
  Piece piece{.indent = indent_of(line), .tag = {}, .text = {}};
  line.remove_prefix(piece.indent);
  const std::size_t gap = piece.indent < 2 ? 0 : std::min(line.find("  "), line.size());
  piece.tag = line.substr(0, gap);
  line.remove_prefix(gap);
  piece.text = line.substr(indent_of(line));
  return piece;
}

std::vector<Piece> pieces_of(const std::vector<std::string>& comment) {
  std::vector<Piece> pieces;
  bool is_begun = false;  // the last piece may go on
  for (const std::string& line : comment) {
    const std::size_t indent = indent_of(line);
    if (line.empty()) {
      is_begun = false;
      continue;
    }
    const bool goes_on =
        is_begun &&
        (pieces.back().tag.empty() ? indent < 2 : indent > pieces.back().indent);
    if (goes_on) {
      pieces.back().text += fmt::format(" {}", line.substr(indent));
    } else {
      pieces.push_back(piece_of(line));
    }
    is_begun = true;
  }
  return pieces;
}

// "garden" of "[garden]", "place" of "[[place]]".
std::string_view bare(std::string_view table) {
  const std::size_t begin = std::min(table.find_first_not_of('['), table.size());
  return table.substr(begin, table.find(']') - begin);
}

class Page {
 public:
  explicit Page(ManualPage& page) : page_(page) {}

  void add(const Block& block) {
    const bool begins = !block.tables.empty() && bare(block.tables.front()) != table_;
    if (begins) begin_table(block.tables.front());
    const std::vector<Piece> pieces = pieces_of(block.comment);
    const bool is_new = std::ranges::any_of(
        block.keys, [this](const KeyLine& key) { return !is_told(key.key); });
    if (!block.tables.empty() || block.keys.empty()) {
      add_pieces(pieces);
      if (is_new) {
        add_keys(block.keys, {});
      } else if (!block.keys.empty()) {
        page_.example(lines_of(block));
      }
    } else {
      add_keys(block.keys, pieces);
    }
    for (const KeyLine& key : block.keys)
      told_.push_back(key.key);
  }

 private:
  bool is_told(std::string_view key) const {
    return std::ranges::find(told_, key) != told_.end();
  }

  void begin_table(std::string_view table) {
    table_ = bare(table);
    told_.clear();
    page_.section(table);
  }

  void add_pieces(std::span<const Piece> pieces) {
    for (const Piece& piece : pieces) {
      if (piece.tag.empty()) {
        page_.paragraph(piece.text);
      } else if (piece.text.empty()) {
        page_.roff_paragraph(roff_literal(piece.tag));
      } else {
        page_.item(roff_literal(piece.tag), piece.text);
      }
    }
  }

  // Keys that say themselves what they are stand below what is said of all of them.
  void add_keys(std::span<const KeyLine> keys, std::span<const Piece> pieces) {
    const bool speak = std::ranges::any_of(
        keys, [](const KeyLine& key) { return !key.comment.empty(); });
    if (speak || pieces.empty()) {
      add_pieces(pieces);
      for (const KeyLine& key : keys)
        add_item({&key, 1}, key.comment);
      return;
    }
    const bool has_text = pieces.front().tag.empty();
    add_item(keys, has_text ? pieces.front().text : "");
    const auto further = pieces.subspan(has_text ? 1 : 0);
    if (further.empty() && std::ranges::none_of(keys, is_long)) return;
    page_.begin_inside();
    for (const KeyLine& key : keys) {
      if (is_long(key)) page_.roff_paragraph(roff_literal(in_one_line(key)));
    }
    add_pieces(further);
    page_.end_inside();
  }

  static bool is_long(const KeyLine& key) {
    return key.value.find('\n') != std::string::npos;
  }

  static std::string in_one_line(const KeyLine& key) {
    std::string line = key.key + " = ";
    for (const char letter : key.value) {
      if (letter != '\n') {
        if (letter != ' ' || !line.ends_with(' ')) line += letter;
      } else if (!line.ends_with(' ')) {
        line += ' ';
      }
    }
    return line;
  }

  void add_item(std::span<const KeyLine> keys, std::string_view text) {
    std::vector<std::string> tags;
    for (const KeyLine& key : keys) {
      tags.push_back(roff_bold(key.key));
      if (!is_long(key)) tags.back() += roff_literal(" = " + key.value);
    }
    page_.item(tags, text);
  }

  static std::string lines_of(const Block& block) {
    std::string lines;
    for (const std::string& table : block.tables)
      lines += fmt::format("{}\n", table);
    for (const KeyLine& key : block.keys)
      lines += fmt::format("{} = {}\n", key.key, key.value);
    return lines;
  }

  ManualPage& page_;
  std::string table_;
  std::vector<std::string> told_;  // keys of this table
};

}  // namespace

std::string page_of_settings(std::string_view garden_toml) {
  ManualPage page("rimeward.toml", "5", "the settings of rimewardd and rimeward");
  page.section("DESCRIPTION");
  page.paragraph(
      "The settings of `rimewardd` and `rimeward` are a TOML file, "
      "/etc/rimeward/garden.toml "
      "where no other is named. This page is made of the example that comes with the "
      "programs: each key stands with the value that it has there.");
  Page body(page);
  for (const Block& block : blocks_in(garden_toml))
    body.add(block);
  page.section("FILES");
  page.item(roff_italic("/etc/rimeward/garden.toml"),
            "The settings. `rimeward check` tells every mistake in them.");
  page.section("SEE ALSO");
  page.roff_paragraph(
      fmt::format("{}(1), {}(8)", roff_bold("rimeward"), roff_bold("rimewardd")));
  return page.text();
}

}  // namespace rimeward
