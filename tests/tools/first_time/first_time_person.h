// A person at a terminal who answers by a script, and a broker that says what it is told
// to, for tests of `rimeward first-time`.

#pragma once

#include <chrono>
#include <deque>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "daemon/heard_line.h"
#include "tools/cli/first_time/first_time.h"

namespace rimeward {

// 12 April 2026, 18:40 in the garden.
inline Instant april_evening() {
  return Instant{std::chrono::seconds{1'776'012'000}};
}

// What is answered, one after the other; who has no answer left ends the input.
struct Person {
  std::deque<std::string> answers;
  std::string seen;  // all that was shown, with the answers where they were typed
  std::vector<std::string> questions;
  // True: Ctrl-C in the first wait.
  bool interrupts_waits = false;

  Conversation conversation() {
    return {.tell = [this](std::string_view lines) { seen += lines; },
            .ask = [this](std::string_view question) { return ask(question); },
            .wait = [this](std::chrono::seconds) -> std::optional<Instant> {
              if (interrupts_waits) return std::nullopt;
              return april_evening();
            },
            .write = {},
            .progress = {}};
  }

 private:
  std::optional<std::string> ask(std::string_view question) {
    questions.emplace_back(question);
    seen += question;
    if (answers.empty()) return std::nullopt;
    std::string answer = std::move(answers.front());
    answers.pop_front();
    seen += answer + "\n";
    return answer;
  }
};

inline std::string message_line(std::string topic, std::string payload,
                                bool retained = false) {
  std::string line = to_line({.kind = HeardLine::Kind::kMessage,
                              .topic = std::move(topic),
                              .payload = std::move(payload),
                              .retained = retained});
  line.pop_back();
  return line;
}

// A rimewardd that prints these lines, a look between two, and then ends.
struct ScriptedDaemon {
  std::vector<std::string> lines{R"({"connected": true})"};
  bool found = true;
  std::vector<std::vector<std::string>> calls{};

  DaemonFollower follower() {
    return [this](const std::vector<std::string>& arguments, const Following& with) {
      calls.push_back(arguments);
      DaemonRun run{.found = found, .well = true, .lines = {}};
      if (!found) return run;
      for (const std::string& line : lines) {
        with.line(line);
        if (!with.go_on()) break;
      }
      return run;
    };
  }
};

struct SetUp {
  Person person;
  ScriptedDaemon daemon;
  MachineHabits habits{.time_zone = "Europe/Berlin", .language = "en"};
  Screen screen{};
  Format format = Format::kText;

  Reply run(const std::filesystem::path& file) {
    const Conversation conversation = person.conversation();
    Surroundings around;
    around.config_file = file;
    around.format = format;
    around.screen = screen;
    around.system_now = april_evening();
    around.conversation = &conversation;
    return set_up(around, {.habits = habits, .follow = daemon.follower()});
  }
};

}  // namespace rimeward
