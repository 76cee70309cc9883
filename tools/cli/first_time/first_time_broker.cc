#include "tools/cli/first_time/first_time_broker.h"

#include <algorithm>
#include <chrono>

#include <fmt/format.h>

#include "sensors/number.h"
#include "tools/cli/first_time/first_time_ear.h"
#include "tools/cli/first_time/first_time_settings.h"

namespace rimeward {
namespace {

using std::chrono::seconds;

constexpr std::string_view kNone = "-";

// Without the table, which is the one that is asked about: "address: ...".
std::string of_broker(std::string_view trouble) {
  constexpr std::string_view kTable = "[broker] ";
  return std::string(trouble.substr(trouble.starts_with(kTable) ? kTable.size() : 0));
}

// What was typed, put into the broker by `put`, as long as the settings take it.
template <class Put>
void ask_for(const Dialogue& dialogue, const Question& question, Garden& garden,
             Put put) {
  dialogue.ask(question, [&](const std::string& typed) -> Result<bool> {
    const auto text = fit_text(typed);
    if (!text) return tl::unexpected(text.error());
    Garden tried = garden;
    put(tried.broker, *text == kNone ? "" : *text);
    if (const auto trouble = trouble_with(tried)) return refuse(of_broker(*trouble));
    garden.broker = tried.broker;
    return true;
  });
}

std::string with_scheme(std::string address) {
  return address.find("://") == std::string::npos ? "mqtt://" + address : address;
}

void ask_address(const Dialogue& dialogue, Garden& garden) {
  const Question question{
      .asks = "Address of the broker?",
      .usual = garden.broker.address,
      .help =
          "The MQTT broker is the program that your sensors report to, such as "
          "Mosquitto; on this machine it is mqtt://127.0.0.1:1883.\n"
          "On another: mqtt:// and its name or number; mqtts:// if it encrypts, "
          "mostly with :8883 at the end."};
  ask_for(dialogue, question, garden, [](Broker& broker, const std::string& typed) {
    broker.address = with_scheme(typed);
    broker.ca_file.clear();
  });
  if (!garden.broker.address.starts_with("mqtts://")) return;
  const Question authority{
      .asks = "File with the certificate of the authority that signed the broker's?",
      .usual = std::string(kNone),
      .help =
          "For a broker whose certificate you made yourself: the authority's, not "
          "the broker's own.\n"
          "- : one of those that this system trusts signed it."};
  ask_for(dialogue, authority, garden,
          [](Broker& broker, const std::string& typed) { broker.ca_file = typed; });
}

void ask_login(const Dialogue& dialogue, Garden& garden) {
  ask_for(dialogue,
          {.asks = "User who logs in there?",
           .usual = garden.broker.user.empty() ? std::string(kNone) : garden.broker.user,
           .help = "Where the broker wants a name and a password: the name.\n"
                   "- : it lets everybody in."},
          garden, [](Broker& broker, const std::string& typed) {
            broker.user = typed;
            if (typed.empty()) broker.password_file.clear();
          });
  if (garden.broker.user.empty()) return;
  ask_for(dialogue,
          {.asks = "File whose first line is the password?",
           .usual = garden.broker.password_file.empty() ? "/etc/rimeward/broker-password"
                                                        : garden.broker.password_file,
           .help = "The password itself is not asked for: it belongs in a file that the "
                   "daemon's user alone can read (chmod 600).\n"
                   "You can write that file now, in another terminal. - : there is no "
                   "password."},
          garden,
          [](Broker& broker, const std::string& typed) { broker.password_file = typed; });
}

std::vector<std::string> filters_from(std::string_view typed) {
  std::vector<std::string> filters;
  while (!typed.empty()) {
    const std::string_view filter = typed.substr(0, typed.find(','));
    typed.remove_prefix(std::min(filter.size() + 1, typed.size()));
    if (!trimmed(filter).empty()) filters.emplace_back(trimmed(filter));
  }
  return filters;
}

void ask_topics(const Dialogue& dialogue, Garden& garden) {
  const Question question{
      .asks = "Which topics to listen to?",
      .usual = fmt::format("{}", fmt::join(garden.broker.listen, ", ")),
      .help =
          "# is all of them. Narrow it where the broker carries much that is none of "
          "the garden's, or does not let you listen to all:\n"
          "garden/# is all that begins with garden/; with a comma between two."};
  ask_for(dialogue, question, garden, [](Broker& broker, const std::string& typed) {
    broker.listen = filters_from(typed);
  });
}

// Nothing: not at all.
std::optional<seconds> ask_span(const Dialogue& dialogue, bool is_first) {
  using Span = std::optional<seconds>;
  const Question question{
      .asks = is_first ? "Listen to it now, for how long?"
                       : "Listen once more, for how long?",
      .usual = is_first ? "30 s" : std::string(kNone),
      .help =
          "Sensors report every minute to every quarter of an hour, most of them; "
          "30 s or 15 min, at most 1 h.\n"
          "- : go on with what was heard. What is heard later is shown by `rimeward "
          "sensors --heard`."};
  return dialogue.ask(question, [](const std::string& typed) -> Result<Span> {
    if (typed == kNone) return Span{};
    const auto span = span_from_text(typed);
    if (!span) return tl::unexpected(span.error());
    return Span{*span};
  });
}

enum class Next { kGoOn, kAgain, kOtherBroker };

Next after_trouble(const Dialogue& dialogue, const std::string& trouble) {
  dialogue.say(trouble.empty() ? "rimewardd ended without a word." : trouble, 2);
  const Question question{
      .asks = "Try again, give other answers about the broker, or go on without?",
      .usual = "again",
      .help =
          "again: after you have put it right. other: its address, user and "
          "password file are asked once more.\n"
          "without: the settings are written as they are; `rimeward check` tries "
          "the broker later."};
  switch (dialogue.choose(question, {"again", "other", "without"})) {
    case 0:
      return Next::kAgain;
    case 1:
      return Next::kOtherBroker;
    default:
      return Next::kGoOn;
  }
}

void say_what_was_heard(const Dialogue& dialogue, const Garden& garden, const Ear& ear) {
  const std::vector<HeardRow> rows = ear.rows();
  const auto found = candidates(garden, rows);
  const auto readable = std::ranges::count_if(
      found, [](const Candidate& each) { return each.trouble.empty(); });
  if (found.empty()) {
    dialogue.say(
        "Nothing was heard. Sensors that sleep report seldom; do they publish "
        "to this broker?");
  } else {
    dialogue.say(fmt::format("Topics or devices heard: {}; that can be read: {}.",
                             found.size(), readable));
  }
}

Next listen_once(const Dialogue& dialogue, const DaemonFollower& follow,
                 const Garden& garden, seconds span, Ear& ear) {
  dialogue.say(
      fmt::format("Listening for {} seconds; each topic is shown once.", span.count()));
  ear.begin();
  const DaemonRun run = follow(listening_arguments(garden.broker, span),
                               {.line = [&ear](std::string_view line) { ear.take(line); },
                                .go_on = [&ear] { return ear.go_on(); }});
  if (ear.interrupted()) throw Interrupted{};
  if (!run.found) {
    dialogue.say(
        "rimewardd is neither beside this program nor on PATH, so nothing can "
        "be listened to; going on without.");
    return Next::kGoOn;
  }
  if (!ear.connected()) return after_trouble(dialogue, ear.trouble());
  ear.finish();
  say_what_was_heard(dialogue, garden, ear);
  return Next::kAgain;
}

// Listens as often as is wanted.
Next listen(const Dialogue& dialogue, const DaemonFollower& follow, const Garden& garden,
            Ear& ear) {
  auto span = ask_span(dialogue, true);
  while (span) {
    const Next next = listen_once(dialogue, follow, garden, *span, ear);
    if (next != Next::kAgain) return next;
    if (ear.connected()) span = ask_span(dialogue, false);
  }
  return Next::kGoOn;
}

}  // namespace

std::vector<std::string> listening_arguments(const Broker& broker, seconds span) {
  // With "=", for a value may begin as an option does.
  std::vector<std::string> words{fmt::format("--listen={}", span.count()),
                                 fmt::format("--broker={}", broker.address)};
  const auto add = [&words](std::string_view flag, const std::string& value) {
    if (!value.empty()) words.push_back(fmt::format("{}={}", flag, value));
  };
  add("--user", broker.user);
  add("--password-file", broker.password_file);
  add("--ca-file", broker.ca_file);
  for (const std::string& filter : broker.listen)
    add("--topics", filter);
  return words;
}

std::vector<HeardRow> ask_broker(const Dialogue& dialogue, const DaemonFollower& follow,
                                 Instant now, Garden& garden) {
  dialogue.say("Now the broker, the program that your sensors report to by MQTT.");
  garden.broker.listen = {"#"};
  Ear ear(dialogue, garden, now);
  while (true) {
    ask_address(dialogue, garden);
    ask_login(dialogue, garden);
    ask_topics(dialogue, garden);
    if (listen(dialogue, follow, garden, ear) == Next::kGoOn) return ear.rows();
  }
}

}  // namespace rimeward
