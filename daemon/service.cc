#include "daemon/service.h"

#include <algorithm>
#include <chrono>
#include <exception>
#include <filesystem>
#include <thread>
#include <utility>

#include <fmt/format.h>
#include <malloc.h>

#include "daemon/app.h"
#include "daemon/base/inbox.h"
#include "daemon/delivery/courier.h"
#include "daemon/ingest/board_clock.h"
#include "daemon/ingest/flood_gate.h"
#include "daemon/ingest/mqtt_link.h"
#include "daemon/ingest/spool.h"
#include "daemon/ingest/timekeeper.h"
#include "daemon/post_program.h"
#include "daemon/store/marks.h"
#include "daemon/store/standing_in.h"
#include "sensors/topic.h"

namespace rimeward {
namespace {

// What does not fit waits in the spool.
constexpr std::size_t kInboxCapacity = 10'000;
// Of messages.
constexpr std::uint64_t kAboveAnyCount = std::uint64_t{1} << 40U;
// What a store that stands in for the file takes over of its readings.
constexpr std::chrono::days kStandsInFrom{4};

Zone zone_of(const Garden& garden) {
  auto zone = Zone::named(garden.time_zone);
  if (!zone) throw std::runtime_error(zone.error().message);
  return std::move(*zone);
}

LogLevel level_of(LinkEvent::Kind kind) {
  switch (kind) {
    case LinkEvent::Kind::kConnected:
      return LogLevel::kInfo;
    case LinkEvent::Kind::kLost:
    case LinkEvent::Kind::kUnreachable:
      return LogLevel::kWarning;
    case LinkEvent::Kind::kRefused:
    case LinkEvent::Kind::kClash:
      return LogLevel::kError;
  }
  std::abort();
}

// The topics of the sensors, and that of the gardener's answers.
Broker heard_by(Broker broker) {
  const std::string& commands = broker.command_topic;
  // Two filters that match one topic may bring each message twice.
  const bool is_heard = std::ranges::any_of(
      broker.listen,
      [&](const std::string& filter) { return topic_matches(filter, commands); });
  if (!commands.empty() && !is_heard) broker.listen.push_back(commands);
  return broker;
}

}  // namespace

struct Service::Opened {
  Store store;
  std::optional<StoreError> stood_in_for{};  // it is one in memory, and why
};

// In the order in which they start.
struct Service::Parts {
  Parts(const Garden& of, ClockSource source, GardenClock::Trust trust, LogSink sink,
        Opened opened)
      : garden(of),
        log(std::move(sink)),
        zone(zone_of(garden)),
        store(std::move(opened.store)),
        app(garden, zone, store, {.clock = source, .log = log}),
        spool(Spool::open(garden.store.spool, counted_from(opened))),
        course(garden.store.spool, boot_id()),
        timekeeper(GardenClock(trust, app.now(), course.read()),
                   {.look = [this] { return board.look(); },
                    .keep = [this](const Course& one) { (void)course.write(one); },
                    .log = log}),
        inbox(kInboxCapacity),
        link(heard_by(garden.broker),
             {.clock = system_time,
              .arrived = [this](Arrival arrival) { arrived(arrival); },
              .event =
                  [this](const LinkEvent& event) {
                    log(level_of(event.kind), event.text);
                  }}),
        courier(make_routes(garden.routes, outside()),
                [this](const Delivered& delivered) { post(delivered); }),
        loop({.garden = garden,
              .zone = zone,
              .app = app,
              .store = store,
              .spool = *spool,
              .inbox = inbox,
              .courier = courier,
              .gate = gate,
              .timekeeper = source == ClockSource::kSystem ? &timekeeper : nullptr,
              .stood_in_for = std::move(opened.stood_in_for)},
             log) {}

  // Where it cannot be read how far the file had counted, far above that: what is spooled
  // meanwhile must not count as stored once the file is back.
  std::uint64_t counted_from(const Opened& opened) const {
    const bool is_known = !opened.stood_in_for || store.mark(kMarkSequence);
    return is_known ? app.committed_sequence() : kAboveAnyCount;
  }

  Outside outside() {
    return {.publish =
                [this](const std::string& topic, const std::string& payload,
                       bool retained, std::chrono::milliseconds patience) {
                  return link.publish(topic, payload, retained, patience);
                },
            .post_program = post_program(),
            .garden = garden.name};
  }

