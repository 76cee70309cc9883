// One file of the spool: lines appended to its end, read back from anywhere. Not
// thread-safe: the spool locks.

#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <string_view>
#include <vector>

#include "daemon/base/arrival.h"

namespace rimeward {

class Segment {
 public:
  // Given each arrival in turn; false ends the reading.
  using Visit = std::function<bool(Arrival)>;

  Segment() = default;
  Segment(Segment&& other) noexcept;
  Segment& operator=(Segment&& other) noexcept;
  ~Segment();

  // Opens or makes the file, drops a torn last line and shows every arrival to `visit`.
  // Throws std::system_error.
  static Segment open(const std::filesystem::path& file, const Visit& visit);

  // One write() of the whole line. False when it could not be written; the file then ends
  // where it did before.
  bool append(std::string_view line, std::uint64_t sequence) noexcept;

  // Shows the arrivals after `sequence`, oldest first. False when `visit` ended it.
  // Throws std::system_error.
  bool read(std::uint64_t sequence, const Visit& visit) const;

  bool is_open() const { return descriptor_ >= 0; }
  std::uint64_t size() const { return size_; }
  std::uint64_t last_sequence() const { return last_; }  // 0: empty
  std::size_t unreadable() const { return unreadable_; }

 private:
  // Where reading can begin: no line before `offset` is after `sequence`.
  struct Mark {
    std::uint64_t sequence;
    std::uint64_t offset;
  };

  void take_up(const Visit& visit);
  void note(std::uint64_t sequence, std::uint64_t offset);

  int descriptor_ = -1;
  std::uint64_t size_ = 0;  // of the whole lines
  std::uint64_t last_ = 0;
  std::size_t unreadable_ = 0;
  bool torn_ = false;  // there may be a piece of a line after size_
  std::vector<Mark> marks_;
};

}  // namespace rimeward
