// `rimeward first-time`: sets up a garden with whoever sits at the terminal.

#include <cstdio>

#include <fmt/format.h>
#include <unistd.h>

#include "tools/cli/daemon_run.h"
#include "tools/cli/first_time/first_time.h"
#include "tools/cli/first_time/first_time_file.h"
#include "tools/cli/verb.h"

namespace rimeward {
namespace {

// What is asked is shown where no document goes.
bool somebody_is_there(const Surroundings& around) {
  const int shown = around.format == Format::kText ? STDOUT_FILENO : STDERR_FILENO;
  return around.conversation != nullptr && isatty(STDIN_FILENO) == 1 &&
         isatty(shown) == 1;
}

Reply nobody_there(const Surroundings& around) {
  Reply reply = misused(fmt::format(
      "first-time asks questions, and there is no terminal to ask them at; run it at "
      "one, or write {} by hand{}",
      around.config_file.string(),
      around.format == Format::kText ? ": this is the least it needs" : ""));
  if (around.format == Format::kText) reply.text = least_settings();
  return reply;
}

Reply run(const Surroundings& around, const Arguments& /*arguments*/) {
  if (!somebody_is_there(around)) return nobody_there(around);
  return set_up(around, {.habits = habits_of_machine(), .follow = follow_daemon});
}

}  // namespace

VerbDetails describe_first_time() {
  return {
      .teaching =
          "Asks what the garden is called, where it lies and which places it has; "
          "listens to the broker and shows what the sensors say; asks where each hangs; "
          "and writes the settings, with remarks, after showing them. It never writes "
          "over a file that is there.\n\n"
          "Enter takes the answer in brackets, - means none, ? explains a question, and "
          "Ctrl-C ends it with nothing written.\n\n"
          "  sudo rimeward first-time\n"
          "  What is the garden called? Hochfeld school garden\n"
          "  Where does it lie? Latitude, longitude: 48.41 N 9.52 E\n"
          "  ...\n"
          "  garden/north-frame/climate says: temperature 3.1 °C, humidity 81 %.\n"
          "  Which place is it in? [north-frame]\n\n"
          "It needs a terminal. Without one it says what the least of a settings file "
          "is. With --json the questions go to stderr, and stdout has one document when "
          "the file is written.",
      .parameters = {},
      .answer_alone = run};
}

}  // namespace rimeward
