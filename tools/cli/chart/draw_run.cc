#include "tools/cli/chart/draw_run.h"

#include <array>
#include <cerrno>
#include <filesystem>
#include <system_error>
#include <vector>

#include <fcntl.h>
#include <fmt/format.h>
#include <spawn.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

#include "sensors/escape.h"
#include "tools/draw/chart_json.h"

namespace rimeward {
namespace {

constexpr const char* kDraw = "rimeward-draw";
constexpr std::size_t kMostSaid = 500;  // bytes of what it says went wrong

[[noreturn]] void refuse_machine(int error) {
  throw std::system_error(error, std::generic_category(), "cannot start rimeward-draw");
}

// Closed at the end of its life.
class Descriptor {
 public:
  explicit Descriptor(int number) : number_(number) {
    if (number < 0) refuse_machine(errno);
  }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  ~Descriptor() { shut(); }

  int get() const { return number_; }
  void shut() {
    if (number_ >= 0) close(number_);
    number_ = -1;
  }

 private:
  int number_;
};

// A file without a name that holds the text. Unlike a pipe it is whole before the program
// starts: nobody waits for the other, and a program that ends early breaks nothing.
void put_all(const Descriptor& file, std::string_view text) {
  while (!text.empty()) {
    const ssize_t written = write(file.get(), text.data(), text.size());
    if (written < 0 && errno == EINTR) continue;
    if (written < 0) refuse_machine(errno);
    text.remove_prefix(static_cast<std::size_t>(written));
  }
  if (lseek(file.get(), 0, SEEK_SET) != 0) refuse_machine(errno);
}

class Wiring {
 public:
  Wiring(int input, int trouble) {
    if (const int error = posix_spawn_file_actions_init(&actions_)) refuse_machine(error);
    const int failed[]{
        posix_spawn_file_actions_adddup2(&actions_, input, STDIN_FILENO),
        posix_spawn_file_actions_addopen(&actions_, STDOUT_FILENO, "/dev/null", O_WRONLY,
                                         0),
        posix_spawn_file_actions_adddup2(&actions_, trouble, STDERR_FILENO)};
    for (const int error : failed) {
      if (error != 0) refuse_machine(error);
    }
  }
  Wiring(const Wiring&) = delete;
  Wiring& operator=(const Wiring&) = delete;
  ~Wiring() { posix_spawn_file_actions_destroy(&actions_); }

  const posix_spawn_file_actions_t* get() const { return &actions_; }

 private:
  posix_spawn_file_actions_t actions_{};
};

// The first line without the program's name, of a bearable length.
std::string first_line(int input) {
  std::string text;
  std::array<char, 512> block{};
  while (true) {
    const ssize_t bytes = read(input, block.data(), block.size());
    if (bytes < 0 && errno == EINTR) continue;
    if (bytes <= 0) break;
    if (text.size() < kMostSaid)
      text.append(block.data(), static_cast<std::size_t>(bytes));
  }
  const std::string name = fmt::format("{}: ", kDraw);
  if (text.starts_with(name)) text.erase(0, name.size());
  return escaped(text.substr(0, text.find('\n')), kMostSaid);
}

bool ended_well(pid_t child) {
  int status = 0;
  while (waitpid(child, &status, 0) < 0) {
    if (errno != EINTR) return false;
  }
  return WIFEXITED(status) && WEXITSTATUS(status) == 0;
}

}  // namespace

std::string draw_program() {
  std::error_code ignored;
  const auto self = std::filesystem::read_symlink("/proc/self/exe", ignored);
  const auto beside = self.parent_path() / kDraw;
  return !self.empty() && std::filesystem::exists(beside, ignored) ? beside.string()
                                                                   : kDraw;
}

std::optional<std::string> draw_picture(const std::string& program, std::string_view kind,
                                        const std::string& file, const Chart& chart) {
  const Descriptor input(memfd_create("chart", MFD_CLOEXEC));
  put_all(input, chart_json(chart));
  std::array<int, 2> ends{};
  if (pipe2(ends.data(), O_CLOEXEC) != 0) refuse_machine(errno);
  const Descriptor trouble(ends[0]);
  Descriptor trouble_end(ends[1]);
  std::vector<std::string> words{program, std::string(kind), file};
  std::vector<char*> pointers;
  for (std::string& word : words)
    pointers.push_back(word.data());
  pointers.push_back(nullptr);
  pid_t child = 0;
  int error = 0;
  {
    const Wiring wiring(input.get(), trouble_end.get());
    error = posix_spawnp(&child, pointers.front(), wiring.get(), nullptr, pointers.data(),
                         environ);
  }
  trouble_end.shut();
  if (error == ENOENT) {
    return fmt::format(
        "no picture {}: {} is missing; it draws the pictures and belongs beside "
        "rimeward, or on the PATH",
        escaped(file), kDraw);
  }
  if (error != 0) refuse_machine(error);
  const std::string said = first_line(trouble.get());
  if (ended_well(child)) return std::nullopt;
  return fmt::format("no picture {}: {}", escaped(file),
                     said.empty() ? fmt::format("{} broke off", kDraw) : said);
}

}  // namespace rimeward
