#include <string>
#include <string_view>

#include <fmt/format.h>

#include "daemon/flags.h"
#include "tools/manual/pages.h"
#include "tools/manual/roff.h"

namespace rimeward {
namespace {

constexpr std::string_view kDescription[]{
    "`rimewardd` listens to a garden's sensors over MQTT, keeps what they say in one "
    "SQLite "
    "file, forecasts tonight's low in each place from the place's own readings, and says "
    "in time what to do: by e-mail, by HTTP, to the broker, or by a program of yours. It "
    "needs no cloud and drives nothing. How things stand is asked by rimeward(1).",
    "What the broker has had acknowledged survives a kill at any instant; a power cut "
    "costs "
    "at most what came since the store was last written, which the settings say, and "
    "never "
    "the store. A restart loses no notice and tells none twice.",
    "A board without a battery clock wakes in the wrong year. Readings then wait until "
    "something speaks for the clock, and are stored at their true times."};

constexpr std::string_view kBroker[]{
    "By its own defaults a Mosquitto broker drops readings when the daemon is away for "
    "an "
    "hour, and forgets them all when the power fails. `mosquitto-rimeward.conf`, which "
    "comes with the program, mends both: copy it to /etc/mosquitto/conf.d and restart "
    "the "
    "broker.",
    "The daemon keeps a session under its `client_id`, so that nothing is lost while it "
    "is "
    "restarted. It says on `status_topic` whether it is there."};

constexpr std::string_view kUnit =
    "`rimeward.service`, which comes with the program, runs it as a user of its own who "
    "may "
    "write to its two folders and speak to the network, and restarts it when it makes no "
    "progress for half a minute. Copy it to /etc/systemd/system, make the user by "
    "`useradd "
    "--system rimeward`, then `systemctl enable --now rimeward`. Let `rimeward check` "
    "read "
    "the settings first.";

struct Tagged {
  std::string_view tag;
  std::string_view text;
};

constexpr Tagged kSignals[]{
    {"SIGHUP",
     "Reads the settings anew, as `systemctl reload rimeward` asks. Where they have a "
     "mistake, it says so in the log and goes on with those it had."},
    {"SIGTERM, SIGINT", "Writes what is open, says goodbye to the broker and ends."}};

constexpr Tagged kStatuses[]{
    {"0", "It was asked to end; or all that was to be tried is well."},
    {"1",
     "It could not go on: settings with mistakes, a store that cannot be opened; or "
     "something that was to be tried is not well. The log says which."},
    {"2", "A flag that it does not know, or that wants another value."}};

constexpr Tagged kFiles[]{
    {"/etc/rimeward/garden.toml", "The settings. See rimeward.toml(5)."},
    {"/var/lib/rimeward/garden.db", "The store, where the settings name no other."},
    {"/run/rimeward/spool",
     "Messages that are not in the store yet, where the settings name no other folder."},
    {"rimeward-post", "The program that carries e-mail and HTTP, beside rimewardd."}};

void add_flags(ManualPage& page) {
  for (const FlagHelp& flag : all_flags()) {
    std::string tag = roff_bold(flag.name);
    if (!flag.value.empty()) tag += " " + roff_italic(flag.value);
    page.item(tag, flag.help);
  }
}

}  // namespace

std::string page_of_daemon() {
  ManualPage page("rimewardd", "8", "listen to a garden and say in time what to do");
  page.section("SYNOPSIS");
  page.roff_paragraph(
      fmt::format("{} [{} ...]", roff_bold("rimewardd"), roff_italic("OPTION")));
  page.section("DESCRIPTION");
  for (const std::string_view text : kDescription)
    page.paragraph(text);
  page.section("OPTIONS");
  add_flags(page);
  page.section("SIGNALS");
  for (const Tagged& signal : kSignals)
    page.item(roff_bold(signal.tag), signal.text);
  page.section("EXIT STATUS");
  for (const Tagged& status : kStatuses)
    page.item(roff_bold(status.tag), status.text);
  page.section("BROKER");
  for (const std::string_view text : kBroker)
    page.paragraph(text);
  page.section("SERVICE");
  page.paragraph(kUnit);
  page.section("FILES");
  for (const Tagged& file : kFiles)
    page.item(roff_italic(file.tag), file.text);
  page.section("CAUTIONS");
  page.paragraph(
      "A forecast is never a promise, and a sensor or a board can fail in the cold. Keep "
      "a "
      "thermometer by the plants that you cannot afford to lose.");
  page.section("SEE ALSO");
  page.roff_paragraph(
      fmt::format("{}(1), {}(5)", roff_bold("rimeward"), roff_bold("rimeward.toml")));
  return page.text();
}

}  // namespace rimeward
