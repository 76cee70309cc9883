#include "tools/cli/completion.h"

#include <algorithm>
#include <set>
#include <utility>

#include <fmt/format.h>

#include "daemon/notice/notice_kinds.h"
#include "tools/cli/batches.h"
#include "tools/cli/command_line.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

// A day, for whatever takes one; then some days, for what takes those (calendar_words.h).
constexpr std::string_view kDay[]{"today", "yesterday"};
constexpr std::string_view kSomeDays[]{"today",     "yesterday",  "this week",
                                       "last week", "last month", "this month",
                                       "this year", "last year"};

// "--place nor" for bash's "--place", "=", "nor". `index` goes along.
std::vector<std::string> joined(std::span<const std::string> words, std::size_t& index) {
  std::vector<std::string> result;
  std::size_t at = index;
  for (std::size_t i = 0; i < words.size(); ++i) {
    const bool is_joint = words[i] == "=" && i > 0 && words[i - 1].starts_with("--");
    if (!is_joint) {
      result.push_back(words[i]);
    } else if (i == index) {
      result.emplace_back();  // the cursor stands behind it, before any value
    } else if (i < index) {
      --at;
    }
  }
  index = std::min(at, result.size());
  return result;
}

// Goes through the words before the cursor, and takes from the verb's parameters what
// each of them is.
class Reader {
 public:
  explicit Reader(const Verb* verb) : parameters_(parameters_of(verb)) {}

  // REQUIRES: it is not the verb.
  void read(const std::string& word) {
    if (pending_ != nullptr) {
      pending_ = nullptr;
    } else if (word.starts_with('-')) {
      read_option(word);
    } else {
      read_argument(word);
    }
  }

  // An option that stands behind the cursor.
  void note_given(const std::string& word) {
    given_.insert(word.substr(0, word.find('=')));
  }

  void tell(CursorPlace& place) const {
    place.step = step_;
    place.before = rest_;
    for (const Parameter& parameter : parameters_) {
      if (is_option(parameter) && !given_.contains(parameter.name) && fits(parameter)) {
        place.options.push_back(parameter);
      }
    }
    if (const Parameter* value = pending_ != nullptr ? pending_ : next_argument()) {
      place.value = *value;
    }
  }

  bool awaits_value() const { return pending_ != nullptr; }

  const Parameter* option(std::string_view name) const {
    const auto found = std::ranges::find(parameters_, name, &Parameter::name);
    return found == parameters_.end() || found->value.empty() ? nullptr : &*found;
  }

 private:
  bool fits(const Parameter& parameter) const {
    return step_.empty() || goes_with(parameter, step_);
  }

  // The argument that a further word would be; null: none is expected.
  const Parameter* next_argument() const {
    std::size_t count = arguments_;
    for (const Parameter& parameter : parameters_) {
      if (is_option(parameter)) continue;
      if (count == 0 || parameter.takes_rest)
        return fits(parameter) ? &parameter : nullptr;
      --count;
    }
    return nullptr;
  }

  void read_option(const std::string& word) {
    note_given(word);
    if (word.find('=') == std::string::npos) pending_ = option(word);
  }

  void read_argument(const std::string& word) {
    const Parameter* const parameter = next_argument();
    ++arguments_;
    if (parameter == nullptr) return;
    if (parameter->takes_rest) rest_ += word + ' ';
    if (parameter->offers == Offers::kWords && step_.empty()) step_ = word;
  }

  std::vector<Parameter> parameters_;
  const Parameter* pending_ = nullptr;  // the option whose value comes next
  std::set<std::string, std::less<>> given_;
  std::size_t arguments_ = 0;
  std::string step_;
  std::string rest_;
};

