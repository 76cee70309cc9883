#include "daemon/ingest/spool.h"

#include <algorithm>
#include <cerrno>
#include <deque>
#include <mutex>
#include <new>
#include <sstream>
#include <system_error>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/ingest/note.h"
#include "daemon/ingest/segment.h"

namespace rimeward {
namespace {

namespace fs = std::filesystem;

// A broker that was stopped with a day's messages waiting delivers thousands once more
// that it had been told of.
constexpr std::size_t kRemembered = 10'000;
constexpr std::uint64_t kWorthCutting = 64U << 10U;

// What tells one message from another, without its bytes: so many payloads of 64 KiB
// would be more than the whole daemon may take.
using Fingerprint = std::uint64_t;

// FNV-1a with 64 bits, offset basis and prime from the authors' page (from memory). Its
// own, because std::hash has 32 bits on a 32-bit board.
Fingerprint hashed(std::string_view text, Fingerprint hash) {
  for (const char c : text) {
    hash ^= static_cast<unsigned char>(c);
    hash *= 0x100000001b3U;
  }
  return hash;
}

// Of topic, payload, its whole length and packet id, with a zero byte between.
Fingerprint fingerprint_of(const Arrival& arrival) {
  const std::string_view zero("\0", 1);
  Fingerprint hash = hashed(zero, hashed(arrival.topic, 0xcbf29ce484222325U));
  hash = hashed(zero, hashed(arrival.payload, hash));
  return hashed(fmt::format("{} {}", arrival.payload_bytes, arrival.packet_id), hash);
}

SpoolError trouble(const fs::path& folder, const std::system_error& error) {
  return SpoolError{fmt::format(
      "spool {}: {}; give the daemon's user a folder that it may write to and that has "
      "room, in [store] spool",
      folder.string(), error.what())};
}

// Holds the folder for this process for as long as it lives.
class FolderLock {
 public:
  explicit FolderLock(const fs::path& folder)
      : descriptor_(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC)) {
    if (descriptor_ < 0) {
      throw std::system_error(errno, std::generic_category(), "opening the folder");
    }
    if (::flock(descriptor_, LOCK_EX | LOCK_NB) == 0) return;
    ::close(descriptor_);
    throw SpoolError{fmt::format(
        "spool {}: in use by another process; stop the other rimewardd, or give this "
        "one its own [store] spool",
        folder.string())};
  }
  ~FolderLock() { ::close(descriptor_); }
  FolderLock(const FolderLock&) = delete;
  FolderLock& operator=(const FolderLock&) = delete;

 private:
  int descriptor_;
};

void make_folder(const fs::path& folder) {
  if (fs::is_directory(folder)) return;
  fs::create_directories(folder);
  fs::permissions(folder, fs::perms{0750});
}

}  // namespace

class Spool::Impl {
 public:
  Impl(const fs::path& folder, std::uint64_t committed, std::uint64_t limit_bytes,
       const std::string& boot)
      : folder_(folder), lock_(folder), limit_(limit_bytes), committed_(committed) {
    const auto remember = [this](const Arrival& arrival) {
      note(fingerprint_of(arrival));
      return true;
    };
    older_ = Segment::open(folder_ / "older.log", remember);
    newer_ = Segment::open(folder_ / "newer.log", remember);
    last_ = std::max({older_.last_sequence(), newer_.last_sequence(), committed});
    first_of_boot_ = first_since(boot, last_ + 1);
  }

  Kept append(Arrival& arrival) {
    const std::lock_guard lock(mutex_);
    const Fingerprint fingerprint = fingerprint_of(arrival);
    if (arrival.redelivered && std::ranges::find(recent_, fingerprint) != recent_.end()) {
      return Kept::kSeenBefore;
    }
    arrival.sequence = ++last_;
    const std::string line = to_line(arrival);
    if (waiting_bytes() + line.size() > limit_ || !ready()) return Kept::kNotSafe;
    if (!newer_.append(line, arrival.sequence)) return Kept::kNotSafe;
    note(fingerprint);
    return Kept::kKept;
  }

  // For the caller whose append came to nothing: a sequence all the same.
  std::uint64_t next_sequence() noexcept {
    const std::lock_guard lock(mutex_);
    return ++last_;
  }

