#include "tools/cli/records/import_file.h"

#include <array>
#include <cerrno>
#include <cstdlib>
#include <filesystem>
#include <system_error>
#include <utility>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

namespace rimeward {
namespace {

[[noreturn]] void fail(const std::string& what) {
  throw std::system_error(errno, std::generic_category(), what);
}

// Gone with its descriptor.
int nameless_file() {
  std::string name = std::filesystem::temp_directory_path() / "rimeward-import-XXXXXX";
  const int file = mkostemp(name.data(), O_CLOEXEC);
  if (file < 0) fail(name + ": cannot be made");
  unlink(name.c_str());
  return file;
}

void write_all(int file, std::string_view bytes) {
  while (!bytes.empty()) {
    const auto done = write(file, bytes.data(), bytes.size());
    if (done < 0 && errno == EINTR) continue;
    if (done < 0) fail("keeping what came by standard input");
    bytes.remove_prefix(static_cast<std::size_t>(done));
  }
}

}  // namespace

ImportFile::ImportFile(std::string name, int file) : name_(std::move(name)), file_(file) {
  if (can_go_back()) start_ = lseek(file_, 0, SEEK_CUR);
}

ImportFile::ImportFile(ImportFile&& other) noexcept
    : name_(std::move(other.name_)),
      file_(std::exchange(other.file_, -1)),
      start_(other.start_) {}

ImportFile::~ImportFile() {
  if (file_ > STDERR_FILENO) close(file_);
}

Result<ImportFile> ImportFile::open(std::string_view name) {
  if (name == "-") return ImportFile("standard input", STDIN_FILENO);
  const std::string path(name);
  const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  if (file < 0) {
    return refuse(fmt::format("{}: cannot be read ({})", path,
                              std::generic_category().message(errno)));
  }
  ImportFile opened(path, file);
  struct stat about {};
  if (fstat(file, &about) == 0 && S_ISDIR(about.st_mode)) {
    return refuse(fmt::format("{}: a folder; name a file in it", path));
  }
  return opened;
}

bool ImportFile::can_go_back() const {
  return lseek(file_, 0, SEEK_CUR) >= 0;
}

std::optional<std::uint64_t> ImportFile::size() const {
  struct stat about {};
  if (fstat(file_, &about) != 0 || !S_ISREG(about.st_mode)) return std::nullopt;
  return static_cast<std::uint64_t>(about.st_size - start_);
}

void ImportFile::keep_all(const Conversation* conversation) {
  if (can_go_back()) return;
  const int copy = nameless_file();
  std::array<char, 65536> bytes{};
  std::uint64_t done = 0;
  while (true) {
    const auto got = read(file_, bytes.data(), bytes.size());
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) fail("reading " + name_);
    if (got == 0) break;
    write_all(copy, {bytes.data(), static_cast<std::size_t>(got)});
    done += static_cast<std::uint64_t>(got);
    if (conversation != nullptr && conversation->progress) {
      conversation->progress({.doing = "taking in standard input", .done = done});
    }
  }
  if (file_ > STDERR_FILENO) close(file_);
  file_ = copy;
  start_ = 0;
}

void ImportFile::from_start() {
  if (can_go_back() && lseek(file_, start_, SEEK_SET) < 0) fail("reading " + name_);
}

}  // namespace rimeward
