// Where an export goes: to stdout piece by piece, into a file, or, where nobody takes
// pieces, into one text. One thread.

#pragma once

#include <cstdio>
#include <filesystem>
#include <functional>
#include <memory>
#include <string>
#include <string_view>

#include "sensors/result.h"

namespace rimeward {

class ExportSink {
 public:
  ExportSink() = default;
  ExportSink(const ExportSink&) = delete;
  ExportSink& operator=(const ExportSink&) = delete;
  virtual ~ExportSink() = default;

  // Throws std::system_error when it cannot be written.
  virtual void put(std::string_view piece) = 0;
  // All has been put.
  virtual void finish() = 0;
};

class TextSink final : public ExportSink {
 public:
  void put(std::string_view piece) override { text_ += piece; }
  void finish() override {}
  std::string take() { return std::move(text_); }

 private:
  std::string text_;
};

// Puts every piece on at once. REQUIRES: the function outlives this.
class WritingSink final : public ExportSink {
 public:
  explicit WritingSink(const std::function<void(std::string_view)>& write)
      : write_(write) {}
  void put(std::string_view piece) override { write_(piece); }
  void finish() override {}

 private:
  const std::function<void(std::string_view)>& write_;
};

// A file that is there whole or not at all: written under another name beside it, which
// is gone with this where finish() was not reached.
class FileSink final : public ExportSink {
 public:
  // Refuses a file that is already there, but where it is to be replaced, and one that
  // cannot be made.
  static Result<std::unique_ptr<FileSink>> open(const std::filesystem::path& file,
                                                bool replace);
  ~FileSink() override;

  void put(std::string_view piece) override;
  void finish() override;

 private:
  FileSink() = default;
  [[noreturn]] void fail() const;

  std::filesystem::path file_;
  std::filesystem::path part_;
  bool replace_ = false;
  std::FILE* stream_ = nullptr;
};

}  // namespace rimeward
