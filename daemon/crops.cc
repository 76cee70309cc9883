#include "daemon/crops.h"

#include <algorithm>
#include <array>
#include <fstream>
#include <iterator>
#include <map>
#include <span>
#include <system_error>
#include <utility>

#include <fmt/format.h>

#include "daemon/base/keys.h"
#include "daemon/base/text.h"
#include "daemon/settings_parts.h"
#include "sensors/escape.h"

namespace rimeward {
namespace {

constexpr std::string_view kShippedName = "crops.toml (of the program)";

constexpr std::array<std::string_view, 4> kStandings{"page seen", "recomputed",
                                                     "from memory", "common practice"};

constexpr std::string_view kBlanks = " \t";

// Beyond these lies no crop's figure, but a value in degrees Fahrenheit may.
constexpr Range kBases{-5, 20};
constexpr Range kUppers{15, 45};
constexpr Range kColds{-40, 20};
constexpr Range kHeatSums{1, 5000};
constexpr Range kNights{0, 60};

// What `sources` of a crop can name; a stage names its source itself.
constexpr std::array<std::string_view, 8> kFigures{"base",
                                                   "upper",
                                                   "chilling",
                                                   "killing",
                                                   "hardened_chilling",
                                                   "hardened_killing",
                                                   "keep_above",
                                                   "hardening_nights"};

// What has been read, and how to read on.
struct Reading {
  std::vector<Crop> crops{};
  std::map<std::string, std::string> id_by_name{};  // folded_name
  std::vector<std::string> sources{};
  bool sources_needed = true;
};

std::optional<Celsius> temperature(Keys& keys, std::string_view key, Range range) {
  const auto degrees = keys.number(key, range);
  return degrees ? std::optional(Celsius{*degrees}) : std::nullopt;
}

std::string name_from(std::string id) {
  std::ranges::replace(id, '-', ' ');
  return id;
}

std::string_view trimmed(std::string_view text) {
  text.remove_prefix(std::min(text.find_first_not_of(kBlanks), text.size()));
  return text.substr(0, text.find_last_not_of(kBlanks) + 1);
}

std::vector<std::string_view> views_of(const std::vector<std::string>& texts) {
  return {texts.begin(), texts.end()};
}

// The id, for what refers to it; title and standing are for people.
std::string read_source(Keys keys, const std::vector<std::string>& taken) {
  std::string id = read_id(keys, views_of(taken));
  keys.require("title", "say who found it and where it is printed");
  keys.text("title");
  keys.require("standing", fmt::format("one of {}", fmt::join(kStandings, ", ")));
  keys.choice("standing", kStandings);
  keys.refuse_unread();
  return id;
}

void check_source_is_known(Keys& keys, std::string_view key, std::string_view source,
                           const std::vector<std::string>& sources) {
  if (std::ranges::find(sources, source) != sources.end()) return;
  keys.mistake(key, fmt::format("no [[source]] has the id \"{}\"{}", escaped(source),
                                did_you_mean(source, views_of(sources))));
}

// A figure that `sources` names, added to those that have a source.
void read_sourced(Keys& keys, std::string_view word,
                  std::vector<std::string_view>& sourced) {
  const auto figure = std::ranges::find(kFigures, word);
  if (figure == kFigures.end()) {
    keys.mistake("sources",
                 fmt::format("\"{}\" is no figure; known: {}{}", escaped(word),
                             fmt::join(kFigures, ", "), did_you_mean(word, kFigures)));
  } else if (!keys.has(*figure)) {
    keys.mistake("sources", fmt::format("{} is not given here; leave it out", *figure));
  } else if (std::ranges::find(sourced, *figure) != sourced.end()) {
    keys.mistake("sources", fmt::format("{} has two; name one", *figure));
  } else {
    sourced.push_back(*figure);
  }
}

// One element of `sources`: "base, upper: perry-1997".
void read_attribution(Keys& keys, std::string_view text, const Reading& reading,
                      std::vector<std::string_view>& sourced) {
  const auto colon = text.rfind(':');
  if (colon == std::string_view::npos) {
    keys.mistake("sources", fmt::format("\"{}\" names no source; write it as in "
                                        "\"base, upper: perry-1997\"",
                                        escaped(text)));
    return;
  }
  check_source_is_known(keys, "sources", trimmed(text.substr(colon + 1)),
                        reading.sources);
  std::string_view figures = text.substr(0, colon);
  for (auto comma = figures.find(','); comma != std::string_view::npos;
       comma = figures.find(',')) {
    read_sourced(keys, trimmed(figures.substr(0, comma)), sourced);
    figures.remove_prefix(comma + 1);
  }
  read_sourced(keys, trimmed(figures), sourced);
}

void read_sources(Keys& keys, const Reading& reading) {
  std::vector<std::string_view> sourced;
  for (const std::string& text :
       keys.list("sources").value_or(std::vector<std::string>{}))
    read_attribution(keys, text, reading, sourced);
  if (!reading.sources_needed) return;
  for (const std::string_view figure : kFigures) {
    if (!keys.has(figure) || std::ranges::find(sourced, figure) != sourced.end())
      continue;
    keys.mistake(figure, "has no source; name it in sources");
  }
}

// A temperature with the key it is written under.
struct Limit {
  std::string_view key;
  std::optional<Celsius> at;
};

// Adds a mistake when both are known and `lower` is above `higher`; blames the one that
// stands in this file.
void check_order(Keys& keys, const Limit& lower, const Limit& higher) {
  if (!lower.at || !higher.at || *lower.at <= *higher.at) return;
  const double low = lower.at->degrees;
  const double high = higher.at->degrees;
  if (keys.has(lower.key)) {
    keys.mistake(lower.key, fmt::format("{} is above {}, {}; mend one of them", low,
                                        higher.key, high));
  } else {
    keys.mistake(higher.key, fmt::format("{} is below {}, {}; mend one of them", high,
                                         lower.key, low));
  }
}

void check_upper(Keys& keys, Celsius base, std::optional<Celsius> upper) {
  if (!upper || base < *upper) return;
  if (keys.has("upper")) {
    keys.mistake("upper", fmt::format("{} is not above base, {}; mend one of them",
                                      upper->degrees, base.degrees));
  } else {
    keys.mistake("base", fmt::format("{} is not below upper, {}; mend one of them",
                                     base.degrees, upper->degrees));
  }
}

void check_cold(Keys& keys, const Crop& crop) {
  const ColdLimits& soft = crop.unhardened;
  const ColdLimits& hard = crop.hardened;
  check_order(keys, {"killing", soft.killing}, {"chilling", soft.chilling});
  check_order(keys, {"hardened_killing", hard.killing},
              {"hardened_chilling", hard.chilling});
  check_order(keys, {"hardened_killing", hard.killing}, {"killing", soft.killing});
  check_order(keys, {"hardened_chilling", hard.chilling}, {"chilling", soft.chilling});
  // The default of a tenderness can be too cold for a figure, too.
  check_order(keys, {"killing", soft.killing}, {"keep_above", keep_above(crop)});
}

void check_after(Keys& keys, const CropStage& stage, std::span<const CropStage> earlier) {
  if (stage.after.empty()) return;
  if (std::ranges::find(earlier, stage.after, &CropStage::name) != earlier.end()) return;
  std::vector<std::string_view> names;
  for (const CropStage& known : earlier) {
    names.push_back(known.name);
  }
  keys.mistake("after",
               fmt::format("no earlier stage is called \"{}\"{}", escaped(stage.after),
                           did_you_mean(stage.after, names)));
}

// Adds one stage to the crop's, or changes the one that has its name.
void read_stage(Keys keys, const Reading& reading, std::vector<std::string>& seen,
                std::vector<CropStage>& stages) {
  keys.require("name", "say what is reached, such as name = \"emergence\"");
  const std::string name = keys.text("name").value_or("");
  if (std::ranges::find(seen, name) != seen.end()) {
    keys.mistake("name",
                 fmt::format("\"{}\" stands twice; give each its own", escaped(name)));
  }
  seen.push_back(name);
  const auto known = std::ranges::find(stages, name, &CropStage::name);
  const bool is_new = known == stages.end();
  CropStage stage = is_new ? CropStage{.name = name} : *known;
  if (is_new) {
    keys.require("heat_sum", "degree days, such as heat_sum = 103");
    keys.require("base", "the temperature above which they count, such as base = 7.5");
  }
  set(stage.heat_sum, keys.number("heat_sum", kHeatSums));
  set(stage.base, temperature(keys, "base", kBases));
  set(stage.upper, temperature(keys, "upper", kUppers));
  set(stage.after, keys.text("after"));
  check_upper(keys, stage.base, stage.upper);
  check_after(keys, stage, {stages.begin(), known});
  if (reading.sources_needed) keys.require("source", "the id of a [[source]]");
  if (const auto source = keys.text("source"))
    check_source_is_known(keys, "source", *source, reading.sources);
  keys.refuse_unread();
  if (is_new) {
    stages.push_back(std::move(stage));
  } else {
    *known = std::move(stage);
  }
}

void read_names(Keys& keys, bool is_new, Crop& crop) {
  if (is_new) crop.name = name_from(crop.id);
  set(crop.name, keys.text("name"));
  if (is_new || keys.has("name")) crop.plural = crop.name + "s";
  set(crop.plural, keys.text("plural"));
  set(crop.other_names, keys.list("other_names"));
}

// Adds the crop's names to those of all crops; one that another crop has is a mistake.
void check_names(Keys& keys, const Crop& crop,
                 std::map<std::string, std::string>& id_by_name) {
  std::erase_if(id_by_name, [&](const auto& entry) { return entry.second == crop.id; });
  for (const std::string_view name : names_of(crop)) {
    const auto [entry, is_free] = id_by_name.emplace(folded_name(name), crop.id);
    if (is_free || entry->second == crop.id) continue;
    keys.mistake("name", fmt::format("\"{}\" is a name of the crop \"{}\"; give each its "
                                     "own",
                                     escaped(name), escaped(entry->second)));
  }
}

void read_figures(Keys& keys, Crop& crop) {
  const std::array<std::string_view, 3> words{name_of(Tenderness::kTender),
                                              name_of(Tenderness::kHalfHardy),
                                              name_of(Tenderness::kHardy)};
  if (const auto tenderness = keys.choice("tenderness", words))
    crop.tenderness = static_cast<Tenderness>(*tenderness);
  set(crop.base, temperature(keys, "base", kBases));
  set(crop.upper, temperature(keys, "upper", kUppers));
  set(crop.unhardened.chilling, temperature(keys, "chilling", kColds));
  set(crop.unhardened.killing, temperature(keys, "killing", kColds));
  set(crop.hardened.chilling, temperature(keys, "hardened_chilling", kColds));
  set(crop.hardened.killing, temperature(keys, "hardened_killing", kColds));
  set(crop.keep_above, temperature(keys, "keep_above", kColds));
  set(crop.hardening_nights, keys.whole("hardening_nights", kNights));
}

std::string read_crop_id(Keys& keys, const std::vector<std::string>& taken) {
  if (keys.has("id")) return read_id(keys, views_of(taken));
  keys.require("id", "say which crop it is, such as id = \"tomato\"");
  return "";
}

// What only a crop that is not known yet must have. An unknown id may be a slip, so the
// known one is named.
void require_what_is_new(Keys& keys, const Crop& crop, const std::vector<Crop>& crops) {
  const std::string meant = did_you_mean(crop.id, ids_of(crops));
  const auto require = [&](std::string_view key, std::string_view example) {
    keys.require(key, fmt::format("a new crop needs one, such as {}{}", example, meant));
  };
  require("tenderness", "tenderness = \"half-hardy\"");
  require("base", "base = 5.0");
}

// Adds one crop to those known, or changes the one that has its id; its id is added to
// those of the file.
void read_crop(Keys keys, std::vector<std::string>& ids_of_file, Reading& reading) {
  Crop crop;
  crop.id = read_crop_id(keys, ids_of_file);
  ids_of_file.push_back(crop.id);
  const auto known = std::ranges::find(reading.crops, crop.id, &Crop::id);
  const bool is_new = known == reading.crops.end();
  if (!is_new) crop = *known;
  // Without an id it cannot be told whether it is new.
  if (is_new && !crop.id.empty()) require_what_is_new(keys, crop, reading.crops);
  read_names(keys, is_new, crop);
  read_figures(keys, crop);
  read_sources(keys, reading);
  std::vector<std::string> seen;
  for (const Keys& stage : keys.tables("stages")) {
    read_stage(stage, reading, seen, crop.stages);
  }
  check_names(keys, crop, reading.id_by_name);
  check_upper(keys, crop.base, crop.upper);
  check_cold(keys, crop);
  keys.refuse_unread();
  if (crop.id.empty()) return;
  if (is_new) {
    reading.crops.push_back(std::move(crop));
  } else {
    *known = std::move(crop);
  }
}

// The mistakes of one file, whose crops are added.
void read_text(std::string_view toml, Reading& reading, Mistakes& mistakes) {
  auto file = Keys::of_text(toml, mistakes);
  if (!file) return;
  std::vector<std::string> source_ids;
  for (const Keys& keys : file->tables("source")) {
    source_ids.push_back(read_source(keys, source_ids));
  }
  std::ranges::copy(source_ids, std::back_inserter(reading.sources));
  std::vector<std::string> crop_ids;
  for (const Keys& keys : file->tables("crop")) {
    read_crop(keys, crop_ids, reading);
  }
  file->refuse_unread();
}

CropsOutcome read_both(CropsText shipped, std::optional<std::string_view> own_toml,
                       Mistakes own_mistakes) {
  Reading reading;
  Mistakes mistakes{std::string(shipped.file_name)};
  read_text(shipped.toml, reading, mistakes);
  reading.sources_needed = false;
  if (own_toml) read_text(*own_toml, reading, own_mistakes);
  std::vector<std::string> all = mistakes.in_order_of_lines();
  std::ranges::move(own_mistakes.in_order_of_lines(), std::back_inserter(all));
  if (!all.empty()) return tl::unexpected(std::move(all));
  return CropTable(std::move(reading.crops));
}

std::optional<std::string> content_of(const std::filesystem::path& file,
                                      Mistakes& mistakes) {
  std::error_code unknown;  // counts as "does not exist" and "is no folder"
  if (!std::filesystem::exists(file, unknown)) {
    mistakes.add("no such file; mend its name in the settings, or leave it out");
    return std::nullopt;
  }
  std::ifstream stream(file, std::ios::binary);
  // A folder opens, but does not read.
  if (!stream.is_open() || std::filesystem::is_directory(file, unknown)) {
    mistakes.add("cannot be read; let the user that runs this read it");
    return std::nullopt;
  }
  return std::string(std::istreambuf_iterator<char>(stream), {});
}

}  // namespace

CropsOutcome read_crops(const std::optional<std::filesystem::path>& own_file) {
  Mistakes mistakes(own_file ? own_file->string() : "");
  const auto own = own_file ? content_of(*own_file, mistakes) : std::nullopt;
  return read_both({shipped_crops_text(), kShippedName}, own, mistakes);
}

CropsOutcome read_crops_text(CropsText shipped, std::optional<CropsText> own) {
  const auto toml = own ? std::optional(own->toml) : std::nullopt;
  return read_both(shipped, toml, Mistakes(std::string(own ? own->file_name : "")));
}

std::vector<std::string> add_crops(Garden& garden) {
  const bool has_own = !garden.crops_file.empty();
  CropsOutcome crops = read_crops(
      has_own ? std::optional<std::filesystem::path>(garden.crops_file) : std::nullopt);
  if (!crops) return std::move(crops.error());
  garden.crops = *std::move(crops);
  return {};
}

}  // namespace rimeward