  std::vector<Arrival> after(std::uint64_t sequence, std::size_t most) const {
    const std::lock_guard lock(mutex_);
    std::vector<Arrival> arrivals;
    if (most == 0) return arrivals;
    const auto take = [&](Arrival arrival) {
      if (arrival.sequence < first_of_boot_) arrival.uptime.reset();
      arrivals.push_back(std::move(arrival));
      return arrivals.size() < most;
    };
    const bool on = older_.last_sequence() <= sequence || older_.read(sequence, take);
    if (on && newer_.is_open()) newer_.read(sequence, take);
    return arrivals;
  }

  void cut(std::uint64_t committed) {
    const std::lock_guard lock(mutex_);
    committed_ = std::max(committed_, committed);
    if (newer_.size() < kWorthCutting || older_.last_sequence() > committed_) return;
    fs::rename(folder_ / "newer.log", folder_ / "older.log");
    older_ = std::move(newer_);
    open_newer();
  }

  std::uint64_t last_sequence() const {
    const std::lock_guard lock(mutex_);
    return last_;
  }

  std::size_t unreadable() const { return older_.unreadable() + newer_.unreadable(); }

  const fs::path& folder() const { return folder_; }

 private:
  // The first sequence of this boot: `next`, unless the process was only restarted.
  // Without a note that could be written, all that is spooled counts as older at the next
  // start.
  std::uint64_t first_since(const std::string& boot, std::uint64_t next) const {
    const fs::path file = folder_ / "boot";
    std::istringstream note(read_note(file));
    std::string noted;
    std::uint64_t first = 0;
    if (note >> noted >> first && noted == boot) return first;
    if (!boot.empty()) write_note(file, fmt::format("{} {}", boot, next));
    return next;
  }

  // Of what is not in the store, to the segment: a segment in the store whole does not
  // count, or a spool that was once full could never be cut again.
  std::uint64_t waiting_bytes() const {
    return newer_.size() + (older_.last_sequence() > committed_ ? older_.size() : 0);
  }

  void note(const Fingerprint& fingerprint) {
    recent_.push_back(fingerprint);
    if (recent_.size() > kRemembered) recent_.pop_front();
  }

  void open_newer() {
    newer_ = Segment::open(folder_ / "newer.log", [](const Arrival&) { return true; });
  }

  // The newer segment may be missing when the disk was full as it was to be made.
  bool ready() {
    if (!newer_.is_open()) open_newer();
    return newer_.is_open();
  }

  const fs::path folder_;
  const FolderLock lock_;
  const std::uint64_t limit_;

  mutable std::mutex mutex_;
  // Guarded by mutex_.
  Segment older_;
  Segment newer_;
  std::uint64_t committed_;
  std::uint64_t last_ = 0;
  std::uint64_t first_of_boot_ = 0;
  std::deque<Fingerprint> recent_;
};

Spool::Spool(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
Spool::~Spool() = default;

std::unique_ptr<Spool> Spool::open(const fs::path& folder, std::uint64_t committed,
                                   std::uint64_t limit_bytes, const std::string& boot) {
  try {
    make_folder(folder);
    auto impl = std::make_unique<Impl>(folder, committed, limit_bytes, boot);
    return std::make_unique<Spool>(std::move(impl));
  } catch (const std::system_error& error) {
    throw trouble(folder, error);
  }
}

Kept Spool::append(Arrival& arrival) {
  try {
    arrival.sequence = 0;
    return impl_->append(arrival);
  } catch (const std::bad_alloc&) {
    throw;
  } catch (...) {
    if (arrival.sequence == 0) arrival.sequence = impl_->next_sequence();
    return Kept::kNotSafe;
  }
}

std::vector<Arrival> Spool::after(std::uint64_t sequence, std::size_t most) const {
  try {
    return impl_->after(sequence, most);
  } catch (const std::system_error& error) {
    throw trouble(impl_->folder(), error);
  }
}

void Spool::cut(std::uint64_t committed) {
  try {
    impl_->cut(committed);
  } catch (const std::system_error& error) {
    throw trouble(impl_->folder(), error);
  }
}

std::uint64_t Spool::last_sequence() const {
  return impl_->last_sequence();
}

std::size_t Spool::unreadable() const {
  return impl_->unreadable();
}

}  // namespace rimeward
