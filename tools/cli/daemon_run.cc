#include "tools/cli/daemon_run.h"

#include <array>
#include <cerrno>
#include <filesystem>
#include <string_view>
#include <system_error>

#include <fcntl.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

namespace rimeward {
namespace {

constexpr const char* kDaemon = "rimewardd";

[[noreturn]] void refuse_machine(int error, const char* what) {
  throw std::system_error(error, std::generic_category(), what);
}

// A name without a slash is looked for on PATH.
std::string daemon_program() {
  std::error_code ignored;
  const auto self = std::filesystem::read_symlink("/proc/self/exe", ignored);
  const auto beside = self.parent_path() / kDaemon;
  return !self.empty() && std::filesystem::exists(beside, ignored) ? beside.string()
                                                                   : kDaemon;
}

// Both of the daemon's outputs go into `output`; its input is empty.
class Wiring {
 public:
  explicit Wiring(int output) {
    if (const int error = posix_spawn_file_actions_init(&actions_)) {
      refuse_machine(error, "cannot start rimewardd");
    }
    const int failed[]{
        posix_spawn_file_actions_addopen(&actions_, STDIN_FILENO, "/dev/null", O_RDONLY,
                                         0),
        posix_spawn_file_actions_adddup2(&actions_, output, STDOUT_FILENO),
        posix_spawn_file_actions_adddup2(&actions_, output, STDERR_FILENO)};
    for (const int error : failed) {
      if (error != 0) refuse_machine(error, "cannot start rimewardd");
    }
  }
  Wiring(const Wiring&) = delete;
  Wiring& operator=(const Wiring&) = delete;
  ~Wiring() { posix_spawn_file_actions_destroy(&actions_); }

  const posix_spawn_file_actions_t* get() const { return &actions_; }

 private:
  posix_spawn_file_actions_t actions_{};
};

std::string read_all(int input) {
  std::string text;
  std::array<char, 4096> block{};
  while (true) {
    const ssize_t bytes = read(input, block.data(), block.size());
    if (bytes < 0 && errno == EINTR) continue;
    if (bytes <= 0) return text;
    text.append(block.data(), static_cast<std::size_t>(bytes));
  }
}

std::vector<std::string> lines_of(std::string_view text) {
  std::vector<std::string> lines;
  while (!text.empty()) {
    const std::size_t end = std::min(text.find('\n'), text.size());
    lines.emplace_back(text.substr(0, end));
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return lines;
}

bool ended_well(pid_t child) {
  int status = 0;
  while (waitpid(child, &status, 0) < 0) {
    if (errno != EINTR) return false;
  }
  return WIFEXITED(status) && WEXITSTATUS(status) == 0;
}

}  // namespace

DaemonRun run_daemon(const std::vector<std::string>& arguments) {
  std::array<int, 2> ends{};
  if (pipe2(ends.data(), O_CLOEXEC) != 0) refuse_machine(errno, "cannot make a pipe");
  std::vector<std::string> words{daemon_program()};
  words.insert(words.end(), arguments.begin(), arguments.end());
  std::vector<char*> pointers;
  pointers.reserve(words.size() + 1);
  for (std::string& word : words)
    pointers.push_back(word.data());
  pointers.push_back(nullptr);
  pid_t child = 0;
  int error = 0;
  {
    const Wiring wiring(ends[1]);
    error = posix_spawnp(&child, pointers.front(), wiring.get(), nullptr, pointers.data(),
                         environ);
  }
  close(ends[1]);
  DaemonRun run;
  if (error == 0) {
    run.found = true;
    run.lines = lines_of(read_all(ends[0]));
    run.well = ended_well(child);
  }
  close(ends[0]);
  if (error != 0 && error != ENOENT) refuse_machine(error, "cannot start rimewardd");
  return run;
}

}  // namespace rimeward
