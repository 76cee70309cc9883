// Stands between a program and the medium below one folder (LD_PRELOAD): writes down, in
// order, everything that changes there, and makes the medium slow, failing or forgetful.
// The log is what tests/system/power_cut.py replays.
//
//   RIMEWARD_MEDIUM_FOLDER        the folder, as a real path; nothing beside it is
//   touched RIMEWARD_MEDIUM_LOG           where to write it all down; several programs
//   may share it RIMEWARD_MEDIUM_WRITE_TAKES   milliseconds more for each write
//   RIMEWARD_MEDIUM_SYNC_TAKES    milliseconds more for each sync
//   RIMEWARD_MEDIUM_SWALLOWS      set: a sync answers at once and does nothing
//   RIMEWARD_MEDIUM_FAILS         EIO, ENOSPC or EROFS: what it fails with
//   RIMEWARD_MEDIUM_FAILS_WHILE   as long as this file is there
//
// A record is a line "OP NANOSECONDS FILE AT SIZE NAME" and SIZE bytes. The time is that
// of CLOCK_MONOTONIC; FILE is an inode's number, 0 for the folder itself. OP is create
// (NAME), write (AT, bytes), size (AT is the size that it gets), remove (NAME), rename
// (NAME; the bytes are the name that it gets), sync and synced (begun and done; AT tells
// one from another). A file whose name ends in -shm is passed over: SQLite makes it anew
// whenever it is needed, and writes to it as memory. What goes through stdio is not seen:
// replaying the log and comparing shows whether that was so. Thread-safe. Failure: what
// the log cannot hold ends the program, for a test must not go on without it.

#undef _FILE_OFFSET_BITS  // both names of each function are defined here
#ifndef _GNU_SOURCE
#define _GNU_SOURCE
#endif

#include <array>
#include <atomic>
#include <cerrno>
#include <cstdarg>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>

#include <dlfcn.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <sys/uio.h>
#include <time.h>
#include <unistd.h>