// "--place=nor": the option's value is being typed.
void take_joined_value(const Reader& reader, CursorPlace& place) {
  const std::size_t equals = place.typed.find('=');
  if (!place.typed.starts_with("--") || equals == std::string::npos) return;
  const Parameter* const option = reader.option(place.typed.substr(0, equals));
  place.lead = place.typed.substr(0, equals + 1);
  place.typed.erase(0, equals + 1);
  place.options.clear();
  place.value = option != nullptr ? std::optional(*option) : std::nullopt;
}

// The words that fit, of which only those that go on as it was typed are kept.
class Fitting {
 public:
  Fitting(const CursorPlace& place, std::vector<Completion>& values)
      : place_(place), values_(values) {}

  void offer(std::string_view value, std::string_view help = {}) {
    if (!value.starts_with(place_.typed)) return;
    values_.push_back({place_.lead + std::string(value), std::string(help)});
  }

  // Words that belong together, one at a time.
  void offer_phrase(std::string_view phrase) {
    if (!phrase.starts_with(place_.before)) return;
    phrase.remove_prefix(place_.before.size());
    const std::string_view word = phrase.substr(0, phrase.find(' '));
    const auto has_word = [&](const Completion& one) { return one.value == word; };
    if (!std::ranges::any_of(values_, has_word)) offer(word);
  }

 private:
  const CursorPlace& place_;
  std::vector<Completion>& values_;
};

void offer_places(const Known& known, Fitting& fitting) {
  if (known.garden == nullptr) return;
  for (const Place& place : known.garden->places)
    fitting.offer(place.id, place.name);
}

void offer_sensors(const Known& known, Fitting& fitting) {
  if (known.garden == nullptr) return;
  for (const Sensor& sensor : known.garden->sensors)
    fitting.offer(sensor.id, place_name(*known.garden, sensor.place));
}

void offer_batches(const Known& known, Fitting& fitting) {
  if (known.store == nullptr || known.garden == nullptr) return;
  for (const KnownBatch& batch : known_batches(*known.store)) {
    if (batch.row.finished) continue;
    fitting.offer(batch.row.id, fmt::format("{}, {}", what_grows(batch.row, nullptr),
                                            place_name(*known.garden, batch.place())));
  }
}

void offer_crops(const Known& known, Fitting& fitting) {
  if (known.crops == nullptr) return;
  for (const Crop& crop : known.crops->all())
    fitting.offer(crop.id, name_of(crop.tenderness));
}

void offer_notices(const Known& known, Fitting& fitting) {
  if (known.store == nullptr) return;
  for (const NoticeRow& notice : known.store->open_notices())
    fitting.offer(fmt::to_string(notice.id), notice.title);
}

void offer_words(std::string_view words, Fitting& fitting) {
  while (!words.empty()) {
    const std::size_t end = std::min(words.find(' '), words.size());
    fitting.offer(words.substr(0, end));
    words.remove_prefix(std::min(end + 1, words.size()));
  }
}

void offer_days(const Parameter& parameter, Fitting& fitting) {
  if (parameter.takes_rest) {
    for (const std::string_view phrase : kSomeDays)
      fitting.offer_phrase(phrase);
  } else {
    for (const std::string_view day : kDay)
      fitting.offer(day);
  }
}

// kCropsOrBatches settled by the step.
Offers offers_at(const CursorPlace& place) {
  if (!place.value) return Offers::kNothing;
  if (place.value->offers != Offers::kCropsOrBatches) return place.value->offers;
  return place.step == "add" ? Offers::kCrops : Offers::kBatches;
}

void offer_values(const CursorPlace& place, const Known& known, Fitting& fitting) {
  switch (offers_at(place)) {
    case Offers::kPlaces:
      return offer_places(known, fitting);
    case Offers::kSensors:
      return offer_sensors(known, fitting);
    case Offers::kBatches:
      return offer_batches(known, fitting);
    case Offers::kCrops:
      return offer_crops(known, fitting);
    case Offers::kNotices:
      return offer_notices(known, fitting);
    case Offers::kKinds:
      for (const std::string_view kind : kNoticeKinds)
        fitting.offer(kind);
      return;
    case Offers::kDays:
      return offer_days(*place.value, fitting);
    case Offers::kWords:
      return offer_words(place.value->words, fitting);
    case Offers::kNothing:
    case Offers::kFiles:
    case Offers::kCropsOrBatches:
      return;
  }
}

