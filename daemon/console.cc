#include "daemon/console.h"

#include <cstdlib>
#include <memory>

#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/sinks/systemd_sink.h>
#include <spdlog/spdlog.h>

namespace rimeward {
namespace {

spdlog::sink_ptr sink() {
  // The journal stamps lines itself and wants their priority (systemd.exec(5)).
  if (std::getenv("JOURNAL_STREAM") != nullptr) {  // NOLINT(concurrency-mt-unsafe)
    return std::make_shared<spdlog::sinks::systemd_sink_mt>("rimewardd");
  }
  auto console = std::make_shared<spdlog::sinks::stderr_sink_mt>();
  console->set_pattern("%Y-%m-%dT%H:%M:%S.%e %l: %v");
  return console;
}

}  // namespace

LogSink console_log() {
  auto logger = std::make_shared<spdlog::logger>("rimewardd", sink());
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
