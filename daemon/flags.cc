#include "daemon/flags.h"

#include <array>
#include <cstdint>
#include <sstream>
#include <vector>

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include "sensors/escape.h"
#include "sensors/topic.h"

namespace rimeward {
namespace {

constexpr std::int64_t kLongestListening = 86'400;  // a day

template <class Value>
CLI::Option* option(CLI::App& app, const FlagHelp& help, Value& value) {
  return app.add_option(std::string(help.name), value, std::string(help.help))
      ->type_name(std::string(help.value));
}

CLI::Option* toggle(CLI::App& app, const FlagHelp& help, bool& value) {
  return app.add_flag(std::string(help.name), value, std::string(help.help));
}

void add_clock(CLI::App& app, const FlagHelp& help, Flags& flags) {
  option(app, help, flags.clock)->check(CLI::IsMember({"system", "trusted", "readings"}));
}

void add_routes(CLI::App& app, const FlagHelp& help, Flags& flags) {
  toggle(app, help, flags.routes)->needs(app.get_option("--check"));
}

void add_listen(CLI::App& app, const FlagHelp& help, Flags& flags) {
  app.add_option_function<std::int64_t>(
         std::string(help.name),
         [&flags](std::int64_t seconds) { flags.listen = std::chrono::seconds{seconds}; },
         std::string(help.help))
      ->type_name(std::string(help.value))
      ->check(CLI::Range(std::int64_t{1}, kLongestListening))
      ->excludes(app.get_option("--check"));
}

template <std::string Broker::*member>
void add_for_listening(CLI::App& app, const FlagHelp& help, Flags& flags) {
  option(app, help, flags.broker.*member)->needs(app.get_option("--listen"));
}

std::string trouble_with_filter(const std::string& filter) {
  if (is_valid_filter(filter)) return "";
  return fmt::format(
      "\"{}\" is no topic filter; + and # stand for whole levels, # for "
      "the last ones only",
      escaped(filter));
}

void add_topics(CLI::App& app, const FlagHelp& help, Flags& flags) {
  option(app, help, flags.broker.listen)
      ->allow_extra_args(false)
      ->needs(app.get_option("--listen"))
      ->check(CLI::Validator(trouble_with_filter, ""));
}

struct Flag {
  FlagHelp help;
  // Null: CLI11 has it by itself.
  void (*add)(CLI::App& app, const FlagHelp& help, Flags& flags);
};

// A flag stands behind those that it needs.
constexpr std::array kFlags{
    Flag{
        {"--config", "FILE", "the garden's settings (default /etc/rimeward/garden.toml)"},
        [](CLI::App& app, const FlagHelp& help, Flags& flags) {
          option(app, help, flags.config);
        }},
    Flag{{"--store", "FILE", "the store (default: [store] file of the settings)"},
         [](CLI::App& app, const FlagHelp& help, Flags& flags) {
           option(app, help, flags.store);
         }},
    Flag{{"--clock", "WHOSE",
          "system: the board's, once something speaks for it (the default); trusted: the "
          "board's from the start; readings: the newest believable time in the readings"},
         &add_clock},
    Flag{{"--check", "", "try settings, store, broker and routes, then end"},
         [](CLI::App& app, const FlagHelp& help, Flags& flags) {
           toggle(app, help, flags.check);
         }},
    Flag{{"--routes", "", "with --check: send a trial by each route too"}, &add_routes},
    Flag{{"--listen", "SECONDS",
          "read no settings; only print what the broker carries, for so long, as a line "
          "of JSON a message, and end"},
         &add_listen},
    Flag{{"--broker", "ADDRESS",
          "with --listen: the broker (default mqtt://127.0.0.1:1883)"},
         &add_for_listening<&Broker::address>},
    Flag{{"--user", "NAME", "with --listen: who logs in (default: nobody)"},
         &add_for_listening<&Broker::user>},
    Flag{{"--password-file", "FILE",
          "with --listen: the file whose first line is the password"},
         &add_for_listening<&Broker::password_file>},
    Flag{{"--ca-file", "FILE",
          "with --listen, for mqtts://: the certificate of the authority that signed "
          "the broker's"},
         &add_for_listening<&Broker::ca_file>},
    Flag{{"--topics", "FILTER",
          "with --listen: what to listen to; may be given more than once (default #: "
          "all)"},
         &add_topics},
    Flag{{"--version", "", "the version, then end"}, nullptr},
    Flag{{"--help", "", "this text, then end"}, nullptr},
};

constexpr auto kHelps = [] {
  std::array<FlagHelp, kFlags.size()> helps{};
  for (std::size_t i = 0; i < kFlags.size(); ++i)
    helps.at(i) = kFlags.at(i).help;
  return helps;
}();

FlagsEnd end_of(const CLI::App& app, const CLI::ParseError& error) {
  std::ostringstream out;
  std::ostringstream trouble;
  if (app.exit(error, out, trouble) == 0) return {.status = 0, .text = out.str()};
  return {.status = 2, .text = trouble.str() + out.str()};
}

}  // namespace

std::span<const FlagHelp> all_flags() {
  return kHelps;
}

tl::expected<Flags, FlagsEnd> read_flags(int argc, const char* const* argv) {
  Flags flags;
  CLI::App app{"Listens to the garden's sensors and says in time what to do."};
  app.set_version_flag("--version", RIMEWARD_VERSION);
  for (const Flag& flag : kFlags) {
    if (flag.add != nullptr) flag.add(app, flag.help, flags);
  }
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return tl::unexpected(end_of(app, error));
  }
  if (flags.broker.listen.empty()) flags.broker.listen = {"#"};
  return flags;
}

}  // namespace rimeward
