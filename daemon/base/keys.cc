#include "daemon/base/keys.h"

#include <algorithm>
#include <cstdlib>
#include <iterator>

#include <fmt/format.h>
// The parser's assertions are tripped by what a file can get wrong, such as "[<x>]",
// which it then refuses rightly all the same: a bad file must not end a debug build.
#define TOML_ASSERT(expr) static_cast<void>(0)
#include <toml++/toml.h>

#include "daemon/base/text.h"
#include "sensors/escape.h"

namespace rimeward {
namespace {

using Type = SettingsValue::Type;

SettingsValue value_of(const toml::node& node);

std::vector<SettingsEntry> entries_of(const toml::table& table) {
  std::vector<SettingsEntry> entries;
  for (const auto& [key, node] : table) {
    entries.push_back({std::string(key.str()), key.source().begin.line, value_of(node)});
  }
  return entries;
}

SettingsValue value_of(const toml::node& node) {
  SettingsValue value;
  value.line = node.source().begin.line;
  if (const auto* table = node.as_table()) {
    value.type = Type::kTable;
    value.table = entries_of(*table);
  } else if (const auto* array = node.as_array()) {
    value.type = Type::kList;
    std::ranges::transform(*array, std::back_inserter(value.list), value_of);
  } else if (const auto* text = node.as_string()) {
    value.type = Type::kText;
    value.text = text->get();
  } else if (const auto* whole = node.as_integer()) {
    value.type = Type::kWhole;
    value.whole = whole->get();
    value.number = static_cast<double>(whole->get());
  } else if (const auto* number = node.as_floating_point()) {
    value.type = Type::kNumber;
    value.number = number->get();
  } else if (const auto* flag = node.as_boolean()) {
    value.type = Type::kFlag;
    value.flag = flag->get();
  } else {
    value.type = Type::kDate;
  }
  return value;
}

bool is_number(const SettingsValue& value) {
  return value.type == Type::kNumber || value.type == Type::kWhole;
}

bool holds_tables(const SettingsValue& value) {
  return value.type == Type::kList &&
         std::ranges::all_of(value.list, [](const SettingsValue& element) {
           return element.type == Type::kTable;
         });
}

// As the file has it, for "expected ..., got ...".
std::string shown(const SettingsValue& value) {
  switch (value.type) {
    case Type::kText:
      return fmt::format("\"{}\"", escaped(value.text));
    case Type::kWhole:
      return fmt::format("{}", value.whole);
    case Type::kNumber:
      return fmt::format("{}", value.number);
    case Type::kFlag:
      return value.flag ? "true" : "false";
    case Type::kList:
      return "a list";
    case Type::kTable:
      return "a table";
    case Type::kDate:
      return "a date or time without quotes";
  }
  std::abort();
}

bool has_control_characters(std::string_view text) {
  return std::ranges::any_of(text, [](char letter) {
    const auto code = static_cast<unsigned char>(letter);
    return code < 0x20 || code == 0x7f;
  });
}

std::string listed(std::span<const std::string_view> words) {
  std::string text;
  for (const std::string_view word : words) {
    text += text.empty() ? "" : ", ";
    text += word;
  }
  return text;
}

}  // namespace

void Mistakes::add(std::uint32_t line, std::string_view what) {
  found_.emplace_back(line, fmt::format("{}:{}: {}", file_, line, what));
}

void Mistakes::add(std::string_view what) {
  found_.emplace_back(0, fmt::format("{}: {}", file_, what));
}

std::vector<std::string> Mistakes::in_order_of_lines() const {
  auto sorted = found_;
  std::ranges::stable_sort(sorted, {}, &std::pair<std::uint32_t, std::string>::first);
  std::vector<std::string> texts;
  texts.reserve(sorted.size());
  for (auto& [line, text] : sorted) {
    texts.push_back(std::move(text));
  }
  return texts;
}

Keys::Keys(std::string title, SettingsValue content, Mistakes& mistakes)
    : title_(std::move(title)), content_(std::move(content)), mistakes_(&mistakes) {}

std::optional<Keys> Keys::of_text(std::string_view toml, Mistakes& mistakes) {
  try {
    return Keys("", value_of(toml::parse(toml)), mistakes);
  } catch (const toml::parse_error& fault) {
    const auto& where = fault.source().begin;
    mistakes.add(where.line, fmt::format("not TOML at column {}: {}", where.column,
                                         escaped(fault.description(), 200)));
    return std::nullopt;
  }
}

Keys Keys::table(std::string_view name) {
  const SettingsEntry* entry = asked(name);
  const std::string title = fmt::format("[{}]", name);
  if (entry == nullptr) return {title, SettingsValue{}, *mistakes_};
  if (entry->value.type != Type::kTable) {
    mistakes_->add(entry->line,
                   fmt::format("{}: expected one table, got {}; write {} once", name,
                               shown(entry->value), title));
    return {title, SettingsValue{}, *mistakes_};
  }
  return {title, entry->value, *mistakes_};
}

std::vector<Keys> Keys::tables(std::string_view name) {
  const SettingsEntry* entry = asked(name);
  if (entry == nullptr) return {};
  const std::string title = fmt::format("[[{}]]", name);
  std::vector<Keys> all;
  if (entry->value.type == Type::kTable) {
    mistakes_->add(entry->value.line,
                   fmt::format("[{}]: there may be several; write {}", name, title));
    all.push_back({title, entry->value, *mistakes_});
    return all;
  }
  if (!holds_tables(entry->value)) {
    mistakes_->add(entry->line, fmt::format("{}: expected tables, got {}; write {}", name,
                                            shown(entry->value), title));
    return {};
  }
  for (const SettingsValue& element : entry->value.list) {
    all.push_back({title, element, *mistakes_});
  }
  return all;
}

std::optional<std::string> Keys::text(std::string_view key) {
  const SettingsEntry* entry = asked(key);
  if (entry == nullptr) return std::nullopt;
  if (entry->value.type != Type::kText) {
    wrong(*entry, "text in quotes");
    return std::nullopt;
  }
  if (entry->value.text.empty() || has_control_characters(entry->value.text)) {
    wrong(*entry, "text of one line, not empty");
    return std::nullopt;
  }
  return entry->value.text;
}

std::optional<double> Keys::number(std::string_view key, Range range) {
  const SettingsEntry* entry = asked(key);
  if (entry == nullptr) return std::nullopt;
  const double value = entry->value.number;
  // Written so that NaN fails it.
  const bool within = value >= range.lowest && value <= range.highest;
  if (is_number(entry->value) && within) return value;
  wrong(*entry, fmt::format("{}{} to {}", is_number(entry->value) ? "" : "a number from ",
                            range.lowest, range.highest));
  return std::nullopt;
}

std::optional<int> Keys::whole(std::string_view key, Range range) {
  const SettingsEntry* entry = asked(key);
  if (entry == nullptr) return std::nullopt;
  const double value = entry->value.number;
  const bool within = value >= range.lowest && value <= range.highest;
  if (entry->value.type == Type::kWhole && within) return static_cast<int>(value);
  wrong(*entry, fmt::format("a whole number from {} to {}", range.lowest, range.highest));
  return std::nullopt;
}

std::optional<std::chrono::milliseconds> Keys::duration(std::string_view key,
                                                        DurationRange range) {
  const SettingsEntry* entry = asked(key);
  if (entry == nullptr) return std::nullopt;
  if (entry->value.type != Type::kText) {
    wrong(*entry, "a duration such as \"30 min\"");
    return std::nullopt;
  }
  const auto value = duration_from_text(entry->value.text);
  if (!value) {
    mistake(key, value.error().message);
    return std::nullopt;
  }
  if (*value >= range.shortest && *value <= range.longest) return *value;
  wrong(*entry,
        fmt::format("\"{}\" to \"{}\"", text_of(range.shortest), text_of(range.longest)));
  return std::nullopt;
}

std::optional<std::chrono::milliseconds> Keys::duration_or(std::string_view endless,
                                                           std::string_view key,
                                                           DurationRange range) {
  const SettingsEntry* entry = asked(key);
  if (entry != nullptr && entry->value.text == endless) return std::nullopt;
  return duration(key, range);
}

std::optional<std::chrono::minutes> Keys::time_of_day(std::string_view key) {
  const SettingsEntry* entry = asked(key);
  if (entry == nullptr) return std::nullopt;
  if (const auto time = time_of_day_from_text(entry->value.text)) return time;
  wrong(*entry, "a time of day such as \"09:00\"");
  return std::nullopt;
}

std::optional<bool> Keys::flag(std::string_view key) {
  const SettingsEntry* entry = asked(key);
  if (entry == nullptr) return std::nullopt;
  if (entry->value.type == Type::kFlag) return entry->value.flag;
  wrong(*entry, "true or false, without quotes");
  return std::nullopt;
}

std::optional<std::size_t> Keys::choice(std::string_view key,
                                        std::span<const std::string_view> words) {
  const SettingsEntry* entry = asked(key);
  if (entry == nullptr) return std::nullopt;
  if (entry->value.type != Type::kText) {
    wrong(*entry, fmt::format("one of {}, in quotes", listed(words)));
    return std::nullopt;
  }
  const auto found = std::ranges::find(words, entry->value.text);
  if (found != words.end()) return static_cast<std::size_t>(found - words.begin());
  mistake(key, fmt::format("unknown {} {}; known: {}{}", key, shown(entry->value),
                           listed(words), did_you_mean(entry->value.text, words)));
  return std::nullopt;
}

std::optional<std::vector<std::string>> Keys::list(std::string_view key) {
  const SettingsEntry* entry = asked(key);
  if (entry == nullptr) return std::nullopt;
  const auto is_text = [](const SettingsValue& element) {
    return element.type == Type::kText && !element.text.empty() &&
           !has_control_characters(element.text);
  };
  if (entry->value.type != Type::kList ||
      !std::ranges::all_of(entry->value.list, is_text)) {
    wrong(*entry, "a list of texts such as [\"one\", \"two\"]");
    return std::nullopt;
  }
  std::vector<std::string> texts;
  texts.reserve(entry->value.list.size());
  for (const SettingsValue& element : entry->value.list) {
    texts.push_back(element.text);
  }
  return texts;
}

void Keys::require(std::string_view key, std::string_view remedy) {
  if (asked(key) == nullptr) mistake(key, fmt::format("missing; {}", remedy));
}

void Keys::refuse(std::string_view key, std::string_view why) {
  if (asked(key) != nullptr) mistake(key, why);
}

void Keys::mistake(std::string_view key, std::string_view what) {
  const SettingsEntry* entry = find(key);
  mistakes_->add(entry == nullptr ? content_.line : entry->line,
                 fmt::format("{}: {}", named(key), what));
}

void Keys::mistake(std::string_view what) {
  mistakes_->add(content_.line, fmt::format("{}: {}", title_, what));
}

bool Keys::has(std::string_view key) const {
  return find(key) != nullptr;
}

void Keys::refuse_unread() {
  const std::vector<std::string_view> known(asked_.begin(), asked_.end());
  for (const SettingsEntry& entry : content_.table) {
    if (asked_.contains(entry.key)) continue;
    const bool is_table = entry.value.type == Type::kTable ||
                          (holds_tables(entry.value) && !entry.value.list.empty());
    const std::string meant = did_you_mean(entry.key, known);
    mistakes_->add(entry.line,
                   fmt::format("{}: unknown {}{}", named(escaped(entry.key)),
                               is_table ? "table" : "key",
                               meant.empty() ? "; known: " + listed(known) : meant));
  }
}

const SettingsEntry* Keys::asked(std::string_view key) {
  asked_.emplace(key);
  return find(key);
}

const SettingsEntry* Keys::find(std::string_view key) const {
  const auto found = std::ranges::find(content_.table, key, &SettingsEntry::key);
  return found == content_.table.end() ? nullptr : &*found;
}

void Keys::wrong(const SettingsEntry& entry, std::string_view expected) {
  mistakes_->add(entry.line, fmt::format("{}: expected {}, got {}", named(entry.key),
                                         expected, shown(entry.value)));
}

std::string Keys::named(std::string_view key) const {
  return title_.empty() ? std::string(key) : fmt::format("{} {}", title_, key);
}

}  // namespace rimeward
