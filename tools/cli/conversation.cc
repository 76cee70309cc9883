#include "tools/cli/conversation.h"

#include <array>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <cstdio>
#include <memory>
#include <string>
#include <system_error>

#include <poll.h>
#include <sys/ioctl.h>
#include <sys/signalfd.h>
#include <unistd.h>

#include "tools/cli/progress.h"

namespace rimeward {
namespace {

using std::chrono::steady_clock;

// The signals that a person or the terminal ends a program with, held back and readable
// as a file, so that a wait can look for them and for input at once.
class Interruption {
 public:
  Interruption() {
    sigset_t ending{};
    sigemptyset(&ending);
    for (const int signal : {SIGINT, SIGTERM, SIGHUP})
      sigaddset(&ending, signal);
    sigprocmask(SIG_BLOCK, &ending, nullptr);
    file_ = signalfd(-1, &ending, SFD_CLOEXEC | SFD_NONBLOCK);
    if (file_ < 0) throw std::system_error(errno, std::generic_category(), "signalfd");
  }
  ~Interruption() { close(file_); }
  Interruption(const Interruption&) = delete;
  Interruption& operator=(const Interruption&) = delete;

  // Until `until`, a signal, or something to read from `input` (-1: none). False: a
  // signal came.
  bool wait(int input, steady_clock::time_point until) {
    while (true) {
      std::array<pollfd, 2> files{pollfd{file_, POLLIN, 0}, pollfd{input, POLLIN, 0}};
      const auto left = std::chrono::ceil<std::chrono::milliseconds>(
          std::min(until - steady_clock::now(), steady_clock::duration(kLongestPoll)));
      if (left.count() <= 0) return true;
      const int ready = poll(files.data(), files.size(), static_cast<int>(left.count()));
      if (ready < 0 && errno != EINTR) {
        throw std::system_error(errno, std::generic_category(), "poll");
      }
      if (ready <= 0) continue;
      if (files[0].revents != 0) return take_signal();
      return true;
    }
  }

 private:
  static constexpr std::chrono::hours kLongestPoll{24};  // fits an int of milliseconds

  bool take_signal() {
    signalfd_siginfo signal{};
    return read(file_, &signal, sizeof signal) != sizeof signal;
  }

  int file_ = -1;
};

// Until the end of the line, or of the input. Nothing when interrupted, and where the
// input has ended: that is no empty answer.
std::optional<std::string> typed_line(Interruption& interruption) {
  std::string line;
  while (interruption.wait(STDIN_FILENO, steady_clock::time_point::max())) {
    char letter = 0;
    const auto got = read(STDIN_FILENO, &letter, 1);
    if (got > 0 && letter == '\n') return line;
    if (got <= 0) return line.empty() ? std::nullopt : std::optional(line);
    line += letter;
  }
  return std::nullopt;
}

void show(std::FILE* stream, std::string_view text) {
  std::fwrite(text.data(), 1, text.size(), stream);
  std::fflush(stream);
}

// The line of progress. Blanks and carriage returns alone take it away again: no control
// sequence that some terminal may not know.
class ProgressLine {
 public:
  explicit ProgressLine(Screen screen) : screen_(screen) {
    winsize size{};
    if (ioctl(STDERR_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0) {
      screen_.width = std::min<std::size_t>(screen_.width, size.ws_col);
    }
  }
  ~ProgressLine() { erase(); }
  ProgressLine(const ProgressLine&) = delete;
  ProgressLine& operator=(const ProgressLine&) = delete;

  void draw(const Progress& progress) {
    if (!on_terminal_) return;
    const auto now = steady_clock::now();
    if (progress.doing != doing_) {
      doing_ = progress.doing;
      since_ = now;
      next_ = now + kFirstAfter;
    }
    if (now < next_) return;
    next_ = now + kDrawEvery;
    const auto elapsed =
        std::chrono::duration_cast<std::chrono::milliseconds>(now - since_);
    const std::string line = progress_line(progress, elapsed, screen_);
    const std::size_t columns = display_width(line);
    const std::size_t rest = drawn_ > columns ? drawn_ - columns : 0;
    show(stderr, "\r" + line + std::string(rest, ' '));
    drawn_ = columns + rest;
  }

  void erase() {
    if (drawn_ == 0) return;
    show(stderr, "\r" + std::string(drawn_, ' ') + "\r");
    drawn_ = 0;
  }

 private:
  static constexpr std::chrono::milliseconds kFirstAfter{200};  // what is quick has none
  static constexpr std::chrono::milliseconds kDrawEvery{100};

  Screen screen_;
  bool on_terminal_ = isatty(STDERR_FILENO) == 1;
  std::string doing_;
  steady_clock::time_point since_;
  steady_clock::time_point next_;
  std::size_t drawn_ = 0;  // columns
};

void write_out(std::string_view piece) {
  errno = 0;
  if (std::fwrite(piece.data(), 1, piece.size(), stdout) == piece.size()) return;
  throw std::system_error(errno, std::generic_category(), "the answer was not written");
}

}  // namespace

Conversation conversation_of_process(Format format, const Screen& screen) {
  const auto progress_shown = std::make_shared<ProgressLine>(screen);
  const bool stdout_is_seen = isatty(STDOUT_FILENO) == 1;
  const auto written = std::make_shared<bool>(false);
  std::FILE* const stream = format == Format::kText ? stdout : stderr;
  const bool person = isatty(STDIN_FILENO) == 1 && isatty(fileno(stream)) == 1;
  // Made when first needed: until then an interrupt ends the program.
  const auto interruption = std::make_shared<std::unique_ptr<Interruption>>();
  // The terminal shows an interrupt where the line stood.
  const auto end_line = [=] {
    if (person) show(stream, "\n");
  };
  const auto signals = [interruption]() -> Interruption& {
    if (!*interruption) *interruption = std::make_unique<Interruption>();
    return **interruption;
  };
  return {
      .tell =
          [=](std::string_view lines) {
            progress_shown->erase();
            show(stream, lines);
          },
      .ask = [=](std::string_view question) -> std::optional<std::string> {
        if (!person) return std::nullopt;
        progress_shown->erase();
        show(stream, question);
        auto line = typed_line(signals());
        if (!line) end_line();
        return line;
      },
      .wait = [=](std::chrono::seconds span) -> std::optional<Instant> {
        if (!signals().wait(-1, steady_clock::now() + span)) {
          end_line();
          return std::nullopt;
        }
        return std::chrono::floor<std::chrono::seconds>(std::chrono::system_clock::now());
      },
      .write =
          [=](std::string_view piece) {
            if (stdout_is_seen) progress_shown->erase();
            *written = true;
            write_out(piece);
          },
      // Where the answer itself runs over the screen it shows how far it is.
      .progress =
          [=](const Progress& progress) {
            if (!stdout_is_seen || !*written) progress_shown->draw(progress);
          }};
}

}  // namespace rimeward
