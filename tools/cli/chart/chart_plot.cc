#include "tools/cli/chart/chart_plot.h"

#include <algorithm>
#include <array>
#include <map>
#include <optional>

#include <fmt/format.h>

#include "tools/cli/chart/braille_canvas.h"

namespace rimeward {
namespace {

constexpr std::size_t kBetweenLetters =
    24;                            // columns from one letter on a curve to the next
constexpr std::size_t kAside = 6;  // how far a letter may move for a free place
constexpr std::array kInks{Ink::kCyan, Ink::kGreen,  Ink::kMagenta,
                           Ink::kBlue, Ink::kYellow, Ink::kRed};

// A curve's dots: both edges of what its points came to, which for single readings are
// one line.
BrailleCanvas canvas_of(const ScreenLayout& layout, const Chart::Line& line) {
  BrailleCanvas canvas(layout.columns, layout.scale.rows());
  for (const std::vector<Chart::Point>& piece : line.pieces) {
    const Chart::Point* last = &piece.front();
    for (const Chart::Point& point : piece) {
      const int from = layout.dot_of(last->at);
      const int to = layout.dot_of(point.at);
      canvas.line(from, layout.scale.dot_of(last->low), to,
                  layout.scale.dot_of(point.low));
      canvas.line(from, layout.scale.dot_of(last->high), to,
                  layout.scale.dot_of(point.high));
      last = &point;
    }
  }
  return canvas;
}

class Plot {
 public:
  explicit Plot(const ScreenLayout& layout)
      : layout_(layout), panel_(layout.columns, layout.scale.rows()) {
    for (const Chart::Line& line : layout.chart().lines)
      curves_.push_back(canvas_of(layout, line));
  }

  std::vector<std::string> lines();

 private:
  std::string character_of(BrailleDots dots, std::size_t owner) const;
  void put_curves();
  void put_letters(std::size_t number);
  bool put_letter_near(std::size_t number, std::size_t column);
  void put_end(std::size_t number);
  void put_marks();
  void put_across(std::size_t row, const std::vector<std::string>& labels,
                  std::string_view character, Ink ink);
  bool put_label(std::size_t row, const std::string& label, Ink ink);
  void put_nights();
  std::vector<std::string> names_by_row() const;
  std::string axis_at(std::size_t row) const;

  // The lowest and highest row of a curve in a column; nothing where it has no dot.
  struct Rows {
    std::size_t first = 0;
    std::size_t last = 0;
  };
  std::optional<Rows> rows_of(std::size_t number, std::size_t column) const;
  bool is_alone(std::size_t number, std::size_t column, std::size_t row) const;
  std::optional<std::size_t> last_column(std::size_t number) const;

