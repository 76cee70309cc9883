// `rimeward check`: will it run? Settings and store are tried here, the broker and the
// routes by rimewardd.

#include <algorithm>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/crops.h"
#include "daemon/settings.h"
#include "tools/cli/daemon_run.h"
#include "tools/cli/json_text.h"
#include "tools/cli/table.h"
#include "tools/cli/verb.h"

namespace rimeward {
namespace {

enum class StoreFound { kNotTried, kGood, kMissing, kBad };

struct CheckAnswer {
  std::string config_file;
  std::vector<std::string> mistakes;
  std::size_t places = 0;
  std::size_t sensors = 0;
  std::string store_file;
  StoreFound store = StoreFound::kNotTried;
  std::string store_trouble;
  std::optional<DaemonRun> daemon;  // not run where the settings are wrong

  // A store that is not there yet is none of the gardener's mistakes.
  bool well() const {
    return mistakes.empty() && store != StoreFound::kBad && daemon && daemon->well;
  }
};

void try_store(CheckAnswer& answer) {
  if (!std::filesystem::exists(answer.store_file)) {
    answer.store = StoreFound::kMissing;
    return;
  }
  try {
    const Store store = Store::open(answer.store_file, Store::Access::kReadOnly);
    static_cast<void>(store.all_series());
    answer.store = StoreFound::kGood;
  } catch (const StoreError& error) {
    answer.store = StoreFound::kBad;
    answer.store_trouble = error.what();
  }
}

constexpr std::string_view kRoutes = "--routes";

CheckAnswer answer_check(const Surroundings& around, bool routes) {
  CheckAnswer answer;
  answer.config_file = around.config_file;
  SettingsOutcome garden = read_garden(around.config_file);
  answer.mistakes = garden ? add_crops(*garden) : garden.error();
  if (!answer.mistakes.empty()) return answer;
  answer.places = garden->places.size();
  answer.sensors = garden->sensors.size();
  answer.store_file = around.store_file.value_or(garden->store.file);
  try_store(answer);
  std::vector<std::string> words{"--config", answer.config_file, "--store",
                                 answer.store_file, "--check"};
  if (routes) words.emplace_back(kRoutes);
  answer.daemon = run_daemon(words);
  return answer;
}

std::string store_text(const CheckAnswer& answer) {
  switch (answer.store) {
    case StoreFound::kNotTried:
      return "not tried: the settings come first";
    case StoreFound::kGood:
      return answer.store_file;
    case StoreFound::kMissing:
      return answer.store_file + ": not there yet; rimewardd makes it when it first runs";
    case StoreFound::kBad:
      return answer.store_trouble;
  }
  std::abort();
}

std::string text_of_answer(const CheckAnswer& answer, const Screen& screen) {
  if (!answer.mistakes.empty()) {
    std::string text;
    for (const std::string& mistake : answer.mistakes) {
      text += printable(mistake, screen) + "\n";
    }
    return text;
  }
  const bool store_bad = answer.store == StoreFound::kBad;
  Table table({{.heading = ""}, {.heading = ""}, {.heading = "", .wraps = true}});
  table.add_row({{"settings"},
                 {"good"},
                 {fmt::format("{}: places {}, sensors {}", answer.config_file,
                              answer.places, answer.sensors)}});
  table.add_row({{"store"},
                 {store_bad ? "BAD" : "good", store_bad ? Style::kWarm : Style::kPlain},
                 {store_text(answer)}});
  if (!answer.daemon || !answer.daemon->found) {
    table.add_row({{"rimewardd"},
                   {"BAD", Style::kWarm},
                   {"neither beside this program nor on PATH, so broker and routes were "
                    "not tried; install it"}});
    return table.text(screen);
  }
  const bool well = answer.daemon->well;
  table.add_row({{"rimewardd"},
                 {well ? "good" : "BAD", well ? Style::kPlain : Style::kWarm},
                 {"says:"}});
  std::string text = table.text(screen);
  for (const std::string& line : answer.daemon->lines) {
    text += "  " + printable(line, screen) + "\n";
  }
  return text;
}

std::string_view word_of(StoreFound store) {
  switch (store) {
    case StoreFound::kNotTried:
      return "not tried";
    case StoreFound::kGood:
      return "good";
    case StoreFound::kMissing:
      return "missing";
    case StoreFound::kBad:
      return "bad";
  }
  std::abort();
}

std::string json_of_answer(const CheckAnswer& answer) {
  const bool found = answer.daemon && answer.daemon->found;
  nlohmann::ordered_json json{
      {"good", answer.well()},
      {"config_file", answer.config_file},
      {"mistakes", answer.mistakes},
      {"places", answer.places},
      {"sensors", answer.sensors},
      {"store_file", answer.store_file},
      {"store", word_of(answer.store)},
      {"store_trouble", answer.store_trouble},
      {"daemon_found", found},
      {"daemon_good", found && answer.daemon->well},
      {"daemon_lines", found ? answer.daemon->lines : std::vector<std::string>{}}};
  return json_text(json);
}

constexpr Parameter kParameters[]{
    {kRoutes, "", "send a trial by each route, marked as one"}};

Reply run(const Surroundings& around, const Arguments& arguments) {
  const CheckAnswer answer = answer_check(around, arguments.given(kRoutes));
  return {.status = answer.well() ? 0 : 1,
          .text = around.format == Format::kJson ? json_of_answer(answer)
                                                 : text_of_answer(answer, around.screen),
          .trouble = {}};
}

}  // namespace

VerbDetails describe_check() {
  return {
      .teaching =
          "Reads the settings as the daemon would, opens the store and has rimewardd "
          "try the broker and look for what the routes need. Every mistake of the "
          "settings is named with its line and what to write instead; the exit "
          "status is 1 if anything is wrong.\n\n"
          "  rimeward --config garden.toml check\n"
          "  garden.toml:4: [garden] lattitude: unknown key; did you mean "
          "\"latitude\"?\n\n"
          "With --routes everybody whom a route reaches gets a trial, which says that "
          "nothing is to be done. That a mail server has taken a letter does not say "
          "that it arrived: look whether it did. Run it as the daemon's user, who "
          "must be able to read passwords: `sudo -u rimeward rimeward check "
          "--routes`.",
      .parameters = kParameters,
      .answer_alone = run};
}

}  // namespace rimeward
