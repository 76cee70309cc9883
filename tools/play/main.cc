// rimeward-play: publishes recorded or invented readings to a broker, as the garden's
// sensors would. Exit status: 0 done, 1 could not, 2 misuse.

#include <chrono>
#include <cstdio>
#include <functional>
#include <optional>
#include <string>
#include <thread>

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include "daemon/base/text.h"
#include "daemon/settings.h"
#include "sensors/iso_time.h"
#include "tools/play/invented.h"
#include "tools/play/publisher.h"
#include "tools/recorded.h"

namespace rimeward {
namespace {

constexpr int kCouldNot = 1;
constexpr int kMisuse = 2;

struct Options {
  std::string broker;
  std::string user;
  std::string password_file;
  std::string ca_file;
  std::string recorded;
  std::string topic = "garden/{place}/climate";
  std::string from;
  std::string to;
  double speed = 0;
  bool invented = false;
  std::string config;
  int days = 3;
  std::string every = "5 min";
};

int complain(const std::string& text) {
  fmt::print(stderr, "rimeward-play: {}\n", text);
  return kCouldNot;
}

int misuse(const std::string& text) {
  complain(text);
  return kMisuse;
}

// Lets the time between two readings pass, `speed` times as fast.
class Pace {
 public:
  explicit Pace(double speed) : speed_(speed) {}

  void wait_for(Instant time) {
    if (speed_ <= 0) return;
    if (!begun_) {
      begun_ = true;
      first_ = time;
      begin_ = std::chrono::steady_clock::now();
    }
    const std::chrono::duration<double> due{(time - first_) / speed_};
    std::this_thread::sleep_until(
        begin_ + std::chrono::duration_cast<std::chrono::steady_clock::duration>(due));
  }

