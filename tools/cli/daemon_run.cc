#include "tools/cli/daemon_run.h"

#include <array>
#include <cerrno>
#include <csignal>
#include <filesystem>
#include <optional>
#include <system_error>
#include <utility>

#include <fcntl.h>
#include <poll.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

namespace rimeward {
namespace {

constexpr const char* kDaemon = "rimewardd";
// So that one who prints without end can be ended all the same.
constexpr int kMostPieces = 64;

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

// Both of the daemon's outputs go into `output`; its input is empty, and no signal is
// held back from it, though some may be from this program.
class Wiring {
 public:
  explicit Wiring(int output) {
    sigset_t none{};
    sigemptyset(&none);
    demand(posix_spawn_file_actions_init(&actions_));
    demand(posix_spawnattr_init(&attributes_));
    demand(posix_spawnattr_setsigmask(&attributes_, &none));
    demand(posix_spawnattr_setflags(&attributes_, POSIX_SPAWN_SETSIGMASK));
    demand(posix_spawn_file_actions_addopen(&actions_, STDIN_FILENO, "/dev/null",
                                            O_RDONLY, 0));
    demand(posix_spawn_file_actions_adddup2(&actions_, output, STDOUT_FILENO));
    demand(posix_spawn_file_actions_adddup2(&actions_, output, STDERR_FILENO));
  }
  Wiring(const Wiring&) = delete;
  Wiring& operator=(const Wiring&) = delete;
  ~Wiring() {
    posix_spawn_file_actions_destroy(&actions_);
    posix_spawnattr_destroy(&attributes_);
  }

  const posix_spawn_file_actions_t* actions() const { return &actions_; }
  const posix_spawnattr_t* attributes() const { return &attributes_; }

 private:
  static void demand(int error) {
    if (error != 0) refuse_machine(error, "cannot start rimewardd");
  }

  posix_spawn_file_actions_t actions_{};
  posix_spawnattr_t attributes_{};
};

// The daemon at work; asked to end and waited for where it was not.
class Child {
 public:
  // Throws std::system_error; a program that is not there is none to the rest.
  explicit Child(const std::vector<std::string>& arguments) {
    std::array<int, 2> ends{};
    if (pipe2(ends.data(), O_CLOEXEC) != 0) refuse_machine(errno, "cannot make a pipe");
    input_ = ends[0];
    const int error = spawn(arguments, ends[1]);
    close(ends[1]);
    if (error == 0) return;
    process_ = 0;
    if (error == ENOENT) return;
    close(input_);
    refuse_machine(error, "cannot start rimewardd");
  }
  ~Child() {
    // First, for it may be waiting for somebody to read.
    close(input_);
    if (process_ == 0) return;
    ask_to_end();
    static_cast<void>(ended_well());
  }
  Child(const Child&) = delete;
  Child& operator=(const Child&) = delete;

  bool found() const { return process_ != 0; }

  // What it prints next; nothing at its end. Waits for it.
  std::optional<std::string_view> read_some() {
    while (true) {
      const ssize_t bytes = read(input_, block_.data(), block_.size());
      if (bytes < 0 && errno == EINTR) continue;
      if (bytes <= 0) return std::nullopt;
      return std::string_view(block_.data(), static_cast<std::size_t>(bytes));
    }
  }

  // Whether read_some() would not wait.
  bool has_some() const {
    pollfd state{.fd = input_, .events = POLLIN, .revents = 0};
    return poll(&state, 1, 0) > 0;
  }

  void ask_to_end() const { kill(process_, SIGTERM); }

  // Waits for its end. REQUIRES: found().
  bool ended_well() {
    const pid_t process = std::exchange(process_, 0);
    int status = 0;
    while (waitpid(process, &status, 0) < 0) {
      if (errno != EINTR) return false;
    }
    return WIFEXITED(status) && WEXITSTATUS(status) == 0;
  }

 private:
  // 0, or what went wrong.
  int spawn(const std::vector<std::string>& arguments, int output) {
    std::vector<std::string> words{daemon_program()};
    words.insert(words.end(), arguments.begin(), arguments.end());
    std::vector<char*> pointers;
    pointers.reserve(words.size() + 1);
    for (std::string& word : words)
      pointers.push_back(word.data());
    pointers.push_back(nullptr);
    const Wiring wiring(output);
    return posix_spawnp(&process_, pointers.front(), wiring.actions(),
                        wiring.attributes(), pointers.data(), environ);
  }

  int input_ = -1;
  pid_t process_ = 0;
  std::array<char, 4096> block_{};
};

// Cuts what comes in pieces into lines.
class Lines {
 public:
  explicit Lines(const std::function<void(std::string_view line)>& tell) : tell_(tell) {}

  void add(std::string_view piece) {
    while (!piece.empty()) {
      const std::size_t end = piece.find('\n');
      open_ += piece.substr(0, end);
      if (end == std::string_view::npos) return;
      tell_(std::exchange(open_, {}));
      piece.remove_prefix(end + 1);
    }
  }
  void finish() {
    if (!open_.empty()) tell_(std::exchange(open_, {}));
  }

 private:
  const std::function<void(std::string_view line)>& tell_;
  std::string open_;
};

}  // namespace

DaemonRun follow_daemon(const std::vector<std::string>& arguments,
                        const Following& with) {
  DaemonRun run;
  Child child(arguments);
  if (!child.found()) return run;
  run.found = true;
  Lines lines(with.line);
  bool ending = false;
  int pieces = 0;
  while (true) {
    if (!ending && (!child.has_some() || pieces == kMostPieces)) {
      pieces = 0;
      ending = !with.go_on();
      if (ending) child.ask_to_end();
      continue;
    }
    const auto piece = child.read_some();
    if (!piece) break;
    lines.add(*piece);
    ++pieces;
  }
  lines.finish();
  run.well = child.ended_well();
  return run;
}

DaemonRun run_daemon(const std::vector<std::string>& arguments) {
  DaemonRun run;
  Child child(arguments);
  if (!child.found()) return run;
  run.found = true;
  const std::function<void(std::string_view line)> keep = [&](std::string_view line) {
    run.lines.emplace_back(line);
  };
  Lines lines(keep);
  while (const auto piece = child.read_some())
    lines.add(*piece);
  lines.finish();
  run.well = child.ended_well();
  return run;
}

}  // namespace rimeward
