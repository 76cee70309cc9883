#include "daemon/check.h"

#include <chrono>
#include <condition_variable>
#include <filesystem>
#include <fstream>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>

#include <fmt/format.h>
#include <unistd.h>

#include "daemon/delivery/routes.h"
#include "daemon/ingest/mqtt_link.h"
#include "daemon/notice/notice_json.h"
#include "daemon/notice/wording.h"
#include "daemon/post_program.h"
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

// Another name and nothing to listen to, so that the daemon's session stays its own.
Broker trial_settings(Broker broker) {
  broker.client_id += "-check";
  broker.listen.clear();
  broker.status_topic.clear();
  return broker;
}

// A connection to the broker for as long as this lives. Its events come on the link's
// threads.
class BrokerTrial {
 public:
  explicit BrokerTrial(const Broker& broker)
      : address_(broker.address),
        link_(trial_settings(broker),
              {.clock = [] { return Instant{}; },
               .arrived = [](const Arrival&) {},
               .event = [this](const LinkEvent& event) { note(event); }}) {
    link_.start();
  }
  ~BrokerTrial() { link_.stop(); }
  BrokerTrial(const BrokerTrial&) = delete;
  BrokerTrial& operator=(const BrokerTrial&) = delete;

  Finding answer() {
    std::unique_lock lock(mutex_);
    told_.wait_for(lock, kBrokerPatience, [this] { return first_.has_value(); });
    if (!first_) return refuse(address_ + ": no answer within 5 seconds");
    if (first_->kind != LinkEvent::Kind::kConnected) return refuse(first_->text);
    return address_ + ": answers";
  }

  MqttLink& link() { return link_; }

 private:
  void note(const LinkEvent& event) {
    const std::lock_guard lock(mutex_);
    if (!first_) first_ = event;
    told_.notify_one();
  }

  const std::string address_;
  std::mutex mutex_;
  std::condition_variable told_;
  std::optional<LinkEvent> first_;  // guarded by mutex_
  MqttLink link_;
};

// Nothing: it can be read, and begins with something.
std::optional<std::string> trouble_with(std::string_view key, const std::string& file) {
  if (file.empty()) return std::nullopt;
  std::ifstream stream(file);
  std::string line;
  std::error_code ignored;
  if (!stream || fs::is_directory(file, ignored)) {
    return fmt::format(
        "{} cannot be read; mend [[route]] {}, or let the daemon's user "
        "read it",
        file, key);
  }
  std::getline(stream, line);
  if (!line.empty()) return std::nullopt;
  return fmt::format("{} has nothing on its first line; mend [[route]] {}", file, key);
}

// What follows the host may be a secret.
std::string_view server_of(std::string_view address) {
  const std::size_t host = address.find("//") + 2;
  return address.substr(0, address.find_first_of("/?#", host));
}

Finding try_command(const RouteSettings& route) {
  const fs::path program = route.run.front();
  std::error_code ignored;
  if (program.has_parent_path() && !fs::exists(program, ignored)) {
    return refuse(fmt::format("{} does not exist; mend [[route]] run", program.string()));
  }
  return fmt::format("runs {}", program.string());
}

Finding try_post(const RouteSettings& route, const fs::path& program) {
  if (access(program.c_str(), X_OK) != 0) {
    return refuse(
        fmt::format("{} is not there, or may not be run; install it beside "
                    "rimewardd",
                    program.string()));
  }
  for (const auto& [key, file] : {std::pair("password_file", &route.password_file),
                                  std::pair("bearer_file", &route.bearer_file),
                                  std::pair("ca_file", &route.ca_file)}) {
    if (const auto trouble = trouble_with(key, *file)) return refuse(*trouble);
  }
  if (route.kind == "http") {
    return fmt::format("posts to {}", server_of(route.address));
  }
  return fmt::format("writes to {} by {}", fmt::join(route.to, ", "), route.address);
}

Finding try_route(const RouteSettings& route, const Outside& outside) {
  if (route.kind == "mqtt") return fmt::format("publishes below {}", route.topic);
  if (route.kind == "command") return try_command(route);
  return try_post(route, outside.post_program);
}

Telling trial_telling(const Garden& garden, const Zone& zone, Instant now,
                      const std::string& id) {
  const Wording wording(garden.language, garden.units, zone);
  Telling telling;
  telling.event = "raised";
  telling.notice.kind = "trial";
  telling.notice.subject = "garden";
  telling.notice.raised_at = telling.notice.spoke_at = now;
  telling.notice.title =
      wording.say(Phrase::kTrialTitle, fmt::arg("garden", garden.name));
  telling.notice.body = wording.say(Phrase::kTrialBody);
  telling.place_name = garden.name;
  telling.headline = telling.notice.title;
  telling.json = notice_json(telling.notice, garden, zone,
                             TellingMarks{.event = telling.event, .message = id});
  return telling;
}

// REQUIRES: `finding` is what was found without sending anything.
Finding send_trial(Route& route, Dispatch trial, const RouteSettings& settings,
                   const Finding& finding) {
  if (!finding) return finding;
  Outcome outcome = route.deliver(trial, {});
  if (outcome.outcome == Delivered::Outcome::kDone && settings.kind == "mqtt") {
    // A display must not show a trial for ever.
    trial.tellings.front().event = "over";
    outcome = route.deliver(trial, {});
  }
  if (outcome.outcome != Delivered::Outcome::kDone) return refuse(outcome.trouble);
  return fmt::format("{}; a trial went this way, see whether it came", *finding);
}

Dispatch trial_of(const Garden& garden, const Zone& zone, const std::string& route) {
  const auto now =
      std::chrono::floor<std::chrono::seconds>(std::chrono::system_clock::now());
  const std::string id = fmt::format("trial-{}", now.time_since_epoch().count());
  return {.route = route,
          .tellings = {trial_telling(garden, zone, now, id)},
          .id = id,
          .chart = {}};
}

class Report {
 public:
  explicit Report(std::FILE* out) : out_(out) {}

  void say(const std::string& what, const Finding& finding) {
    well_ = well_ && finding.has_value();
    fmt::print(out_, "{} {}: {}\n", finding ? "ok   " : "WRONG", what,
               finding ? *finding : finding.error().message);
  }
  bool well() const { return well_; }

 private:
  std::FILE* out_;
  bool well_ = true;
};

void check_routes(const Garden& garden, const Zone& zone, bool send, MqttLink& link,
                  Report& report) {
  const Outside outside{.publish =
                            [&link](const std::string& topic, const std::string& payload,
                                    bool retained, std::chrono::milliseconds patience) {
                              return link.publish(topic, payload, retained, patience);
                            },
                        .post_program = post_program(),
                        .garden = garden.name};
  const Routes ways = make_routes(garden.routes, outside);
  for (std::size_t i = 0; i < garden.routes.size(); ++i) {
    const RouteSettings& settings = garden.routes[i];
    const std::string name = route_name(settings, i);
    const Finding found = try_route(settings, outside);
    report.say(
        "route " + name,
        send ? send_trial(*ways.at(name), trial_of(garden, zone, name), settings, found)
             : found);
  }
}

}  // namespace

bool check(const Garden& garden, const Zone& zone, bool routes, std::FILE* out) {
  Report report(out);
  report.say("store " + garden.store.file, try_store(garden));
  BrokerTrial broker(garden.broker);
  report.say("broker", broker.answer());
  check_routes(garden, zone, routes, broker.link(), report);
  return report.well();
}

}  // namespace rimeward
