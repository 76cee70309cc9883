#include "daemon/console.h"

#include <cstdlib>
#include <memory>
#include <string>
#include <utility>

#include <fmt/format.h>
#include <spdlog/pattern_formatter.h>
#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>
#include <sys/stat.h>
#include <unistd.h>

namespace rimeward {
namespace {

// The priority of a line as the journal reads it from its beginning (sd-daemon(3)).
class Priority final : public spdlog::custom_flag_formatter {
 public:
  void format(const spdlog::details::log_msg& message, const std::tm& /*time*/,
              spdlog::memory_buf_t& line) override {
    switch (message.level) {
      case spdlog::level::err:
        return line.push_back('3');
      case spdlog::level::warn:
        return line.push_back('4');
      default:
        return line.push_back('6');
    }
  }
  std::unique_ptr<custom_flag_formatter> clone() const override {
    return std::make_unique<Priority>();
  }
};

// $JOURNAL_STREAM names the journal's end by device and inode; a shell that the service
// manager started hands it on, and stderr may be a terminal all the same
// (systemd.exec(5)).
bool is_read_by_journal() {
  const char* const journal =
      std::getenv("JOURNAL_STREAM");  // NOLINT(concurrency-mt-unsafe)
  struct stat end {};
  return journal != nullptr && fstat(STDERR_FILENO, &end) == 0 &&
         fmt::format("{}:{}", end.st_dev, end.st_ino) == journal;
}

// The journal stamps lines itself and wants their priority. It reads what is written to
// stderr: spdlog's own way to it goes by libsystemd, see daemon/supervisor.h.
std::unique_ptr<spdlog::formatter> formatter() {
  auto lines = std::make_unique<spdlog::pattern_formatter>();
  if (is_read_by_journal()) {
    lines->add_flag<Priority>('*').set_pattern("<%*>%v");
  } else {
    lines->set_pattern("%Y-%m-%dT%H:%M:%S.%e %l: %v");
  }
  return lines;
}

}  // namespace

LogSink console_log() {
  auto console = std::make_shared<spdlog::sinks::stderr_sink_mt>();
  console->set_formatter(formatter());
  auto logger = std::make_shared<spdlog::logger>("rimewardd", std::move(console));
  logger->flush_on(spdlog::level::info);
  return [logger](LogLevel level, const std::string& line) {
    switch (level) {
      case LogLevel::kInfo:
        return logger->info("{}", line);
      case LogLevel::kWarning:
        return logger->warn("{}", line);
      case LogLevel::kError:
        return logger->error("{}", line);
    }
  };
}

}  // namespace rimeward
