#include "tools/cli/first_time/first_time_file.h"

#include <cerrno>
#include <cstdlib>
#include <fstream>
#include <system_error>
#include <vector>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/base/zone.h"
#include "daemon/notice/language.h"
#include "sensors/number.h"

namespace rimeward {
namespace {

namespace fs = std::filesystem;

constexpr mode_t kFileMode = 0644;
constexpr auto kFolderMode = fs::perms::owner_all | fs::perms::group_read |
                             fs::perms::group_exec | fs::perms::others_read |
                             fs::perms::others_exec;

std::string from_environment(const char* name) {
  // Read once, before there is a second thread.
  const char* value = std::getenv(name);  // NOLINT(concurrency-mt-unsafe)
  return value == nullptr ? "" : value;
}

std::string language_of_machine() {
  for (const char* name : {"LC_ALL", "LC_MESSAGES", "LANG"}) {
    const std::string value = from_environment(name);
    if (value.empty()) continue;
    const LanguageTable* language = find_language(value.substr(0, 2));
    if (language != nullptr) return std::string(language->code);
    break;
  }
  return MachineHabits{}.language;
}

std::string first_line_of(const fs::path& file) {
  std::ifstream stream(file);
  std::string line;
  std::getline(stream, line);
  return line;
}

std::string zone_of_machine() {
  std::error_code ignored;
  for (const std::string& text : {from_environment("TZ"), first_line_of("/etc/timezone"),
                                  fs::read_symlink("/etc/localtime", ignored).string()}) {
    std::string zone = zone_named_in(text);
    if (!zone.empty()) return zone;
  }
  return "";
}

std::string why(int error) {
  std::string reason = std::generic_category().message(error);
  if (error == EACCES || error == EPERM || error == EROFS) {
    reason += "; run it with sudo, or name another file with --config FILE";
  }
  return reason;
}

fs::path folder_of(const fs::path& file) {
  const fs::path folder = file.parent_path();
  return folder.empty() ? "." : folder;
}

// Those that are missing, the outermost first.
std::vector<fs::path> missing_folders(fs::path folder) {
  std::vector<fs::path> missing;
  std::error_code ignored;
  while (!folder.empty() && !fs::exists(folder, ignored)) {
    missing.insert(missing.begin(), folder);
    if (folder == folder.parent_path()) break;
    folder = folder.parent_path();
  }
  return missing;
}

// Open to the daemon's user, whatever the umask.
Result<void> make_folders(const fs::path& folder) {
  for (const fs::path& each : missing_folders(folder)) {
    std::error_code error;
    fs::create_directory(each, error);
    if (!error) fs::permissions(each, kFolderMode, error);
    if (error) {
      return refuse(fmt::format("cannot make the folder {}: {}", each.string(),
                                why(error.value())));
    }
  }
  return {};
}

bool write_whole(int file, std::string_view text) {
  while (!text.empty()) {
    const ssize_t written = write(file, text.data(), text.size());
    if (written < 0 && errno == EINTR) continue;
    if (written < 0) return false;
    text.remove_prefix(static_cast<std::size_t>(written));
  }
  return fchmod(file, kFileMode) == 0 && fsync(file) == 0;
}

}  // namespace

std::string zone_named_in(std::string_view text) {
  constexpr std::string_view kFolder = "zoneinfo/";
  const std::size_t folder = text.rfind(kFolder);
  if (folder != std::string_view::npos) text.remove_prefix(folder + kFolder.size());
  text = trimmed(text);
  if (text.starts_with(':')) text.remove_prefix(1);
  const bool is_utc = text.starts_with("Etc/") || text.find("UTC") != text.npos ||
                      text == "GMT" || text == "Universal" || text == "Zulu";
  return !text.empty() && !is_utc && Zone::named(text) ? std::string(text) : "";
}

MachineHabits habits_of_machine() {
  return {.time_zone = zone_of_machine(), .language = language_of_machine()};
}

std::optional<std::string> trouble_with_new(const fs::path& file) {
  std::error_code ignored;
  fs::path folder = folder_of(file);
  while (!fs::exists(folder, ignored) && folder.has_parent_path() &&
         folder != folder.parent_path()) {
    folder = folder.parent_path();
  }
  if (!fs::exists(folder, ignored)) folder = ".";
  if (!fs::is_directory(folder, ignored)) {
    return fmt::format("{}: {} is no folder; name another file with --config FILE",
                       file.string(), folder.string());
  }
  if (access(folder.c_str(), W_OK | X_OK) == 0) return std::nullopt;
  return fmt::format("{}: cannot be written: {}", file.string(), why(errno));
}

Result<void> write_new(const fs::path& file, std::string_view text) {
  if (auto made = make_folders(folder_of(file)); !made) return made;
  const int made = open(file.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, kFileMode);
  if (made < 0) {
    return refuse(fmt::format("cannot make {}: {}", file.string(),
                              errno == EEXIST ? "it is there already" : why(errno)));
  }
  const bool whole = write_whole(made, text);
  const int error = errno;
  if (close(made) == 0 && whole) return {};
  unlink(file.c_str());
  return refuse(
      fmt::format("cannot write {}: {}", file.string(), why(whole ? errno : error)));
}

}  // namespace rimeward
