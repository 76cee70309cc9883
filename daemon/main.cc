// rimewardd: reads its settings, opens what it needs, and runs the loop until a signal.
//
// Threads: this one waits for signals and feeds the watchdog, the loop owns the store and
// all decisions, the courier does what can hang, and Paho has its own. They are started
// in the order in which `Service` lists its parts, and stopped in the reverse.

#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <vector>

#include <malloc.h>
#include <unistd.h>

#include "daemon/base/zone.h"
#include "daemon/check.h"
#include "daemon/console.h"
#include "daemon/crops.h"
#include "daemon/flags.h"
#include "daemon/listening.h"
#include "daemon/service.h"
#include "daemon/settings.h"
#include "daemon/signals.h"
#include "daemon/supervisor.h"

namespace rimeward {
namespace {

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

bool listened(const Flags& flags) {
  Signals signals;
  return listen_in(
      flags.broker, *flags.listen,
      [&] { return signals.wait(std::chrono::milliseconds{0}) == Signals::Kind::kStop; },
      STDOUT_FILENO);
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

const char* words_for(StartOver why) {
  switch (why) {
    case StartOver::kImported:
      return "records were imported: starting over from the store";
    case StartOver::kDamaged:
      return "starting over on a copy in memory of what can be read of the store";
    case StartOver::kFileIsBack:
      return "starting over from the store; what was spooled meanwhile is put into it";
    case StartOver::kNo:
      break;
  }
  return "";
}

// Watches over a running service until a signal, a failure or the service itself ends it.
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
    supervisor.status(service.store_status());
    if (const StartOver why = service.wants_to_start_over(); why != StartOver::kNo) {
      log(LogLevel::kInfo, words_for(why));
      supervisor.reloading();
      return End::kReloaded;
    }
    if (service.makes_progress()) supervisor.feed();
  }
}

int run(const Flags& flags, Garden garden, const LogSink& log) {
  Signals signals;
  std::optional<StoreError> damage;
  while (true) {
    Service service(garden, clock_source(flags), clock_trust(flags), log, damage);
    const End end = watch(service, flags, garden, signals, log);
    service.stop();
    damage = service.damage();
    if (end == End::kFailed || service.failed()) return EXIT_FAILURE;
    if (end == End::kStopped) return EXIT_SUCCESS;
  }
}

}  // namespace
}  // namespace rimeward

int main(int argc, char** argv) {
  using namespace rimeward;
  // One store of memory for all threads: what Paho's takes for a message the loop's
  // frees, and by default neither could use what the other has left over. It holds 3 MB
  // less.
  mallopt(M_ARENA_MAX, 1);
  const auto flags = read_flags(argc, argv);
  if (!flags) {
    std::fputs(flags.error().text.c_str(), flags.error().status == 0 ? stdout : stderr);
    return flags.error().status;
  }
  const LogSink log = console_log();
  try {
    if (flags->listen) return listened(*flags) ? EXIT_SUCCESS : EXIT_FAILURE;
    auto garden = read(*flags, log);
    if (!garden) return EXIT_FAILURE;
    if (flags->check) return checked(*garden, *flags) ? EXIT_SUCCESS : EXIT_FAILURE;
    return run(*flags, *std::move(garden), log);
  } catch (const std::exception& error) {
    log(LogLevel::kError, error.what());
    return EXIT_FAILURE;
  }
}
