// The settings file, table by table: typed look-ups that say what is wrong where, and
// note which keys were asked for, so that one which nobody asked for is found out. The
// only place that knows TOML. For one thread.
//
// A look-up never fails the caller: what is missing or wrong is added to the Mistakes,
// the caller goes on with a default, and the file's keeper is told everything at once.

#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <set>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace rimeward {

// What is wrong with one file, as "FILE:LINE: what; remedy".
class Mistakes {
 public:
  explicit Mistakes(std::string file) : file_(std::move(file)) {}

  void add(std::uint32_t line, std::string_view what);
  // The same for a file that could not be read at all, so that there is no line.
  void add(std::string_view what);

  bool empty() const { return found_.empty(); }
  std::vector<std::string> in_order_of_lines() const;

 private:
  std::string file_;
  std::vector<std::pair<std::uint32_t, std::string>> found_;
};

// The limits of a number, both allowed.
struct Range {
  double lowest;
  double highest;
};

// As Range, for durations.
struct DurationRange {
  std::chrono::milliseconds shortest;
  std::chrono::milliseconds longest;
};

struct SettingsEntry;

// One value of the file with the line it stands on.
struct SettingsValue {
  enum class Type { kText, kWhole, kNumber, kFlag, kList, kTable, kDate };
  Type type = Type::kTable;
  std::uint32_t line = 1;
  std::string text;                  // kText
  std::int64_t whole = 0;            // kWhole
  double number = 0;                 // kNumber, kWhole; may be NaN or infinite
  bool flag = false;                 // kFlag
  std::vector<SettingsValue> list;   // kList
  std::vector<SettingsEntry> table;  // kTable
};

struct SettingsEntry {
  std::string key;
  std::uint32_t line;
  SettingsValue value;
};

// One table of the file. REQUIRES: the Mistakes it was made with outlive it.
class Keys {
 public:
  // The tables of a whole file. Text that is not TOML is a mistake with line and column,
  // and leaves nothing.
  static std::optional<Keys> of_text(std::string_view toml, Mistakes& mistakes);

  // The table [name]; an empty one when the file has none.
  Keys table(std::string_view name);
  // The tables [[name]] in the file's order.
  std::vector<Keys> tables(std::string_view name);

  // Nothing when the key is absent, or when its value is wrong, which is then a mistake.
  std::optional<std::string> text(std::string_view key);
  std::optional<double> number(std::string_view key, Range range);
  std::optional<int> whole(std::string_view key, Range range);
  std::optional<std::chrono::milliseconds> duration(std::string_view key,
                                                    DurationRange range);
  // The same of a key that may be left out or say `endless` for the same.
  std::optional<std::chrono::milliseconds> duration_or(std::string_view endless,
                                                       std::string_view key,
                                                       DurationRange range);
  // "09:00" as minutes since midnight.
  std::optional<std::chrono::minutes> time_of_day(std::string_view key);
  std::optional<bool> flag(std::string_view key);
  // One of the words, as its index.
  std::optional<std::size_t> choice(std::string_view key,
                                    std::span<const std::string_view> words);
  // Of texts; a list that holds anything else is a mistake.
  std::optional<std::vector<std::string>> list(std::string_view key);

  // Adds a mistake when the key is absent; `remedy` says what to write.
  void require(std::string_view key, std::string_view remedy);

  // For a key that this table could have, but not together with its other keys: adds a
  // mistake when it is there.
  void refuse(std::string_view key, std::string_view why);

  // Adds "[table] key: what", with the line of the key, or of the table without it.
  void mistake(std::string_view key, std::string_view what);
  // Adds "[table]: what".
  void mistake(std::string_view what);

  bool has(std::string_view key) const;

  // Each key that no look-up asked for is a mistake, with the nearest one that was asked
  // for. To be called after the last look-up.
  void refuse_unread();

 private:
  Keys(std::string title, SettingsValue content, Mistakes& mistakes);

  const SettingsEntry* asked(std::string_view key);
  const SettingsEntry* find(std::string_view key) const;
  void wrong(const SettingsEntry& entry, std::string_view expected);
  std::string named(std::string_view key) const;

  std::string title_;  // "[garden]", "[[place]]"; empty for the file
  SettingsValue content_;
  std::set<std::string, std::less<>> asked_;
  Mistakes* mistakes_;
};

}  // namespace rimeward
