#include <algorithm>
#include <string>
#include <string_view>
#include <vector>

#include <fmt/format.h>

#include "tools/cli/command_line.h"
#include "tools/cli/verb.h"
#include "tools/manual/pages.h"
#include "tools/manual/roff.h"

namespace rimeward {
namespace {

constexpr std::string_view kDescription =
    "Rimeward watches over plants under unheated cover: a greenhouse, a cold frame, "
    "beds, "
    "the open. Its daemon, `rimewardd`, listens to cheap sensors, keeps what they say, "
    "forecasts tonight's low in each place and says in time what to do. `rimeward` is "
    "where you ask how things stand, and where you write down what you did: fleece put "
    "on, a lid opened, a batch sown. It drives nothing: it advises, you decide.";

constexpr std::string_view kAlone =
    "Alone, `rimeward` says what is pending. A verb that writes hands what you did to "
    "the "
    "daemon, which takes it at once, or when it next runs.";

constexpr std::string_view kDays =
    "Where a verb takes a day, the words of the day will do: `today`, `yesterday`, "
    "`monday` or `last sunday` (the most recent before today), `12 Apr`, `April 12`, "
    "`12.4.` (the day first), `2026-04-12`. A day without its year is the most recent "
    "that has begun.";

constexpr std::string_view kSpans =
    "Where it takes some days, each of these will do, and `this week`, `last week` "
    "(Monday "
    "to Sunday), `this month`, `last year`, `April`, `2026-04`, `2026`, `last 10 days`, "
    "`last 2 weeks`, `12 Apr to 18 Apr`, `since 1 Apr`.";

constexpr std::string_view kTimes =
    "A time is `18:00`, or a day and a time: `yesterday 07:30`, `2026-04-12T07:30`. Days "
    "and times are those of the garden's own time zone; a day's high and low are those "
    "of "
    "a maximum-minimum thermometer that is read at the hour which the settings give.";

constexpr std::string_view kText =
    "Tables and texts are laid out for the width of the terminal, or for `COLUMNS`, from "
    "60 to 200. Colour only repeats what the words say; there is none where the output "
    "is "
    "no terminal or `NO_COLOR` is set. Where the locale is not UTF-8, plain ASCII is "
    "used. Temperatures are in the garden's units; a - is no reading, never a nought.";

constexpr std::string_view kJson =
    "With `--json` the answer is one JSON document in degrees Celsius, whatever the "
    "garden shows, with times in UTC; null says that something is not known. Each verb's "
    "document is described, member by member, by a JSON Schema (draft 2020-12) of its "
    "name. With `--csv` a table is comma-separated values below a line of names.";

constexpr std::string_view kStatus =
    "What a verb answers goes to standard output, what is wrong to standard error.";

// Of the examples in a verb's teaching and in the dialogue.
constexpr std::size_t kTeachingIndent = 2;
constexpr std::size_t kEveningIndent = 4;

struct Tagged {
  std::string_view tag;
  std::string_view text;
};

constexpr Tagged kStatuses[]{
    {"0", "It is done."},
    {"1", "It could not be done: no store, a store that is damaged, nothing to undo."},
    {"2",
     "It was asked in a way that cannot be understood. The message names the nearest "
     "right word."}};

constexpr Tagged kFiles[]{
    {"/etc/rimeward/garden.toml", "The settings. See rimeward.toml(5)."},
    {"/var/lib/rimeward/garden.db", "The store, where the settings name no other."},
    {"/usr/share/rimeward/schema", "The JSON Schemas of the answers."}};

constexpr std::string_view kCautions[]{
    "A forecast is never a promise. It knows the place's own past and the last hours, "
    "not "
    "the cloud or wind to come. Leaves and grass can be 2 to 4 degrees colder than the "
    "air at the sensor on a clear night.",
    "A sensor that fails, a flat battery or a dead network card fails in the cold. Keep "
    "a "
    "thermometer by the plants that you cannot afford to lose.",
    "Rimeward drives no heater and replaces no thermostat. Mains electricity in a wet "
    "place needs a protected circuit and a licensed electrician; local rules come first.",
    "Never burn gas, paraffin or charcoal in a closed greenhouse for warmth: the fumes "
    "kill, people before plants.",
    "At night take a light, mind ice underfoot, and leave ladders and glass roofs for "
    "the "
    "day."};

std::string tag_of(const Parameter& parameter) {
  std::string tag =
      is_option(parameter) ? roff_bold(parameter.name) : roff_italic(parameter.name);
  if (!parameter.value.empty()) tag += " " + roff_italic(parameter.value);
  if (parameter.takes_rest) tag += " ...";
  return tag;
}

void add_parameters(ManualPage& page, const std::vector<Parameter>& parameters) {
  for (const Parameter& parameter : parameters)
    page.item(tag_of(parameter), parameter.help);
}

// Those that only this verb takes.
std::vector<Parameter> own_parameters(const Verb& verb) {
  const std::vector<Parameter> everywhere = parameters_of(nullptr);
  std::vector<Parameter> own = parameters_of(&verb);
  std::erase_if(own, [&everywhere](const Parameter& parameter) {
    return std::ranges::find(everywhere, parameter.name, &Parameter::name) !=
           everywhere.end();
  });
  return own;
}

// Paragraphs between empty lines, and examples: lines that begin with a space, which
// stand as they are, without their first `indent` columns.
class Explaining {
 public:
  Explaining(ManualPage& page, std::size_t indent) : page_(page), indent_(indent) {}

