#include "tools/cli/records/record_lines.h"

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <system_error>

#include <unistd.h>

namespace rimeward {
namespace {

constexpr std::size_t kShown = 40;  // of a line that is too long
constexpr std::string_view kByteOrderMark = "\xef\xbb\xbf";

// Where the line that `text` begins with ends, at an LF that is not quoted, or with the
// text; nothing where that ends within quotes.
std::optional<std::size_t> unquoted_end(std::string_view text, char separator) {
  bool quoted = false;
  bool at_field_start = true;
  bool field_is_quoted = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char letter = text[i];
    if (quoted) {
      quoted = letter != '"';
    } else if (letter == '\n') {
      return i;
    } else if (letter == '"') {
      // Of two quotes within a quoted field the second opens it again.
      quoted = at_field_start || (field_is_quoted && text[i - 1] == '"');
      field_is_quoted = field_is_quoted || at_field_start;
      at_field_start = false;
    } else {
      at_field_start = letter == separator;
      field_is_quoted = field_is_quoted && !at_field_start;
    }
  }
  return quoted ? std::nullopt : std::optional(text.size());
}

}  // namespace

RecordLines::RecordLines(int file) : file_(file), buffer_(kBuffer) {}

std::string_view RecordLines::ahead() const {
  return {buffer_.data() + begin_, end_ - begin_};
}

// Until there is more than a line's worth ahead, or the file ends.
void RecordLines::fill() {
  if (end_ - begin_ > kLongest || at_end_) return;
  std::memmove(buffer_.data(), buffer_.data() + begin_, end_ - begin_);
  before_ += begin_;
  end_ -= begin_;
  begin_ = 0;
  while (end_ <= kLongest) {
    const auto got = read(file_, buffer_.data() + end_, buffer_.size() - end_);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) throw std::system_error(errno, std::generic_category(), "reading");
    if (got == 0) {
      at_end_ = true;
      return;
    }
    end_ += static_cast<std::size_t>(got);
  }
}

void RecordLines::skip_to_line_end() {
  while (begin_ != end_) {
    const std::size_t end = ahead().find('\n');
    if (end != std::string_view::npos) {
      begin_ += end + 1;
      return;
    }
    begin_ = end_;
    fill();
  }
}

// Of the line that `text` begins with, without its LF; npos: `text` has no end of it.
std::size_t RecordLines::length_of(std::string_view text) const {
  const std::size_t first_end = text.find('\n');
  if (!separator_ || text.substr(0, first_end).find('"') == std::string_view::npos) {
    return first_end;
  }
  const auto end = unquoted_end(text, *separator_);
  const bool is_whole = end && (*end < text.size() || text.size() <= kLongest);
  return is_whole ? *end : first_end;
}

std::optional<RecordLine> RecordLines::next() {
  fill();
  if (lines_ == 0 && ahead().starts_with(kByteOrderMark)) begin_ += kByteOrderMark.size();
  if (begin_ == end_) return std::nullopt;
  RecordLine line{.number = ++lines_};
  const std::string_view text = ahead().substr(0, kLongest + 1);
  const std::size_t length = length_of(text);
  if (length == std::string_view::npos && text.size() > kLongest) {
    beginning_ = text.substr(0, kShown);
    skip_to_line_end();
    line.text = beginning_;
    line.is_too_long = true;
    return line;
  }
  line.text = text.substr(0, length);
  begin_ += std::min(line.text.size() + 1, text.size());
  if (separator_) lines_ += static_cast<std::size_t>(std::ranges::count(line.text, '\n'));
  if (line.text.ends_with('\r')) line.text.remove_suffix(1);
  return line;
}

}  // namespace rimeward
