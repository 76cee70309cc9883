// Runs the terminal client on the sample store, as its main() would on a real one.

#pragma once

#include <sstream>
#include <string>
#include <string_view>
#include <vector>

#include "tests/support/sample_store.h"
#include "tools/cli/command_line.h"
#include "tools/cli/keep_above_marks.h"
#include "tools/cli/summary.h"

namespace rimeward {

struct RunIn {
  Screen screen;
  Instant now = sample_evening();
};

inline std::vector<std::string> words_of(const std::string& command) {
  std::istringstream stream(command);
  std::vector<std::string> words;
  for (std::string word; stream >> word;)
    words.push_back(word);
  return words;
}

inline Reply run_client_on(Store& store, const Garden& garden,
                           const std::vector<std::string>& words, const RunIn& in) {
  const auto command = parse_command(words, in.screen);
  if (!command) return command.error();
  Surroundings around;
  around.format = command->format;
  around.screen = in.screen;
  around.system_now = in.now;
  const Zone zone = sample_zone();
  Garden kept = garden;
  take_keep_above(kept, store);
  const Context context{.around = around,
                        .garden = kept,
                        .zone = zone,
                        .store = store,
                        .now = in.now,
                        .clock_from_readings = false};
  if (command->verb == nullptr) return summary(context);
  const VerbDetails& details = command->verb->details;
  return details.answer_alone != nullptr
             ? details.answer_alone(around, command->arguments)
             : details.answer(context, command->arguments);
}

inline Reply run_client(const std::vector<std::string>& words, const RunIn& in = {}) {
  Store store = sample_store(in.now);
  return run_client_on(store, sample_garden(), words, in);
}

}  // namespace rimeward
