#include "daemon/check.h"

#include <chrono>
#include <condition_variable>
#include <filesystem>
#include <mutex>
#include <optional>
#include <string>

#include <fmt/format.h>

#include "daemon/ingest/mqtt_link.h"
#include "daemon/store/store.h"
#include "sensors/result.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
namespace fs = std::filesystem;

constexpr auto kBrokerPatience = 5s;

// What was found, or what is wrong with it.
using Finding = Result<std::string>;

Finding try_store(const Garden& garden) {
  const fs::path file = garden.store.file;
  std::error_code ignored;
  if (!fs::exists(file, ignored)) return "none yet; the daemon will make it";
  try {
    const Store store = Store::open(file, Store::Access::kReadOnly);
    return fmt::format("{} readings", store.reading_count());
  } catch (const StoreError& error) {
    return refuse(error.what());
  }
}

Finding try_broker(const Garden& garden) {
  Broker broker = garden.broker;
  // Another name and nothing to listen to, so that the daemon's session stays its own.
  broker.client_id += "-check";
  broker.listen.clear();
  broker.status_topic.clear();
  std::mutex mutex;
  std::condition_variable told;
  std::optional<LinkEvent> event;
  MqttLink link(broker, {.clock = [] { return Instant{}; },
                         .arrived = [](const Arrival&) {},
                         .event =
                             [&](const LinkEvent& one) {
                               const std::lock_guard lock(mutex);
                               if (!event) event = one;
                               told.notify_one();
                             }});
  link.start();
  std::unique_lock lock(mutex);
  told.wait_for(lock, kBrokerPatience, [&] { return event.has_value(); });
  const std::optional<LinkEvent> first = event;
  lock.unlock();
  link.stop();
  if (!first) return refuse(garden.broker.address + ": no answer within 5 seconds");
  if (first->kind != LinkEvent::Kind::kConnected) return refuse(first->text);
  return garden.broker.address + ": answers";
}

Finding try_route(const RouteSettings& route) {
  if (route.kind != "command") return "by the broker";
  const fs::path program = route.run.front();
  std::error_code ignored;
  if (program.has_parent_path() && !fs::exists(program, ignored)) {
    return refuse(fmt::format("{} does not exist; mend [[route]] run", program.string()));
  }
  return fmt::format("runs {}", program.string());
}

}  // namespace

bool check(const Garden& garden, std::FILE* out) {
  bool well = true;
  const auto say = [&](const std::string& what, const Finding& finding) {
    well = well && finding.has_value();
    fmt::print(out, "{} {}: {}\n", finding ? "ok   " : "WRONG", what,
               finding ? *finding : finding.error().message);
  };
  say("store " + garden.store.file, try_store(garden));
  say("broker", try_broker(garden));
  for (std::size_t i = 0; i < garden.routes.size(); ++i) {
    say("route " + route_name(garden.routes[i], i), try_route(garden.routes[i]));
  }
  return well;
}

}  // namespace rimeward
