// rimewardd: reads its settings, opens what it needs, and runs the loop until a signal.
//
// Threads: this one waits for signals and feeds the watchdog, the loop owns the store and
// all decisions, the courier does what can hang, and Paho has its own. They are started
// in the order in which `Service` lists its parts, and stopped in the reverse.

#include <cstdlib>
#include <string>
#include <vector>

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include "daemon/base/zone.h"
#include "daemon/check.h"
#include "daemon/console.h"
#include "daemon/crops.h"
#include "daemon/service.h"
#include "daemon/settings.h"
#include "daemon/signals.h"

namespace rimeward {
namespace {

struct Flags {
  std::string config = "/etc/rimeward/garden.toml";
  std::string store;
  std::string clock = "system";
  bool check = false;
  bool routes = false;
};

ClockSource clock_source(const Flags& flags) {
  return flags.clock == "readings" ? ClockSource::kReadings : ClockSource::kSystem;
}

GardenClock::Trust clock_trust(const Flags& flags) {
  return flags.clock == "trusted" ? GardenClock::Trust::kGiven
                                  : GardenClock::Trust::kEarned;
}

// The garden of the settings file; nothing after all its mistakes were logged.
std::optional<Garden> read(const Flags& flags, const LogSink& log) {
  SettingsOutcome outcome = read_garden(flags.config);
  if (!outcome) {
    for (const std::string& mistake : outcome.error())
      log(LogLevel::kError, mistake);
    return std::nullopt;
  }
  const std::vector<std::string> mistakes = add_crops(*outcome);
  for (const std::string& mistake : mistakes)
    log(LogLevel::kError, mistake);
  if (!mistakes.empty()) return std::nullopt;
  if (!flags.store.empty()) outcome->store.file = flags.store;
  return std::move(*outcome);
}

bool checked(const Garden& garden, const Flags& flags) {
  // The settings have refused a zone that is not known.
  const Zone zone = Zone::named(garden.time_zone).value();
  return check(garden, zone, flags.routes, stdout);
}

// Good new settings are put into `garden`; bad ones change nothing.
bool reload(const Flags& flags, Garden& garden, Supervisor& supervisor,
            const LogSink& log) {
  supervisor.reloading();
  auto next = read(flags, log);
  if (!next) {
    log(LogLevel::kError, "the settings stay as they were until that is mended");
    supervisor.ready();
    return false;
  }
  garden = std::move(*next);
  log(LogLevel::kInfo, "settings read anew from " + flags.config);
  return true;
}

enum class End { kStopped, kFailed, kReloaded };

// Watches over a running service until a signal ends it.
End watch(Service& service, const Flags& flags, Garden& garden, Signals& signals,
          const LogSink& log) {
  Supervisor supervisor;
  supervisor.ready();
  while (true) {
    const Signals::Kind signal = signals.wait(supervisor.feed_every());
    if (signal == Signals::Kind::kStop) {
      supervisor.stopping();
      return End::kStopped;
    }
    if (signal == Signals::Kind::kReload && reload(flags, garden, supervisor, log)) {
      return End::kReloaded;
    }
    if (service.failed()) return End::kFailed;
    if (service.makes_progress()) supervisor.feed();
  }
}

int run(const Flags& flags, Garden garden, const LogSink& log) {
  Signals signals;
  while (true) {
    Service service(garden, clock_source(flags), clock_trust(flags), log);
    const End end = watch(service, flags, garden, signals, log);
    service.stop();
    if (end == End::kFailed || service.failed()) return EXIT_FAILURE;
    if (end == End::kStopped) return EXIT_SUCCESS;
  }
}

}  // namespace
}  // namespace rimeward

int main(int argc, char** argv) {
  using namespace rimeward;
  Flags flags;
  CLI::App arguments{"Listens to the garden's sensors and says in time what to do."};
  arguments.set_version_flag("--version", RIMEWARD_VERSION);
  arguments.add_option("--config", flags.config, "settings file")->capture_default_str();
  arguments.add_option("--store", flags.store, "store file, instead of the settings'");
  arguments
      .add_option("--clock", flags.clock,
                  "system: the board's, once something speaks for it; trusted: the "
                  "board's from the start; readings: the newest believable time in the "
                  "readings")
      ->check(CLI::IsMember({"system", "trusted", "readings"}))
      ->capture_default_str();
  CLI::Option* const check_flag = arguments.add_flag(
      "--check", flags.check, "try settings, store, broker and routes, then end");
  arguments
      .add_flag("--routes", flags.routes, "with --check: send a trial by each route too")
      ->needs(check_flag);
  try {
    arguments.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return arguments.exit(error) == 0 ? EXIT_SUCCESS : 2;
  }
  const LogSink log = console_log();
  try {
    auto garden = read(flags, log);
    if (!garden) return EXIT_FAILURE;
    if (flags.check) return checked(*garden, flags) ? EXIT_SUCCESS : EXIT_FAILURE;
    return run(flags, *std::move(garden), log);
  } catch (const std::exception& error) {
    log(LogLevel::kError, error.what());
    return EXIT_FAILURE;
  }
}
