// The lines of a file of records, one after the other, in bounded memory: however large
// the file or a line is, no more than kBuffer bytes of it are held. One thread.
//
// A line ends in LF or CRLF, the last one may end with the file; a byte order mark at the
// very beginning is passed over. Where fields may be quoted, as in CSV (RFC 4180), a
// quoted line end is part of its field; a quote that nothing closes within kLongest bytes
// ends with its line.

#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace rimeward {

struct RecordLine {
  std::size_t number = 0;    // of its first line in the file, from 1
  std::string_view text{};   // without its end; until the next one is asked for
  bool is_too_long = false;  // longer than kLongest: `text` is its beginning
};

class RecordLines {
 public:
  static constexpr std::size_t kLongest = 64 * 1024;

  // Reads on from where the file stands. REQUIRES: `file` can be read and outlives this.
  explicit RecordLines(int file);

  // From the next line on quotes may hold line ends, in fields parted by `separator`.
  void expect_quotes(char separator) { separator_ = separator; }

  // Nothing at the end. Throws std::system_error when the file cannot be read.
  std::optional<RecordLine> next();

  // Of the file, up to the end of the line that next() gave.
  std::uint64_t bytes_done() const { return before_ + begin_; }

 private:
  static constexpr std::size_t kBuffer = 16 * kLongest;

  std::string_view ahead() const;
  void fill();
  void skip_to_line_end();
  std::size_t length_of(std::string_view text) const;

  int file_;
  std::vector<char> buffer_;
  std::size_t begin_ = 0;     // of what is not yet given, in the buffer
  std::size_t end_ = 0;       // of what is read
  std::uint64_t before_ = 0;  // bytes of the file before the buffer
  bool at_end_ = false;
  std::size_t lines_ = 0;
  std::optional<char> separator_;
  std::string beginning_;  // of the last line that was too long
};

}  // namespace rimeward