bool is_plain(char letter) {
  return (letter >= 'a' && letter <= 'z') || (letter >= 'A' && letter <= 'Z') ||
         (letter >= '0' && letter <= '9') || letter == '-' || letter == '_' ||
         letter == '.' || letter == '=';
}

}  // namespace

CursorPlace cursor_place(std::span<const std::string> said, std::size_t index) {
  const std::vector<std::string> words = joined(said, index);
  CursorPlace place;
  if (index < words.size()) place.typed = words[index];
  // The verb is looked for in the other words: the one at the cursor may become it.
  std::vector<std::string> others = words;
  if (index < others.size()) others[index] = "-";
  const std::string* const verb = verb_word(others);
  if (verb != nullptr) place.verb = find_verb(*verb);
  Reader reader(place.verb);
  for (std::size_t i = 0; i < others.size(); ++i) {
    if (&others[i] == verb || i == index) continue;
    if (i < index) {
      reader.read(others[i]);
    } else if (others[i].starts_with('-')) {
      reader.note_given(others[i]);
    }
  }
  reader.tell(place);
  if (place.typed.starts_with('-') && !reader.awaits_value()) {
    place.value.reset();
    take_joined_value(reader, place);
  } else if (place.value && is_option(*place.value)) {
    place.options.clear();
  }
  return place;
}

std::optional<std::string> value_in(std::span<const std::string> said,
                                    std::string_view option) {
  std::size_t index = said.size();
  const std::vector<std::string> words = joined(said, index);
  const std::string with_value = fmt::format("{}=", option);
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (words[i].starts_with(with_value)) return words[i].substr(with_value.size());
    if (words[i] == option && i + 1 < words.size()) return words[i + 1];
  }
  return std::nullopt;
}

bool wants_garden(const CursorPlace& place) {
  const Offers offers = offers_at(place);
  return offers == Offers::kPlaces || offers == Offers::kSensors || wants_store(place) ||
         wants_crops(place);
}

bool wants_store(const CursorPlace& place) {
  const Offers offers = offers_at(place);
  return offers == Offers::kBatches || offers == Offers::kNotices;
}

bool wants_crops(const CursorPlace& place) {
  return offers_at(place) == Offers::kCrops;
}

Completions completions(const CursorPlace& place, const Known& known) {
  Completions found;
  Fitting fitting(place, found.values);
  found.files = offers_at(place) == Offers::kFiles;
  const bool is_value_of_option = place.value && is_option(*place.value);
  const bool is_option_typed = place.typed.starts_with('-') && !is_value_of_option;
  if (place.verb == nullptr && !is_value_of_option && !is_option_typed) {
    for (const Verb& verb : all_verbs())
      fitting.offer(verb.name, verb.help);
    return found;
  }
  if (!is_option_typed) offer_values(place, known, fitting);
  // Where nothing else is to come, the options are what there is to say.
  const bool is_needed = place.value && (place.value->required || found.files);
  if (is_option_typed || (found.values.empty() && place.typed.empty() && !is_needed)) {
    for (const Parameter& option : place.options)
      fitting.offer(option.name, option.help);
  }
  return found;
}

std::string completion_lines(const Completions& found, const Screen& screen) {
  std::string lines;
  for (const Completion& one : found.values) {
    if (one.value.empty() || !std::ranges::all_of(one.value, is_plain)) continue;
    lines += one.value;
    if (!one.help.empty()) lines += '\t' + printable(one.help, screen);
    lines += '\n';
  }
  return lines + (found.files ? ":files\n" : ":done\n");
}

}  // namespace rimeward