  void add(std::string_view text) {
    while (!text.empty()) {
      const std::size_t end = std::min(text.find('\n'), text.size());
      add_line(text.substr(0, end));
      text.remove_prefix(std::min(end + 1, text.size()));
    }
    flush();
  }

 private:
  void add_line(std::string_view line) {
    if (line.empty()) {
      // An example may go on behind it; a paragraph does not.
      if (example_.empty()) flush();
      has_gap_ = true;
    } else if (line.starts_with(' ')) {
      if (!paragraph_.empty()) flush();
      if (has_gap_ && !example_.empty()) example_ += '\n';
      has_gap_ = false;
      example_ += line.substr(std::min(line.find_first_not_of(' '), indent_));
      example_ += '\n';
    } else {
      if (!example_.empty()) flush();
      has_gap_ = false;
      if (!paragraph_.empty()) paragraph_ += ' ';
      paragraph_ += line;
    }
  }

  void flush() {
    page_.paragraph(paragraph_);
    if (!example_.empty()) page_.example(example_);
    paragraph_.clear();
    example_.clear();
  }

  ManualPage& page_;
  std::size_t indent_;
  std::string paragraph_;
  std::string example_;
  bool has_gap_ = false;
};

void add_verb(ManualPage& page, const Verb& verb) {
  page.subsection(verb.name);
  page.roff_paragraph(roff_bold(usage_of(verb)));
  Explaining(page, kTeachingIndent).add(verb.details.teaching);
  add_parameters(page, own_parameters(verb));
}

// "VERBS: LOOK" of "Look:".
std::string title_of(std::string_view group) {
  std::string title = fmt::format("verbs: {}", group);
  if (title.ends_with(':')) title.pop_back();
  std::ranges::transform(title, title.begin(), [](char letter) {
    return letter >= 'a' && letter <= 'z' ? static_cast<char>(letter - 'a' + 'A')
                                          : letter;
  });
  return title;
}

void add_verbs(ManualPage& page) {
  std::string_view group;
  for (const Verb& verb : all_verbs()) {
    if (verb.group != group) {
      group = verb.group;
      page.section(title_of(group));
    }
    add_verb(page, verb);
  }
}

void add_output(ManualPage& page) {
  page.section("OUTPUT");
  for (const std::string_view text : {kText, kJson, kStatus})
    page.paragraph(text);
  page.section("EXIT STATUS");
  for (const Tagged& status : kStatuses)
    page.item(roff_bold(status.tag), status.text);
}

}  // namespace

std::string page_of_terminal(std::string_view evening) {
  ManualPage page("rimeward", "1",
                  "ask how a garden stands and what the night will bring");
  page.section("SYNOPSIS");
  page.roff_paragraph(
      fmt::format("{} [{} {}] [{} {}] [{} [{} ...]]", roff_bold("rimeward"),
                  roff_bold("--config"), roff_italic("FILE"), roff_bold("--store"),
                  roff_italic("FILE"), roff_italic("VERB"), roff_italic("WORD")));
  page.section("DESCRIPTION");
  page.paragraph(kDescription);
  page.paragraph(kAlone);
  page.section("OPTIONS");
  page.paragraph("Every verb takes these; each has others of its own.");
  add_parameters(page, parameters_of(nullptr));
  add_verbs(page);
  page.section("DAYS AND TIMES");
  for (const std::string_view text : {kDays, kSpans, kTimes})
    page.paragraph(text);
  add_output(page);
  page.section("AN EVENING");
  Explaining(page, kEveningIndent).add(evening);
  page.section("FILES");
  for (const Tagged& file : kFiles)
    page.item(roff_italic(file.tag), file.text);
  page.section("CAUTIONS");
  for (const std::string_view text : kCautions)
    page.paragraph(text);
  page.section("SEE ALSO");
  page.roff_paragraph(
      fmt::format("{}(8), {}(5)", roff_bold("rimewardd"), roff_bold("rimeward.toml")));
  return page.text();
}

}  // namespace rimeward
