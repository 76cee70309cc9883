#include "tools/cli/command_line.h"

#include <algorithm>
#include <iterator>
#include <string_view>
#include <utility>
#include <vector>

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include "daemon/base/text.h"
#include "sensors/escape.h"
#include "tools/cli/table.h"

namespace rimeward {
namespace {

constexpr std::string_view kConfig = "--config";
constexpr std::string_view kStore = "--store";
constexpr std::string_view kJson = "--json";
constexpr std::string_view kCsv = "--csv";

constexpr Parameter kEverywhere[]{
    {kConfig, "FILE", "the garden's settings (default /etc/rimeward/garden.toml)"},
    {kStore, "FILE", "the store (default: [store] file of the settings)"},
    {kJson, "", "the answer as one JSON document"},
    {"--help", "", "this text"},
};
constexpr Parameter kTabular{kCsv, "", "the answer as comma-separated values"};

bool is_option(const Parameter& parameter) {
  return parameter.name.starts_with('-');
}

std::vector<Parameter> parameters_of(const Verb* verb) {
  std::vector<Parameter> result;
  if (verb != nullptr) {
    result.assign(verb->details.parameters.begin(), verb->details.parameters.end());
    if (verb->details.tabular) result.push_back(kTabular);
  }
  result.insert(result.end(), std::begin(kEverywhere), std::end(kEverywhere));
  return result;
}

std::string usage_of(const Verb& verb) {
  std::string usage = fmt::format("rimeward {}", verb.name);
  for (const Parameter& parameter : verb.details.parameters) {
    std::string word(parameter.name);
    if (!parameter.value.empty()) word += fmt::format(" {}", parameter.value);
    usage += parameter.required ? " " + word : fmt::format(" [{}]", word);
  }
  return usage;
}

// Lines that begin with a space are examples and stand as they are.
std::string teaching_text(std::string_view teaching, const Screen& screen) {
  std::string text;
  while (!teaching.empty()) {
    const std::size_t end = std::min(teaching.find('\n'), teaching.size());
    const std::string_view line = teaching.substr(0, end);
    text += line.starts_with(' ') ? printable(line, screen) + '\n'
                                  : paragraphs(fmt::format("{}\n", line), 0, screen);
    teaching.remove_prefix(std::min(end + 1, teaching.size()));
  }
  return text;
}

std::string help_for(const Verb* verb, const Screen& screen) {
  const std::string_view usage = "rimeward [--config FILE] [--store FILE] VERB [...]";
  std::string text = fmt::format("{}\n\n", verb != nullptr ? usage_of(*verb) : usage);
  if (verb != nullptr) {
    text += teaching_text(verb->details.teaching, screen);
  } else {
    text += verb_list(screen);
    text += "\n`rimeward VERB --help` says more, with an example.\n";
  }
  Table table({{.heading = ""}, {.heading = "", .wraps = true}});
  for (const Parameter& parameter : parameters_of(verb)) {
    table.add_row({{fmt::format("  {} {}", parameter.name, parameter.value)},
                   {std::string(parameter.help)}});
  }
  return text + "\n" + table.text(screen);
}

// The first word that is neither an option nor an option's value.
const std::string* verb_word(std::span<const std::string> words) {
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (words[i] == kConfig || words[i] == kStore) {
      ++i;
    } else if (!words[i].starts_with('-')) {
      return &words[i];
    }
  }
  return nullptr;
}

Reply no_such_verb(std::string_view word) {
  std::vector<std::string_view> names;
  for (const Verb& verb : all_verbs())
    names.push_back(verb.name);
  return misused(fmt::format("no verb \"{}\"{}; verbs: {}", escaped(word),
                             did_you_mean(word, names), fmt::join(names, ", ")));
}

Reply not_expected(std::string_view word, const Verb* verb) {
  const std::string help = verb != nullptr ? fmt::format("rimeward {} --help", verb->name)
                                           : std::string("rimeward --help");
  if (!word.starts_with('-')) {
    return misused(fmt::format("\"{}\" was not expected; see {}", escaped(word), help));
  }
  std::vector<std::string_view> names;
  for (const Parameter& parameter : parameters_of(verb)) {
    if (is_option(parameter)) names.push_back(parameter.name);
  }
  const std::string_view name = word.substr(0, word.find('='));
  return misused(fmt::format("unknown option \"{}\"{}; see {}", escaped(name),
                             did_you_mean(name, names), help));
}

// One parameter as CLI11 reads it: the word given for it.
struct Slot {
  Parameter parameter;
  std::string value;
  CLI::Option* option = nullptr;  // owned by its CLI::App
};

void add_to(CLI::App& app, Slot& slot) {
  const std::string name(slot.parameter.name);
  if (is_option(slot.parameter) && slot.parameter.value.empty()) {
    slot.option = app.add_flag(name);
  } else {
    slot.option = app.add_option(name, slot.value);
  }
}

std::optional<Reply> missing(const std::vector<Slot>& slots, const Verb& verb) {
  for (const Slot& slot : slots) {
    if (!slot.parameter.required || slot.option->count() > 0) continue;
    return misused(fmt::format("{} needs {}: {}; see rimeward {} --help", verb.name,
                               slot.parameter.name, slot.parameter.help, verb.name));
  }
  return std::nullopt;
}

Command command_of(const Verb* verb, std::vector<Slot>& slots) {
  Command command;
  command.verb = verb;
  for (Slot& slot : slots) {
    if (slot.option->count() == 0) continue;
    const std::string_view name = slot.parameter.name;
    if (name == kConfig) {
      command.config_file = slot.value;
    } else if (name == kStore) {
      command.store_file = slot.value;
    } else if (name == kJson) {
      command.format = Format::kJson;
    } else if (name == kCsv) {
      command.format = Format::kCsv;
    } else {
      command.arguments.set(std::string(name), std::move(slot.value));
    }
  }
  return command;
}

tl::expected<Command, Reply> parse_for(const Verb* verb,
                                       std::vector<std::string> reversed) {
  CLI::App app;
  app.set_help_flag();
  app.allow_extras();
  std::vector<Slot> slots;
  for (const Parameter& parameter : parameters_of(verb)) {
    if (parameter.name != "--help")
      slots.push_back({.parameter = parameter, .value = {}});
  }
  for (Slot& slot : slots)
    add_to(app, slot);
  try {
    app.parse(std::move(reversed));
  } catch (const CLI::ParseError& error) {
    return tl::unexpected(misused(escaped(error.what(), 200)));
  }
  const std::vector<std::string> extras = app.remaining();
  if (!extras.empty()) return tl::unexpected(not_expected(extras.front(), verb));
  if (verb != nullptr) {
    if (std::optional<Reply> reply = missing(slots, *verb)) {
      return tl::unexpected(*std::move(reply));
    }
  }
  return command_of(verb, slots);
}

}  // namespace

