// The file that an import reads, or standard input: what it is called, how large it is,
// and its beginning again where it is to be read twice. One thread.

#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "sensors/result.h"
#include "tools/cli/verb.h"

namespace rimeward {

class ImportFile {
 public:
  // `name`: a file's, or "-" for standard input. Refuses what cannot be opened or is a
  // folder.
  static Result<ImportFile> open(std::string_view name);
  ImportFile(ImportFile&& other) noexcept;
  ImportFile& operator=(ImportFile&&) = delete;
  ~ImportFile();

  // As it stands before a line's number in what is said of it: "april.csv",
  // "standard input".
  const std::string& name() const { return name_; }
  int descriptor() const { return file_; }
  std::optional<std::uint64_t> size() const;  // absent: not known before the end

  // Makes it so that from_start() can be called again: what comes through a pipe is put
  // into a temporary file that has no name. Throws std::system_error where that fails.
  void keep_all(const Conversation* conversation);
  // REQUIRES: nothing was read yet, or keep_all().
  void from_start();

 private:
  ImportFile(std::string name, int file);
  bool can_go_back() const;

  std::string name_;
  int file_ = -1;
  std::int64_t start_ = 0;  // where it stood when it was handed over
};

}  // namespace rimeward
