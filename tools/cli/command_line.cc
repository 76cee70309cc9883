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

constexpr std::string_view kHelp = "--help";
constexpr std::string_view kVersion = "--version";

constexpr Parameter kEverywhere[]{
    {kConfig, "FILE", "the garden's settings (default /etc/rimeward/garden.toml)", false,
     Offers::kFiles},
    {kStore, "FILE", "the store (default: [store] file of the settings)", false,
     Offers::kFiles},
    {kJson, "", "the answer as one JSON document"},
    {kHelp, "", "this text"},
};
constexpr Parameter kTabular{kCsv, "", "the answer as comma-separated values"};
constexpr Parameter kOfProgram{kVersion, "", "the version of the program"};

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

Reply no_such_verb(std::string_view word) {
  std::vector<std::string_view> names;
  for (const Verb& verb : all_verbs())
    names.push_back(verb.name);
  return misused(fmt::format("no verb \"{}\"{}; `rimeward --help` lists all",
                             escaped(word), did_you_mean(word, names)));
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

// The first option that no verb would know, whose value may be taken for a verb.
const std::string* strange_option(std::span<const std::string> words) {
  const std::vector<Parameter> known = parameters_of(nullptr);
  const auto found = std::ranges::find_if(words, [&known](const std::string& word) {
    const std::string_view name = std::string_view(word).substr(0, word.find('='));
    return word.starts_with("--") &&
           std::ranges::find(known, name, &Parameter::name) == known.end();
  });
  return found == words.end() ? nullptr : &*found;
}

// One parameter as CLI11 reads it: the word given for it.
struct Slot {
  Parameter parameter;
  std::string value;
  std::vector<std::string> rest;  // takes_rest: the words
  CLI::Option* option = nullptr;  // owned by its CLI::App
};

void add_to(CLI::App& app, Slot& slot) {
  const std::string name(slot.parameter.name);
  if (is_option(slot.parameter) && slot.parameter.value.empty()) {
    slot.option = app.add_flag(name);
  } else if (slot.parameter.takes_rest) {
    slot.option = app.add_option(name, slot.rest);
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
    if (slot.parameter.takes_rest) {
      slot.value = fmt::format("{}", fmt::join(slot.rest, " "));
    }
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
    // These were answered before.
    if (parameter.name != kHelp && parameter.name != kVersion)
      slots.push_back({.parameter = parameter, .value = {}, .rest = {}});
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
  if (verb == nullptr) result.push_back(kOfProgram);
  return result;
}

std::string usage_of(const Verb& verb) {
  std::string usage = fmt::format("rimeward {}", verb.name);
  for (const Parameter& parameter : verb.details.parameters) {
    std::string word(parameter.name);
    if (!parameter.value.empty()) word += fmt::format(" {}", parameter.value);
    if (parameter.takes_rest) word += " ...";
    usage += parameter.required ? " " + word : fmt::format(" [{}]", word);
  }
  return usage;
}

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

std::string verb_list(const Screen& screen) {
  std::size_t longest = 0;
  for (const Verb& verb : all_verbs())
    longest = std::max(longest, verb.name.size());
  std::string text;
  std::span<const Verb> verbs = all_verbs();
  while (!verbs.empty()) {
    const std::string_view group = verbs.front().group;
    Table table({{.heading = ""}, {.heading = "", .wraps = true}});
    for (; !verbs.empty() && verbs.front().group == group; verbs = verbs.subspan(1)) {
      const Verb& verb = verbs.front();
      table.add_row(
          {{fmt::format("  {:<{}}", verb.name, longest)}, {std::string(verb.help)}});
    }
    text +=
        fmt::format("{}\n{}", styled(printable(group, screen), Style::kHeading, screen),
                    table.text(screen));
  }
  return text;
}

tl::expected<Command, Reply> parse_command(std::span<const std::string> words,
                                           const Screen& screen) {
  if (std::ranges::find(words, kVersion) != words.end()) {
    return tl::unexpected(said("rimeward " RIMEWARD_VERSION "\n"));
  }
  const std::string* const word = verb_word(words);
  const Verb* const verb = word != nullptr ? find_verb(*word) : nullptr;
  if (word != nullptr && verb == nullptr) {
    const std::string* const option =
        strange_option(words.first(static_cast<std::size_t>(word - words.data())));
    return tl::unexpected(option != nullptr ? not_expected(*option, nullptr)
                                            : no_such_verb(*word));
  }
  const auto asks_help = [](const std::string& w) { return w == kHelp || w == "-h"; };
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