std::string verb_list(const Screen& screen) {
  Table table({{.heading = ""}, {.heading = "", .wraps = true}});
  for (const Verb& verb : all_verbs()) {
    table.add_row({{fmt::format("  {}", verb.name)}, {std::string(verb.help)}});
  }
  return table.text(screen);
}

tl::expected<Command, Reply> parse_command(std::span<const std::string> words,
                                           const Screen& screen) {
  if (std::ranges::find(words, "--version") != words.end()) {
    return tl::unexpected(said("rimeward " RIMEWARD_VERSION "\n"));
  }
  const std::string* const word = verb_word(words);
  const Verb* const verb = word != nullptr ? find_verb(*word) : nullptr;
  if (word != nullptr && verb == nullptr) return tl::unexpected(no_such_verb(*word));
  const auto asks_help = [](const std::string& w) { return w == "--help" || w == "-h"; };
  if (std::ranges::any_of(words, asks_help)) {
    return tl::unexpected(said(help_for(verb, screen)));
  }
  std::vector<std::string> reversed;  // as CLI11 wants them, without the verb
  std::ranges::copy_if(words, std::back_inserter(reversed),
                       [word](const std::string& each) { return &each != word; });
  std::ranges::reverse(reversed);
  return parse_for(verb, std::move(reversed));
}

}  // namespace rimeward
