#include "daemon/delivery/child.h"

#include <algorithm>
#include <array>
#include <cerrno>
#include <optional>
#include <system_error>

#include <fcntl.h>
#include <fmt/format.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/eventfd.h>
#include <sys/mman.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include "sensors/escape.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Steady = std::chrono::steady_clock;

constexpr auto kGrace = 2s;  // between SIGTERM and SIGKILL
constexpr std::size_t kLastWords = 800;

class Descriptor {
 public:
  explicit Descriptor(int descriptor) : descriptor_(descriptor) {
    if (descriptor < 0) {
      throw std::system_error(errno, std::generic_category(), "starting a program");
    }
  }
  ~Descriptor() { close(); }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  int get() const { return descriptor_; }
  void close() {
    if (descriptor_ >= 0) ::close(descriptor_);
    descriptor_ = -1;
  }

 private:
  int descriptor_;
};

// The whole input in a file without a name: a program that does not read it cannot make
// us wait, as one at the other end of a pipe could.
int input_file(std::string_view input) {
  const int descriptor = ::memfd_create("notice", MFD_CLOEXEC);
  if (descriptor < 0) return -1;
  const auto size = static_cast<ssize_t>(input.size());
  if (::write(descriptor, input.data(), input.size()) == size &&
      ::lseek(descriptor, 0, SEEK_SET) == 0) {
    return descriptor;
  }
  ::close(descriptor);
  return -1;
}

// Ours, with the additions, without what binds a process to the service manager: a
// program must not report itself ready or alive in our name.
std::vector<std::string> environment_with(
    const std::vector<std::pair<std::string, std::string>>& additions) {
  constexpr std::array<std::string_view, 4> kOurs{
      "NOTIFY_SOCKET=", "WATCHDOG_PID=", "WATCHDOG_USEC=", "LISTEN_PID="};
  std::vector<std::string> environment;
  for (char** entry = environ; *entry != nullptr; ++entry) {
    const std::string_view text = *entry;
    const auto replaced = [&](const auto& addition) {
      return text.starts_with(addition.first + "=");
    };
    const auto begins = [&](std::string_view name) { return text.starts_with(name); };
    if (std::ranges::any_of(kOurs, begins)) continue;
    if (std::ranges::any_of(additions, replaced)) continue;
    environment.emplace_back(text);
  }
  for (const auto& [name, value] : additions) {
    environment.push_back(name + "=" + value);
  }
  return environment;
}

std::vector<char*> pointers_to(std::vector<std::string>& words) {
  std::vector<char*> pointers;
  pointers.reserve(words.size() + 1);
  for (std::string& word : words)
    pointers.push_back(word.data());
  pointers.push_back(nullptr);
  return pointers;
}

class SpawnSetup {
 public:
  SpawnSetup(int input, int errors) {
    ::posix_spawn_file_actions_init(&actions_);
    ::posix_spawn_file_actions_adddup2(&actions_, input, STDIN_FILENO);
    ::posix_spawn_file_actions_adddup2(&actions_, errors, STDERR_FILENO);
    // The daemon blocks and ignores signals, which a program would inherit.
    sigset_t none;
    sigset_t all;
    ::sigemptyset(&none);
    ::sigfillset(&all);
    ::posix_spawnattr_init(&attributes_);
    ::posix_spawnattr_setsigmask(&attributes_, &none);
    ::posix_spawnattr_setsigdefault(&attributes_, &all);
    ::posix_spawnattr_setpgroup(&attributes_, 0);
    ::posix_spawnattr_setflags(&attributes_, POSIX_SPAWN_SETSIGMASK |
                                                 POSIX_SPAWN_SETSIGDEF |
                                                 POSIX_SPAWN_SETPGROUP);
  }
  ~SpawnSetup() {
    ::posix_spawn_file_actions_destroy(&actions_);
    ::posix_spawnattr_destroy(&attributes_);
  }
  SpawnSetup(const SpawnSetup&) = delete;
  SpawnSetup& operator=(const SpawnSetup&) = delete;

  int spawn(const ChildOrder& order, pid_t& process) {
    std::vector<std::string> words = order.run;
    std::vector<std::string> environment = environment_with(order.environment);
    const auto arguments = pointers_to(words);
    const auto variables = pointers_to(environment);
    return ::posix_spawnp(&process, arguments[0], &actions_, &attributes_,
                          arguments.data(), variables.data());
  }

 private:
  posix_spawn_file_actions_t actions_;
  posix_spawnattr_t attributes_;
};