 private:
  double speed_;
  bool begun_ = false;
  Instant first_{};
  std::chrono::steady_clock::time_point begin_;
};

struct Span {
  std::optional<Instant> from;
  std::optional<Instant> to;
  bool holds(Instant time) const {
    return (!from || time >= *from) && (!to || time < *to);
  }
};

std::string topic_for(std::string topic, const std::string& place) {
  constexpr std::string_view kWord = "{place}";
  for (auto at = topic.find(kWord); at != std::string::npos;
       at = topic.find(kWord, at + place.size())) {
    topic.replace(at, kWord.size(), place);
  }
  return topic;
}

int play_recorded(const Options& options, const Span& span, Publisher& publisher) {
  auto file = RecordedFile::open(options.recorded);
  if (!file) return complain(file.error().message);
  Pace pace(options.speed);
  std::size_t count = 0;
  const bool by_place = options.topic.find("{place}") != std::string::npos;
  for (;;) {
    const auto reading = file->next();
    if (!reading) return complain(reading.error().message);
    if (!*reading) break;
    if (!span.holds((*reading)->time)) continue;
    if (by_place && (*reading)->place.empty()) {
      return complain(options.recorded +
                      ": a reading without place, which {place} in --topic needs");
    }
    pace.wait_for((*reading)->time);
    publisher.publish(topic_for(options.topic, (*reading)->place), payload_of(**reading));
    ++count;
  }
  publisher.finish();
  fmt::print("published {} readings\n", count);
  return 0;
}

int play_invented(const Options& options, const Garden& garden, const InventedPlan& plan,
                  Publisher& publisher) {
  Pace pace(options.speed);
  const auto messages = invented_messages(garden, plan);
  for (const PlayedMessage& message : messages) {
    pace.wait_for(message.time);
    publisher.publish(message.topic, message.payload);
  }
  publisher.finish();
  fmt::print("published {} readings\n", messages.size());
  return 0;
}

Broker broker_of(const Options& options, const std::optional<Garden>& garden) {
  Broker broker = garden ? garden->broker : Broker{};
  if (!options.broker.empty()) broker.address = options.broker;
  if (!options.user.empty()) broker.user = options.user;
  if (!options.password_file.empty()) broker.password_file = options.password_file;
  if (!options.ca_file.empty()) broker.ca_file = options.ca_file;
  return broker;
}

// Sets `into` from the text of an option; false when it is no time.
bool read_time(const std::string& text, std::optional<Instant>& into) {
  if (text.empty()) return true;
  into = parse_instant(text);
  return into.has_value();
}

int run(const Options& options) {
  Span span;
  if (!read_time(options.from, span.from)) {
    return misuse("--from: expected a time such as 2026-04-10T12:00Z");
  }
  if (!read_time(options.to, span.to)) {
    return misuse("--to: expected a time such as 2026-04-13T12:00Z");
  }
  const auto every = duration_from_text(options.every);
  if (!every || *every < std::chrono::seconds{1}) {
    return misuse("--every: expected a duration such as \"5 min\"");
  }
  if (options.invented && !span.from) return misuse("--invented needs --from");

  std::optional<Garden> garden;
  if (!options.config.empty()) {
    auto read = read_garden(options.config);
    if (!read) {
      for (const std::string& mistake : read.error())
        complain(mistake);
      return kCouldNot;
    }
    garden = std::move(*read);
  }
  auto publisher = Publisher::connect(broker_of(options, garden), [](const auto& line) {
    fmt::print(stderr, "rimeward-play: {}\n", line);
  });
  if (!publisher) return complain(publisher.error().message);
  if (!options.invented) return play_recorded(options, span, *publisher);
  const InventedPlan plan{
      .from = *span.from,
      .days = options.days,
      .every = std::chrono::floor<std::chrono::seconds>(*every),
  };
  return play_invented(options, *garden, plan, *publisher);
}

void describe(CLI::App& app, Options& options) {
  app.add_option("--broker", options.broker,
                 "its address (default: that of --config, or mqtt://127.0.0.1:1883)");
  app.add_option("--user", options.user, "user name at the broker");
  app.add_option("--password-file", options.password_file, "file with the password");
  app.add_option("--ca-file", options.ca_file, "certificates to trust, for mqtts://");
  auto* recorded = app.add_option(
      "--recorded", options.recorded,
      "CSV file with the columns time and temperature, humidity and place if any");
  app.add_option("--topic", options.topic,
                 "where to publish; {place} stands for the reading's place")
      ->capture_default_str();
  auto* invented = app.add_flag("--invented", options.invented,
                                "invented spring days for the garden of --config");
  app.add_option("--config", options.config, "settings file of the garden");
  app.add_option("--from", options.from, "first time, such as 2026-04-10T12:00Z");
  app.add_option("--to", options.to, "time to end before (recorded readings)");
  app.add_option("--days", options.days, "how many days to invent")
      ->check(CLI::Range(1, 366))
      ->capture_default_str();
  app.add_option("--every", options.every, "time between invented readings of a sensor")
      ->capture_default_str();
  app.add_option("--speed", options.speed,
                 "1: real time, 60: a minute a second, 0: as fast as it goes")
      ->check(CLI::Range(0.0, 1e9))
      ->capture_default_str();
  recorded->excludes(invented);
  invented->needs("--config");
}

int main_of(int argc, char** argv) {
  CLI::App app{"publishes recorded or invented readings to a broker", "rimeward-play"};
  app.footer(
      "rimeward-play --invented --config config/demo.toml --from 2026-04-10T12:00Z\n"
      "rimeward-play --recorded yard.csv --topic garden/yard/climate --speed 60");
  Options options;
  describe(app, options);
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return app.exit(error) == 0 ? 0 : kMisuse;
  }
  if (options.recorded.empty() && !options.invented) {
    return misuse("nothing to play; give --recorded FILE or --invented --config FILE");
  }
  return run(options);
}

}  // namespace
}  // namespace rimeward

int main(int argc, char** argv) {
  try {
    return rimeward::main_of(argc, argv);
  } catch (const std::exception& error) {
    return rimeward::complain(error.what());
  }
}
