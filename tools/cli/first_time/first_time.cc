#include "tools/cli/first_time/first_time.h"

#include <algorithm>
#include <filesystem>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/base/text.h"
#include "tools/cli/first_time/first_time_file.h"
#include "tools/cli/first_time/first_time_places.h"
#include "tools/cli/first_time/first_time_sensors.h"
#include "tools/cli/first_time/first_time_settings.h"
#include "tools/cli/json_text.h"

namespace rimeward {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view kUsualFile = "/etc/rimeward/garden.toml";

// A word as a shell reads it.
std::string shell_word(const std::string& text) {
  constexpr std::string_view kSafe =
      "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_./-+,:@%";
  if (!text.empty() && text.find_first_not_of(kSafe) == std::string::npos) return text;
  std::string quoted = "'";
  for (const char letter : text)
    quoted += letter == '\'' ? "'\\''" : std::string(1, letter);
  return quoted + "'";
}

// "rimeward check", with the file where it is not the usual one.
std::string command(const fs::path& file, std::string_view verb) {
  if (file == kUsualFile) return fmt::format("rimeward {}", verb);
  return fmt::format("rimeward --config {} {}", shell_word(file.string()), verb);
}

std::optional<std::string> trouble_with_file(const fs::path& file) {
  std::error_code ignored;
  if (fs::symlink_status(file, ignored).type() != fs::file_type::not_found) {
    return fmt::format(
        "{} is there already, and first-time never writes over a file: edit it and try "
        "it with `{}`, or set up another with `rimeward --config OTHER first-time`",
        file.string(), command(file, "check"));
  }
  return trouble_with_new(file);
}

void introduce(const Dialogue& dialogue, const fs::path& file) {
  dialogue.say(
      "This sets up a garden: it asks where it lies and which places it has, listens to "
      "what the sensors report, and asks where each of them hangs.");
  dialogue.say(
      "Enter takes the answer in brackets, - means none, ? explains a question, and "
      "Ctrl-C ends and leaves everything as it was.");
  dialogue.say(
      fmt::format("Last it shows the settings and asks before it writes them to "
                  "{}.",
                  file.string()));
  dialogue.pause();
}

Garden ask_garden(const Dialogue& dialogue, const FirstTimeMeans& means, Instant now) {
  Garden garden;
  ask_site(dialogue, means.habits, now, garden);
  dialogue.pause();
  ask_places(dialogue, garden);
  dialogue.pause();
  const auto heard = ask_broker(dialogue, means.follow, now, garden);
  dialogue.pause();
  ask_sensors(dialogue, heard, garden);
  return garden;
}

// Each line by itself; only a screen narrower than the lines wraps them.
void show_settings(const Dialogue& dialogue, const std::string& text) {
  dialogue.say("These are the settings:");
  dialogue.pause();
  dialogue.show(text);
  dialogue.pause();
}

// The file that was written; nothing where none was to be.
std::optional<fs::path> write_where_wanted(const Dialogue& dialogue, fs::path file,
                                           const std::string& text) {
  if (!dialogue.agrees(fmt::format("Write it to {}?", file.string()), true)) return {};
  while (true) {
    std::optional<std::string> trouble = trouble_with_file(file);
    if (!trouble) {
      const auto written = write_new(file, text);
      if (written) return file;
      trouble = written.error().message;
    }
    dialogue.say(*trouble + ".", 2);
    const std::string other = dialogue.ask(
        {.asks = "Write it to another file? Its path, or - for none:",
         .help = "Any path where you may write, such as garden.toml in this folder; it "
                 "can be moved later.\n"
                 "- : nothing is written, and the answers are lost."});
    if (other == "-") return std::nullopt;
    file = other;
  }
}

std::string next_steps(const fs::path& file, const Garden& garden, const Screen& screen) {
  std::string text = paragraphs(
      fmt::format("{} is written. What comes next:", file.string()), 0, screen);
  const auto step = [&](const std::string& words, std::string_view what) {
    // A command stands in one line, however narrow the screen, so that it can be copied.
    text += "  " + printable(words, screen) + "\n" + paragraphs(what, 6, screen);
  };
  step(command(file, "check"), "tries the settings, the broker and what else is needed");
  if (file == kUsualFile) {
    step("sudo systemctl enable --now rimeward", "starts the daemon, now and always");
  } else {
    step(fmt::format("rimewardd --config {}", shell_word(file.string())),
         "starts the daemon");
  }
  step(command(file, "now"), "shows each place, once its sensors have reported");
  if (garden.sensors.empty()) {
    step(command(file, "sensors --heard"),
         "shows what is heard, with the lines that make a sensor of it");
  }
  step(command(file, fmt::format("batch add lettuce --sown today --place {}",
                                 garden.places.front().id)),
       "says what grows where; how warm it must be kept and what is due follow from it");
  return text + "\n";
}

constexpr std::string_view kCautions =
    "So that notices reach you by e-mail or on a telephone, give the settings a "
    "[[route]]: its lines are at their end, and `man rimeward.toml` explains them.\n"
    "A forecast is never a promise, and sensors, nets and batteries fail. Keep a "
    "thermometer by the plants that you cannot afford to lose, and look at it.";

Reply reply_for(const Surroundings& around, const fs::path& file, const Garden& garden) {
  if (around.format == Format::kJson) {
    return said(json_text({{"written", file.string()},
                           {"garden", garden.name},
                           {"places", garden.places.size()},
                           {"sensors", garden.sensors.size()},
                           {"listen", garden.broker.listen}}));
  }
  return said("\n" + next_steps(file, garden, around.screen) +
              paragraphs(kCautions, 0, around.screen));
}

}  // namespace

Reply set_up(const Surroundings& around, const FirstTimeMeans& means) {
  const fs::path& file = around.config_file;
  if (auto trouble = trouble_with_file(file)) return could_not(*std::move(trouble));
  const Dialogue dialogue(around);
  try {
    introduce(dialogue, file);
    const Garden garden = ask_garden(dialogue, means, around.system_now);
    if (auto trouble = trouble_with(garden)) return could_not(*std::move(trouble));
    const std::string text = settings_text(garden, around.screen);
    show_settings(dialogue, text);
    const auto written = write_where_wanted(dialogue, file, text);
    if (!written) return could_not("nothing was written");
    return reply_for(around, *written, garden);
  } catch (const Interrupted&) {
    return could_not("nothing was written");
  }
}

std::string least_settings() {
  return R"([garden]
name = "Hochfeld school garden"
latitude = 48.41   # degrees; north and east are positive
longitude = 9.52
time_zone = "Europe/Berlin"

[broker]
address = "mqtt://127.0.0.1:1883"
listen = ["garden/#"]

[[place]]
id = "north-frame"
kind = "frame"     # greenhouse, polytunnel, frame, bed or outdoors

[[sensor]]
id = "north-frame-climate"
place = "north-frame"
topic = "garden/north-frame/climate"
)";
}

}  // namespace rimeward
