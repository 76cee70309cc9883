#include "daemon/ingest/segment.h"

#include <algorithm>
#include <cerrno>
#include <string>
#include <system_error>
#include <utility>

#include <fcntl.h>
#include <unistd.h>

namespace rimeward {
namespace {

constexpr std::uint64_t kBetweenMarks = 64U << 10U;
constexpr std::size_t kChunk = 256U << 10U;

[[noreturn]] void fail(const char* what) {
  throw std::system_error(errno, std::generic_category(), what);
}

// Up to `bytes` from `offset`; less only at the end of the file.
std::string read_at(int descriptor, std::uint64_t offset, std::size_t bytes) {
  std::string chunk(bytes, '\0');
  std::size_t filled = 0;
  while (filled < bytes) {
    const auto got = ::pread(descriptor, chunk.data() + filled, bytes - filled,
                             static_cast<off_t>(offset + filled));
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) fail("reading");
    if (got == 0) break;
    filled += static_cast<std::size_t>(got);
  }
  chunk.resize(filled);
  return chunk;
}

// Shows each whole line from `offset` on, with its own offset; a piece without a newline
// at the end is left out. Returns where the last whole line ends.
std::uint64_t each_line(
    int descriptor, std::uint64_t offset,
    const std::function<bool(std::string_view, std::uint64_t)>& visit) {
  std::string rest;
  std::uint64_t begins = offset;  // of `rest` in the file
  for (;;) {
    const std::string chunk = read_at(descriptor, begins + rest.size(), kChunk);
    if (chunk.empty()) return begins;
    rest += chunk;
    std::size_t at = 0;
    for (auto end = rest.find('\n'); end != std::string::npos;
         end = rest.find('\n', at)) {
      if (!visit(std::string_view(rest).substr(at, end - at), begins + at)) return begins;
      at = end + 1;
    }
    rest.erase(0, at);
    begins += at;
  }
}

}  // namespace

Segment::Segment(Segment&& other) noexcept {
  *this = std::move(other);
}

Segment& Segment::operator=(Segment&& other) noexcept {
  if (this == &other) return *this;
  if (descriptor_ >= 0) ::close(descriptor_);
  descriptor_ = std::exchange(other.descriptor_, -1);
  size_ = std::exchange(other.size_, 0);
  last_ = std::exchange(other.last_, 0);
  unreadable_ = std::exchange(other.unreadable_, 0);
  torn_ = std::exchange(other.torn_, false);
  marks_ = std::exchange(other.marks_, {});
  return *this;
}

Segment::~Segment() {
  if (descriptor_ >= 0) ::close(descriptor_);
}

Segment Segment::open(const std::filesystem::path& file, const Visit& visit) {
  Segment segment;
  segment.descriptor_ =
      ::open(file.c_str(), O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0640);
  if (segment.descriptor_ < 0) fail("opening");
  segment.take_up(visit);
  return segment;
}

void Segment::take_up(const Visit& visit) {
  size_ = each_line(descriptor_, 0, [&](std::string_view line, std::uint64_t offset) {
    if (line.starts_with('#')) return true;
    auto arrival = arrival_from_line(line);
    if (!arrival) {
      ++unreadable_;
      return true;
    }
    note(arrival->sequence, offset);
    return visit(std::move(*arrival));
  });
  if (::ftruncate(descriptor_, static_cast<off_t>(size_)) != 0) {
    fail("dropping a torn last line");
  }
}

void Segment::note(std::uint64_t sequence, std::uint64_t offset) {
  if (marks_.empty() || offset - marks_.back().offset >= kBetweenMarks) {
    marks_.push_back({last_, offset});
  }
  last_ = std::max(last_, sequence);
}

bool Segment::append(std::string_view line, std::uint64_t sequence) noexcept {
  if (torn_ && ::ftruncate(descriptor_, static_cast<off_t>(size_)) != 0) return false;
  torn_ = false;
  std::size_t written = 0;
  while (written < line.size()) {
    const auto put = ::write(descriptor_, line.data() + written, line.size() - written);
    if (put < 0 && errno == EINTR) continue;
    if (put <= 0) {
      torn_ = ::ftruncate(descriptor_, static_cast<off_t>(size_)) != 0;
      return false;
    }
    written += static_cast<std::size_t>(put);
  }
  try {
    note(sequence, size_);
  } catch (const std::bad_alloc&) {
    last_ = std::max(last_, sequence);  // reading begins at an earlier mark then
  }
  size_ += line.size();
  return true;
}

bool Segment::read(std::uint64_t sequence, const Visit& visit) const {
  const auto beyond = std::ranges::upper_bound(marks_, sequence, {}, &Mark::sequence);
  const std::uint64_t offset = beyond == marks_.begin() ? 0 : std::prev(beyond)->offset;
  bool on = true;
  each_line(descriptor_, offset, [&](std::string_view line, std::uint64_t /*offset*/) {
    auto arrival = arrival_from_line(line);
    if (arrival && arrival->sequence > sequence) on = visit(std::move(*arrival));
    return on;
  });
  return on;
}

}  // namespace rimeward