  // On Paho's thread: when this returns, the broker is told that we have the message.
  void arrived(Arrival& arrival) {
    if (!gate.admit(arrival.topic, std::chrono::steady_clock::now())) return;
    arrival.uptime = board_uptime();
    const Kept kept = spool->append(arrival);
    if (kept == Kept::kSeenBefore) return gate.count_redelivered(arrival.topic);
    if (kept == Kept::kNotSafe && !unsafe_said.exchange(true)) {
      log(LogLevel::kError,
          fmt::format("{}: cannot be written, is it full? readings go on, but a kill now "
                      "would lose those that are not committed",
                      garden.store.spool));
    }
    // A full inbox loses nothing: the loop reads the spool.
    (void)inbox.post(std::move(arrival));
  }

  // The loop makes room within a moment, unless it has failed; an answer must not be
  // lost.
  void post(const Message& message) {
    while (!ended && !inbox.post(message)) {
      std::this_thread::sleep_for(std::chrono::milliseconds{5});
    }
  }

  void run_loop() {
    try {
      loop.run();
    } catch (const std::exception& error) {
      log(LogLevel::kError, error.what());
      failed = true;
    }
    ended = true;
  }

  const Garden garden;
  const LogSink log;
  const Zone zone;
  Store store;
  App app;
  std::unique_ptr<Spool> spool;
  FloodGate gate;
  BoardClock board;
  CourseNote course;
  Timekeeper timekeeper;
  Inbox<Message> inbox;
  std::atomic<bool> unsafe_said{false};
  std::atomic<bool> failed{false};
  std::atomic<bool> ended{false};
  MqttLink link;
  Courier courier;
  Loop loop;
  std::thread loop_thread;
};

// What of the store cannot be used may first be met by the App: it reads what it goes on
// from. What was learned may be what is damaged: without all of that is better than not
// at all.
std::unique_ptr<Service::Parts> Service::start(const Garden& garden, ClockSource clock,
                                               GardenClock::Trust trust,
                                               const LogSink& log,
                                               const std::optional<StoreError>& damage) {
  const std::filesystem::path file = garden.store.file;
  const auto on = [&](Store store, std::optional<StoreError> stood_in_for) {
    return std::make_unique<Parts>(
        garden, clock, trust, log,
        Opened{.store = std::move(store), .stood_in_for = std::move(stood_in_for)});
  };
  std::optional<StoreError> trouble = damage;
  try {
    if (!trouble) return on(Store::open(file, Store::Access::kReadWrite), std::nullopt);
  } catch (const StoreError& error) {
    if (!may_be_stood_in_for(error, file)) throw;
    trouble = error;
  }
  try {
    const Instant newest = last_now_of(file).value_or(system_time());
    return on(Store::standing_in(file, newest - kStandsInFrom), trouble);
  } catch (const StoreError& error) {
    log(LogLevel::kError, error.what());
    return on(Store::in_memory(), trouble);
  }
}

Service::Service(const Garden& garden, ClockSource clock, GardenClock::Trust trust,
                 LogSink log, const std::optional<StoreError>& damage)
    : parts_(start(garden, clock, trust, log, damage)) {
  malloc_trim(0);  // see daemon/loop.cc
  parts_->log(LogLevel::kInfo, fmt::format("{}: {} places, {} sensors, store {}",
                                           garden.name, garden.places.size(),
                                           garden.sensors.size(), garden.store.file));
  parts_->loop_thread = std::thread([parts = parts_.get()] { parts->run_loop(); });
  parts_->link.start();
}

Service::~Service() {
  stop();
}

void Service::stop() {
  if (!parts_->loop_thread.joinable()) return;
  // What still arrives is spooled, and taken at the next start.
  parts_->post(Stop{});
  parts_->loop_thread.join();
  parts_->courier.stop();
  parts_->link.stop();
  parts_->log(LogLevel::kInfo, parts_->loop.is_all_committed()
                                   ? "stopped; everything is committed"
                                   : "stopped; what is not in the store waits in the "
                                     "spool for the next start");
}

bool Service::failed() const {
  return parts_->failed;
}

StartOver Service::wants_to_start_over() const {
  return parts_->loop.wants_to_start_over();
}

std::string Service::store_status() const {
  return parts_->loop.store_status();
}

std::optional<StoreError> Service::damage() const {
  return parts_->loop.damage();
}

bool Service::makes_progress() {
  const std::uint64_t progress = parts_->loop.progress();
  return std::exchange(seen_progress_, progress) != progress;
}

}  // namespace rimeward
