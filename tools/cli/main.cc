// rimeward, the terminal client: picks a verb, opens what it needs, prints what it says.
// One thread; the only place of the program that reads the clock.

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <filesystem>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <fmt/format.h>

#include "daemon/crops.h"
#include "daemon/settings.h"
#include "daemon/store/marks.h"
#include "tools/cli/command_line.h"
#include "tools/cli/completion_run.h"
#include "tools/cli/conversation.h"
#include "tools/cli/keep_above_marks.h"
#include "tools/cli/summary.h"

namespace rimeward {
namespace {

Reply wrong_settings(const std::vector<std::string>& mistakes) {
  return could_not(fmt::format(
      "{}\nthe settings are wrong: mend them, or name others with --config FILE",
      fmt::join(mistakes, "\n")));
}

// Opening for writing would make a file that is missing, and make it the client's own.
// Where the medium can only be read, a verb that can write may still have something to
// show, as `batch list` does; one that does write then says why it cannot.
Store open_store(const std::filesystem::path& file, bool writes) {
  if (!writes) return Store::open(file, Store::Access::kReadOnly);
  if (!std::filesystem::exists(file)) {
    throw StoreError(fmt::format(
        "{}: no store there; start rimewardd once, or give --store FILE", file.string()));
  }
  try {
    return Store::open(file, Store::Access::kReadWrite);
  } catch (const StoreError&) {
    return Store::open(file, Store::Access::kReadOnly);
  }
}

// Of a garden that is played or rehearsed, time is what its readings say.
Context context_of(const Surroundings& around, const Garden& garden, const Zone& zone,
                   Store& store) {
  const auto newest = store.mark(kMarkNow);
  const bool played =
      store.mark(kMarkClockByReadings).value_or(0) == 1 && newest.has_value();
  return {.around = around,
          .garden = garden,
          .zone = zone,
          .store = store,
          .now = played ? Instant{std::chrono::seconds{newest.value_or(0)}}
                        : around.system_now,
          .clock_from_readings = played};
}

Reply run_in_garden(const Surroundings& around, const Command& command) {
  SettingsOutcome garden = read_garden(around.config_file);
  if (!garden) return wrong_settings(garden.error());
  if (command.verb != nullptr && command.verb->details.knows_crops) {
    const std::vector<std::string> mistakes = add_crops(*garden);
    if (!mistakes.empty()) return wrong_settings(mistakes);
  }
  const Result<Zone> zone = Zone::named(garden->time_zone);
  if (!zone) return could_not(zone.error().message);
  const bool writes = command.verb != nullptr && command.verb->details.writes;
  Store store = open_store(around.store_file.value_or(garden->store.file), writes);
  take_keep_above(*garden, store);
  const Context context = context_of(around, *garden, *zone, store);
  if (command.verb == nullptr) return summary(context);
  return command.verb->details.answer(context, command.arguments);
}

// Without a garden yet, `rimeward` alone still says what there is to try.
Reply run_summary(const Surroundings& around, const Command& command) {
  Reply reply;
  try {
    reply = run_in_garden(around, command);
  } catch (const StoreError& error) {
    reply = could_not(error.what());
  }
  if (reply.status != 0 && around.format == Format::kText) {
    reply.text = summary_without_garden(around);
  }
  return reply;
}

Reply run(const std::vector<std::string>& words) {
  Surroundings around;
  around.screen = screen_of_process();
  if (!words.empty() && words.front() == kCompleteOption) {
    return said(complete_line(std::span(words).subspan(1), around.screen));
  }
  around.system_now =
      std::chrono::floor<std::chrono::seconds>(std::chrono::system_clock::now());
  auto command = parse_command(words, around.screen);
  if (!command) return std::move(command.error());
  around.config_file = command->config_file.value_or(around.config_file);
  around.store_file = command->store_file;
  around.format = command->format;
  const Conversation conversation = conversation_of_process(around.format, around.screen);
  around.conversation = &conversation;
  if (command->verb == nullptr) return run_summary(around, *command);
  const VerbDetails& details = command->verb->details;
  return details.answer_alone != nullptr
             ? details.answer_alone(around, command->arguments)
             : run_in_garden(around, *command);
}

// Each line by itself: what was typed, or stands in a file, may hold control characters.
void print_trouble(std::string_view trouble) {
  const Screen screen = screen_of_process();
  while (!trouble.empty()) {
    const std::size_t end = std::min(trouble.find('\n'), trouble.size());
    fmt::print(stderr, "rimeward: {}\n", printable(trouble.substr(0, end), screen));
    trouble.remove_prefix(std::min(end + 1, trouble.size()));
  }
}

}  // namespace
}  // namespace rimeward

int main(int argc, char** argv) {
  using namespace rimeward;
  Reply reply;
  try {
    reply = run({argv + std::min(argc, 1), argv + argc});
  } catch (const std::exception& error) {
    reply = could_not(error.what());
  }
  std::fwrite(reply.text.data(), 1, reply.text.size(), stdout);
  const bool printed = std::fflush(stdout) == 0;
  print_trouble(reply.trouble);
  if (!printed) {
    std::perror("rimeward: cannot write the answer");
    return EXIT_FAILURE;
  }
  return reply.status;
}
