#include "tools/cli/records/export_sink.h"

#include <cerrno>
#include <system_error>

#include <fmt/format.h>
#include <unistd.h>

namespace rimeward {
namespace {

namespace fs = std::filesystem;

std::string already_there(const fs::path& file) {
  return fmt::format("{}: there already; name another file, or give --replace",
                     file.string());
}

}  // namespace

Result<std::unique_ptr<FileSink>> FileSink::open(const fs::path& file, bool replace) {
  std::error_code ignored;
  if (fs::is_directory(file, ignored)) {
    return refuse(fmt::format("{}: a folder; name a file in it", file.string()));
  }
  if (!replace && fs::exists(file, ignored)) return refuse(already_there(file));
  std::unique_ptr<FileSink> sink(new FileSink);
  sink->file_ = file;
  sink->part_ = file.string() + fmt::format(".part-{}", getpid());
  sink->replace_ = replace;
  sink->stream_ = std::fopen(sink->part_.c_str(), "wxe");
  if (sink->stream_ == nullptr) {
    return refuse(fmt::format("{}: cannot be made ({})", sink->part_.string(),
                              std::generic_category().message(errno)));
  }
  return sink;
}

FileSink::~FileSink() {
  if (stream_ == nullptr) return;
  std::fclose(stream_);
  unlink(part_.c_str());
}

void FileSink::fail() const {
  throw std::system_error(errno, std::generic_category(),
                          file_.string() + " was not written");
}

void FileSink::put(std::string_view piece) {
  if (std::fwrite(piece.data(), 1, piece.size(), stream_) != piece.size()) fail();
}

void FileSink::finish() {
  if (std::fflush(stream_) != 0 || fsync(fileno(stream_)) != 0) fail();
  if (!replace_ && fs::exists(file_)) {
    errno = EEXIST;
    fail();
  }
  if (std::rename(part_.c_str(), file_.c_str()) != 0) fail();
  std::fclose(stream_);
  stream_ = nullptr;
}

}  // namespace rimeward