// Keeps the last line of what is read.
class LastWords {
 public:
  // False at the end of what there is to read.
  bool read_from(int descriptor) {
    char buffer[512];
    const auto got = ::read(descriptor, buffer, sizeof buffer);
    if (got <= 0) return got < 0 && (errno == EAGAIN || errno == EINTR);
    text_.append(buffer, static_cast<std::size_t>(got));
    if (text_.size() > 8 * kLastWords) text_.erase(0, text_.size() - 4 * kLastWords);
    return true;
  }

  std::string line() const {
    std::string text = text_;
    while (text.ends_with('\n'))
      text.pop_back();
    const auto before = text.rfind('\n');
    if (before != std::string::npos) text.erase(0, before + 1);
    return text.substr(0, kLastWords);
  }

 private:
  std::string text_;
};

class Child {
 public:
  // Ends the program when it cannot be watched.
  Child(pid_t process, int errors)
      : process_(process), ended_(open_or_end(process)), errors_(errors) {}

  // Watches until the program ends or `deadline`; true when it ended. A write to
  // `interrupt` ends the watching too; -1: none.
  bool watch(Steady::time_point deadline, int interrupt) {
    std::array<pollfd, 3> polled{pollfd{ended_.get(), POLLIN, 0},
                                 pollfd{errors_, POLLIN, 0},
                                 pollfd{interrupt, POLLIN, 0}};
    for (;;) {
      const auto left = std::chrono::ceil<std::chrono::milliseconds>(
          std::max(deadline - Steady::now(), Steady::duration::zero()));
      const int ready =
          ::poll(polled.data(), polled.size(), static_cast<int>(left.count()));
      if (ready < 0 && errno == EINTR) continue;
      if (polled[1].revents != 0 && !words_.read_from(errors_)) polled[1].fd = -1;
      if ((polled[0].revents & POLLIN) != 0) return true;
      if (ready <= 0 || (polled[2].revents & POLLIN) != 0) return false;
    }
  }

  void signal(int number) const { ::kill(-process_, number); }

  int wait() const { return wait_for(process_); }

  // What it had still to say; a program of its own that it left behind may hold the pipe
  // open, so nothing is waited for.
  std::string last_words() {
    for (int i = 0; i < 64; ++i) {
      pollfd polled{errors_, POLLIN, 0};
      if (::poll(&polled, 1, 0) <= 0 || !words_.read_from(errors_)) break;
    }
    return words_.line();
  }

 private:
  static int wait_for(pid_t process) {
    int status = 0;
    while (::waitpid(process, &status, 0) < 0 && errno == EINTR)
      continue;
    return status;
  }

  // By number: glibc 2.36 declares pidfd_open() for C only.
  static int open_or_end(pid_t process) {
    const auto descriptor = static_cast<int>(::syscall(SYS_pidfd_open, process, 0));
    if (descriptor >= 0) return descriptor;
    const int error = errno;
    ::kill(-process, SIGKILL);
    wait_for(process);
    errno = error;
    return -1;
  }

  pid_t process_;
  Descriptor ended_;
  int errors_;
  LastWords words_;
};

}  // namespace

ChildEnd run_child(const ChildOrder& order, const std::stop_token& stop) {
  const Descriptor input(input_file(order.input));
  int pipe[2] = {-1, -1};
  if (::pipe2(pipe, O_CLOEXEC | O_NONBLOCK) != 0) pipe[0] = -1;
  const Descriptor errors(pipe[0]);
  Descriptor errors_end(pipe[1]);
  const Descriptor interrupt(::eventfd(0, EFD_CLOEXEC));

  ChildEnd end;
  pid_t process = -1;
  end.start_error = SpawnSetup(input.get(), errors_end.get()).spawn(order, process);
  if (end.start_error != 0) return end;
  errors_end.close();

  const std::stop_callback interrupting(stop,
                                        [&] { ::eventfd_write(interrupt.get(), 1); });
  Child child(process, errors.get());
  if (!child.watch(Steady::now() + order.time_limit, interrupt.get())) {
    end.stopped = true;
    child.signal(SIGTERM);
    child.watch(Steady::now() + kGrace, -1);
    child.signal(SIGKILL);
  }
  end.wait_status = child.wait();
  end.last_words = child.last_words();
  return end;
}

std::optional<std::string> cut_short(const ChildEnd& end, std::chrono::seconds time_limit,
                                     bool leaving) {
  const std::string said =
      end.last_words.empty() ? "" : ": " + escaped(end.last_words, 200);
  if (end.stopped && leaving) return "stopped with the daemon";
  if (end.stopped) {
    return fmt::format(
        "still running after {} s and stopped{}; see why, or raise "
        "[[route]] time_limit",
        time_limit.count(), said);
  }
  if (end.start_error == 0 && WIFSIGNALED(end.wait_status)) {
    return fmt::format("ended by signal {}{}", WTERMSIG(end.wait_status), said);
  }
  return std::nullopt;
}

}  // namespace rimeward