namespace {

template <typename Function>
Function* real(const char* name) {
  return reinterpret_cast<Function*>(dlsym(RTLD_NEXT, name));
}

int really_open(const char* path, int flags, mode_t mode) {
  static auto* const open64 = real<int(const char*, int, ...)>("open64");
  return open64(path, flags, mode);
}

ssize_t really_write(int file, const void* bytes, std::size_t size) {
  static auto* const write = real<ssize_t(int, const void*, std::size_t)>("write");
  return write(file, bytes, size);
}

std::string setting(const char* name) {
  const char* const value = std::getenv(name);
  return value == nullptr ? "" : value;
}

int error_named(std::string_view name) {
  if (name.empty()) return 0;
  if (name == "EIO") return EIO;
  if (name == "ENOSPC") return ENOSPC;
  if (name == "EROFS") return EROFS;
  std::fprintf(stderr, "medium_shim: RIMEWARD_MEDIUM_FAILS: EIO, ENOSPC or EROFS\n");
  std::abort();
}

struct Settings {
  std::string folder = setting("RIMEWARD_MEDIUM_FOLDER");
  std::string log = setting("RIMEWARD_MEDIUM_LOG");
  std::string fails_while = setting("RIMEWARD_MEDIUM_FAILS_WHILE");
  int failure = error_named(setting("RIMEWARD_MEDIUM_FAILS"));
  int write_takes = std::atoi(setting("RIMEWARD_MEDIUM_WRITE_TAKES").c_str());
  int sync_takes = std::atoi(setting("RIMEWARD_MEDIUM_SYNC_TAKES").c_str());
  bool swallows = !setting("RIMEWARD_MEDIUM_SWALLOWS").empty();
};

const Settings& settings() {
  // Never destroyed: files are written to until the very end.
  static const Settings& one = *new Settings;
  return one;
}

// What a descriptor is, where it is watched: the inode's number and one more than the
// folder's, so that 0 means not watched.
std::array<std::atomic<std::uint64_t>, 4096> watched{};

// An operation and its record are one: the log's order is that in which things were done.
std::mutex& order() {
  static auto& one = *new std::mutex;
  return one;
}

std::optional<std::uint64_t> watched_as(int file) {
  if (file < 0 || static_cast<std::size_t>(file) >= watched.size()) return std::nullopt;
  const std::uint64_t as = watched[static_cast<std::size_t>(file)];
  if (as == 0) return std::nullopt;
  return as - 1;
}

void watch(int file, std::uint64_t inode) {
  if (file >= 0 && static_cast<std::size_t>(file) < watched.size()) {
    watched[static_cast<std::size_t>(file)] = inode + 1;
  }
}

std::uint64_t inode_of(int file) {
  struct stat64 about {};
  return fstat64(file, &about) == 0 ? about.st_ino : 0;
}

// The name below the folder; "" is the folder itself, nothing is elsewhere.
std::optional<std::string> name_below(const char* path) {
  const std::string& folder = settings().folder;
  if (folder.empty() || path == nullptr) return std::nullopt;
  std::string full = path;
  if (!full.starts_with('/')) {
    std::array<char, 4096> here{};
    if (getcwd(here.data(), here.size()) == nullptr) return std::nullopt;
    full = std::string(here.data()) + "/" + full;
  }
  if (full == folder) return "";
  if (!full.starts_with(folder + "/") || full.ends_with("-shm")) return std::nullopt;
  return full.substr(folder.size() + 1);
}

void pass_time(int milliseconds) {
  if (milliseconds <= 0) return;
  timespec left{.tv_sec = milliseconds / 1000,
                .tv_nsec = (milliseconds % 1000) * 1'000'000L};
  while (nanosleep(&left, &left) != 0 && errno == EINTR) {
  }
}

bool fails() {
  const Settings& all = settings();
  if (all.failure == 0 || access(all.fails_while.c_str(), F_OK) != 0) return false;
  errno = all.failure;
  return true;
}

// A full disk still has room for a name.
bool names_fail() {
  return settings().failure != ENOSPC && fails();
}

struct Record {
  const char* op;
  std::uint64_t file = 0;
  std::uint64_t at = 0;
  std::string_view bytes{};
  std::string_view name = "-";
};

// Keeps errno. In one piece: other programs append to the same log.
void write_down(const Record& record) {
  if (settings().log.empty()) return;
  const int kept = errno;
  static const int log = really_open(settings().log.c_str(),
                                     O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0644);
  timespec now{};
  clock_gettime(CLOCK_MONOTONIC, &now);
  std::string line = std::string(record.op) + ' ' +
                     std::to_string(now.tv_sec * 1'000'000'000LL + now.tv_nsec) + ' ' +
                     std::to_string(record.file) + ' ' + std::to_string(record.at) + ' ' +
                     std::to_string(record.bytes.size()) + ' ';
  line.append(record.name).append("\n").append(record.bytes);
  if (really_write(log, line.data(), line.size()) != static_cast<ssize_t>(line.size())) {
    std::fprintf(stderr, "medium_shim: %s cannot be written\n", settings().log.c_str());
    std::abort();
  }
  errno = kept;
}

int watched_open(const char* path, int flags, mode_t mode) {
  const auto name = name_below(path);
  if (!name) return really_open(path, flags, mode);
  const bool writes = (flags & O_ACCMODE) != O_RDONLY;
  if (writes && settings().failure == EROFS && fails()) return -1;
  const std::lock_guard lock(order());
  bool created = false;
  int file = -1;
  if ((flags & O_CREAT) != 0 && (flags & O_TMPFILE) != O_TMPFILE) {
    // Who makes the file must be known for certain, whatever other programs do meanwhile.
    if (access(path, F_OK) != 0 && names_fail()) return -1;
    file = really_open(path, flags | O_EXCL, mode);
    created = file >= 0;
    if (!created && (errno != EEXIST || (flags & O_EXCL) != 0)) return -1;
  }
  if (!created) file = really_open(path, flags & ~O_CREAT, mode);
  if (file < 0) return file;
  const std::uint64_t inode = name->empty() ? 0 : inode_of(file);
  watch(file, inode);
  if (created) write_down({.op = "create", .file = inode, .name = *name});
  if (!created && writes && (flags & O_TRUNC) != 0) {
    write_down({.op = "size", .file = inode});
  }
  return file;
}

// `write` does it; answers what it answered.
template <typename Write>
ssize_t watched_write(std::uint64_t inode, std::uint64_t at, const void* bytes,
                      Write write) {
  pass_time(settings().write_takes);
  if (fails()) return -1;
  const std::lock_guard lock(order());
  const ssize_t done = write();
  if (done > 0) {
    write_down(
        {.op = "write",
         .file = inode,
         .at = at,
         .bytes = {static_cast<const char*>(bytes), static_cast<std::size_t>(done)}});
  }
  return done;
}

ssize_t write_at(int file, const void* bytes, std::size_t size, off64_t at) {
  static auto* const pwrite64 =
      real<ssize_t(int, const void*, std::size_t, off64_t)>("pwrite64");
  const auto inode = watched_as(file);
  if (!inode) return pwrite64(file, bytes, size, at);
  return watched_write(*inode, static_cast<std::uint64_t>(at), bytes,
                       [&] { return pwrite64(file, bytes, size, at); });
}

int set_size(int file, off64_t size) {
  static auto* const ftruncate64 = real<int(int, off64_t)>("ftruncate64");
  const auto inode = watched_as(file);
  if (!inode) return ftruncate64(file, size);
  pass_time(settings().write_takes);
  if (fails()) return -1;
  const std::lock_guard lock(order());
  const int answer = ftruncate64(file, size);
  if (answer == 0) {
    write_down({.op = "size", .file = *inode, .at = static_cast<std::uint64_t>(size)});
  }
  return answer;
}

// What is written while a sync is under way may come after it: hence two records.
int watched_sync(int file, int (*sync)(int)) {
  static std::atomic<std::uint64_t> count{0};
  const auto inode = watched_as(file);
  if (!inode) return sync(file);
  pass_time(settings().sync_takes);
  if (settings().failure == EIO && fails()) return -1;
  if (settings().swallows) return 0;
  const std::uint64_t number = (static_cast<std::uint64_t>(getpid()) << 32) + ++count;
  write_down({.op = "sync", .file = *inode, .at = number});
  const int answer = sync(file);
  if (answer == 0) write_down({.op = "synced", .file = *inode, .at = number});
  return answer;
}

int watched_remove(const char* path, int (*remove)(const char*)) {
  const auto name = name_below(path);
  if (!name) return remove(path);
  if (settings().failure == EROFS && fails()) return -1;
  const std::lock_guard lock(order());
  const int answer = remove(path);
  if (answer == 0) write_down({.op = "remove", .name = *name});
  return answer;
}

mode_t mode_in(int flags, va_list& arguments) {
  const bool makes = (flags & (O_CREAT | O_TMPFILE)) != 0;
  return makes ? static_cast<mode_t>(va_arg(arguments, unsigned)) : 0;
}

}  // namespace

extern "C" {

int open(const char* path, int flags, ...) {
  va_list arguments;
  va_start(arguments, flags);
  const mode_t mode = mode_in(flags, arguments);
  va_end(arguments);
  return watched_open(path, flags, mode);
}

int open64(const char* path, int flags, ...) {
  va_list arguments;
  va_start(arguments, flags);
  const mode_t mode = mode_in(flags, arguments);
  va_end(arguments);
  return watched_open(path, flags, mode);
}

int close(int file) {
  static auto* const close = real<int(int)>("close");
  if (watched_as(file)) watched[static_cast<std::size_t>(file)] = 0;
  return close(file);
}

ssize_t write(int file, const void* bytes, std::size_t size) {
  const auto inode = watched_as(file);
  if (!inode) return really_write(file, bytes, size);
  const off64_t at = (fcntl(file, F_GETFL) & O_APPEND) != 0 ? lseek64(file, 0, SEEK_END)
                                                            : lseek64(file, 0, SEEK_CUR);
  return watched_write(*inode, static_cast<std::uint64_t>(at), bytes,
                       [&] { return really_write(file, bytes, size); });
}

ssize_t pwrite(int file, const void* bytes, std::size_t size, off_t at) {
  return write_at(file, bytes, size, at);
}

ssize_t pwrite64(int file, const void* bytes, std::size_t size, off64_t at) {
  return write_at(file, bytes, size, at);
}

int ftruncate(int file, off_t size) noexcept {
  return set_size(file, size);
}

int ftruncate64(int file, off64_t size) noexcept {
  return set_size(file, size);
}

int fsync(int file) {
  return watched_sync(file, real<int(int)>("fsync"));
}

int fdatasync(int file) {
  return watched_sync(file, real<int(int)>("fdatasync"));
}

int unlink(const char* path) noexcept {
  return watched_remove(path, real<int(const char*)>("unlink"));
}

int remove(const char* path) noexcept {
  return watched_remove(path, real<int(const char*)>("remove"));
}

int rename(const char* from, const char* to) noexcept {
  static auto* const rename = real<int(const char*, const char*)>("rename");
  const auto name = name_below(from);
  const auto next = name_below(to);
  if (!name || !next) return rename(from, to);
  if (names_fail()) return -1;
  const std::lock_guard lock(order());
  const int answer = rename(from, to);
  if (answer == 0) write_down({.op = "rename", .bytes = *next, .name = *name});
  return answer;
}

}  // extern "C"