  const ScreenLayout& layout_;
  ChartPanel panel_;
  std::vector<BrailleCanvas> curves_;
  std::map<std::size_t, std::vector<std::size_t>>
      ends_;  // row: the curves that end there
};

std::string Plot::character_of(BrailleDots dots, std::size_t owner) const {
  if (layout_.screen.utf8) return braille_character(dots);
  const std::string& letter = layout_.letters[owner];
  return letter.empty() ? std::string(1, ascii_character(dots)) : letter;
}

void Plot::put_curves() {
  for (std::size_t row = 0; row < panel_.rows(); ++row) {
    for (std::size_t column = 0; column < panel_.columns(); ++column) {
      BrailleDots all = 0;
      std::size_t owner = 0;
      for (std::size_t i = curves_.size(); i > 0; --i) {
        const BrailleDots dots = curves_[i - 1].dots(column, row);
        if (dots == 0) continue;
        all = static_cast<BrailleDots>(all | dots);
        owner = i - 1;
      }
      if (all == 0) continue;
      panel_.put(column, row, character_of(all, owner), ink_of(layout_, owner));
    }
  }
}

std::optional<Plot::Rows> Plot::rows_of(std::size_t number, std::size_t column) const {
  std::optional<Rows> rows;
  for (std::size_t row = 0; row < panel_.rows(); ++row) {
    if (curves_[number].dots(column, row) == 0) continue;
    if (!rows) rows = Rows{row, row};
    rows->last = row;
  }
  return rows;
}

bool Plot::is_alone(std::size_t number, std::size_t column, std::size_t row) const {
  for (std::size_t i = 0; i < curves_.size(); ++i) {
    if (i != number && curves_[i].dots(column, row) != 0) return false;
  }
  return true;
}

std::optional<std::size_t> Plot::last_column(std::size_t number) const {
  for (std::size_t column = panel_.columns(); column > 0; --column) {
    if (rows_of(number, column - 1)) return column - 1;
  }
  return std::nullopt;
}

// In the column itself or one close by, where no other curve runs.
bool Plot::put_letter_near(std::size_t number, std::size_t column) {
  for (std::size_t aside = 0; aside < kAside; ++aside) {
    if (column + aside >= panel_.columns()) return false;
    const auto rows = rows_of(number, column + aside);
    if (!rows || !is_alone(number, column + aside, rows->last)) continue;
    panel_.put(column + aside, rows->last, layout_.letters[number],
               ink_of(layout_, number));
    return true;
  }
  return false;
}

void Plot::put_letters(std::size_t number) {
  const std::size_t first = 2 + number * kBetweenLetters / curves_.size();
  for (std::size_t column = first; column < panel_.columns(); column += kBetweenLetters)
    put_letter_near(number, column);
}

// A curve that ends before the plot does has its letter there, where it finds room.
void Plot::put_end(std::size_t number) {
  const auto column = last_column(number);
  if (!column) return;
  const std::size_t row = rows_of(number, *column)->last;
  if (*column + 2 >= panel_.columns()) {
    ends_[row].push_back(number);
    return;
  }
  // Beside it, then below and above: a row before the first is none.
  for (const std::size_t beside : {row, row + 1, row - 1}) {
    for (const std::size_t aside : {*column + 1, *column + 2}) {
      if (!panel_.is_free(aside, beside)) continue;
      panel_.put(aside, beside, layout_.letters[number], ink_of(layout_, number));
      return;
    }
  }
}

// A line across behind the curves, with the first of the labels that has room.
void Plot::put_across(std::size_t row, const std::vector<std::string>& labels,
                      std::string_view character, Ink ink) {
  for (const std::string& label : labels) {
    if (put_label(row, label, ink)) break;
  }
  for (std::size_t column = 0; column < panel_.columns(); ++column)
    panel_.fill(column, row, character, ink);
}

bool Plot::put_label(std::size_t row, const std::string& label, Ink ink) {
  const std::size_t needed = label.size() + 2;
  for (std::size_t column = 1; column + needed < panel_.columns(); ++column) {
    if (!panel_.is_free(column, row, needed)) continue;
    panel_.write(column, row, " " + label + " ", ink);
    return true;
  }
  return false;
}

// The letters of the places whose keep-above falls on a row, by its value.
using KeepAbove = std::map<std::string, std::string>;

// "keep N S above 1.0"; where that has no room, "N S 1.0".
std::vector<std::string> keep_labels(const KeepAbove& values, bool freezing) {
  std::string in_full;
  std::string in_short;
  for (const auto& [value, letters] : values) {
    in_full +=
        fmt::format("{}{}above {}", in_full.empty() ? "keep " : ", ", letters, value);
    in_short += fmt::format("{}{}{}", in_short.empty() ? "" : ", ", letters, value);
  }
  if (freezing) in_full += ", freezing";
  return {in_full, in_short};
}

void Plot::put_marks() {
  const ValueScale& scale = layout_.scale;
  std::map<std::size_t, KeepAbove> keep;  // by row
  for (std::size_t i = 0; i < curves_.size(); ++i) {
    const auto value = layout_.chart().lines[i].keep_above;
    if (!value || !scale.holds(*value) || !last_column(i)) continue;
    std::string& letters =
        keep[scale.row_of(*value)][chart_number(*value, layout_.chart().unit)];
    letters += layout_.letters[i].empty() ? "" : layout_.letters[i] + " ";
  }
  std::optional<std::size_t> freezing;
  if (const auto point = freezing_point(layout_.chart()); point && scale.holds(*point)) {
    freezing = scale.row_of(*point);
  }
  for (const auto& [row, values] : keep) {
    put_across(row, keep_labels(values, row == freezing), layout_.screen.utf8 ? "╌" : "-",
               Ink::kYellow);
  }
  if (freezing) {
    put_across(*freezing, {"freezing"}, layout_.screen.utf8 ? "─" : "_", Ink::kBlue);
  }
}

void Plot::put_nights() {
  for (const Chart::Span& night : layout_.chart().nights) {
    const std::size_t last = layout_.column_of(night.to);
    for (std::size_t column = layout_.column_of(night.from); column <= last; ++column) {
      for (std::size_t row = 0; row < panel_.rows(); ++row)
        panel_.fill(column, row, layout_.screen.utf8 ? "░" : ".", Ink::kFaint);
    }
  }
}

// Each on a row of its own, as near as can be to where its curve ends.
std::vector<std::string> Plot::names_by_row() const {
  std::vector<std::size_t> order;
  std::vector<std::size_t> rows;
  for (const auto& [row, numbers] : ends_) {
    for (const std::size_t number : numbers) {
      order.push_back(number);
      rows.push_back(rows.empty() ? row : std::max(row, rows.back() + 1));
    }
  }
  std::size_t most = panel_.rows();
  for (std::size_t i = rows.size(); i > 0; --i)
    most = rows[i - 1] = std::min(rows[i - 1], most - 1);
  std::vector<std::string> names(panel_.rows());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    names[rows[i]] =
        " " + inked(layout_.names[order[i]], ink_of(layout_, order[i]), layout_.screen);
  }
  return names;
}

std::string Plot::axis_at(std::size_t row) const {
  const auto label = layout_.scale.label(row);
  const bool utf8 = layout_.screen.utf8;
  return fmt::format("{:>{}} {}", label.value_or(""), layout_.left - 1,
                     label ? (utf8 ? "┤" : "+") : (utf8 ? "│" : "|"));
}

std::vector<std::string> Plot::lines() {
  put_curves();
  if (curves_.size() > 1) {
    for (std::size_t i = 0; i < curves_.size(); ++i) {
      if (layout_.screen.utf8) put_letters(i);
      put_end(i);
    }
  }
  put_marks();
  put_nights();
  const std::vector<std::string> names = names_by_row();
  std::vector<std::string> lines;
  for (std::size_t row = 0; row < panel_.rows(); ++row) {
    const bool named = !names[row].empty();
    const std::string plot =
        named ? panel_.whole_line(row, layout_.screen) : panel_.line(row, layout_.screen);
    lines.push_back(axis_at(row) + plot + names[row]);
  }
  return lines;
}

}  // namespace

std::vector<std::string> plot_lines(const ScreenLayout& layout) {
  return Plot(layout).lines();
}

Ink ink_of(const ScreenLayout& layout, std::size_t number) {
  return layout.letters.size() < 2 ? Ink::kCyan : kInks.at(number % kInks.size());
}

}  // namespace rimeward
