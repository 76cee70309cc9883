// `rimeward batch add/list/move/finish`: the list of batches, as the gardener keeps it.

#include <algorithm>
#include <array>
#include <charconv>
#include <chrono>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "daemon/store/batch_json.h"
#include "sensors/escape.h"
#include "tools/cli/action.h"
#include "tools/cli/batch_list.h"
#include "tools/cli/batches.h"
#include "tools/cli/date_words.h"
#include "tools/cli/verb.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::sys_days;

constexpr std::string_view kStep = "STEP";
constexpr std::string_view kWhich = "CROP-OR-BATCH";
constexpr std::string_view kWhere = "NEW-PLACE";
constexpr std::string_view kPlace = "--place";
constexpr std::string_view kSown = "--sown";
constexpr std::string_view kName = "--name";
constexpr std::string_view kCount = "--count";
constexpr std::string_view kNext = "--next";
constexpr std::string_view kOn = "--on";
constexpr std::string_view kAll = "--all";

constexpr days kLongestAgo{731};  // two years: what winters is sown the year before
constexpr int kMostPlants = 100'000;
constexpr std::chrono::hours kNoon{12};

sys_days today_of(const Context& context) {
  return sys_days{context.zone.local_date(context.now)};
}

std::string in_place(const Garden& garden, std::string_view place) {
  return fmt::format("in {}", in_sentence(place_name(garden, place)));
}

// ", next the north frame", or nothing where that is not said.
std::string next_text(const Garden& garden, const BatchRow& batch) {
  if (batch.next_place.empty()) return "";
  return ", next " + in_sentence(place_name(garden, batch.next_place));
}

Reply written(const Context& context, std::string_view verb, const BatchWord& word,
              std::string text) {
  return write_down(context,
                    {.id = 0,
                     .at = {},
                     .verb = std::string(verb),
                     .place = {},
                     .layers = 0,
                     .notice = 0,
                     .sensor = {},
                     .detail = batch_json(word)},
                    std::move(text));
}

Result<sys_days> day_said(const Context& context, const Arguments& arguments,
                          std::string_view option) {
  return past_day_from_words(option, arguments.text(option).value_or("today"),
                             today_of(context), kLongestAgo);
}

// The id of the place that an option names; empty when it is not given.
Result<std::string> place_said(const Context& context, const Arguments& arguments,
                               std::string_view option) {
  const auto word = arguments.text(option);
  if (!word) return std::string();
  const auto place = find_place(context.garden, *word);
  if (!place) return refuse(fmt::format("{}: {}", option, place.error().message));
  return (*place)->id;
}

Result<int> count_said(const Arguments& arguments) {
  const auto text = arguments.text(kCount);
  if (!text) return 0;
  int count = 0;
  const char* const end = text->data() + text->size();
  const auto read = std::from_chars(text->data(), end, count);
  if (read.ec != std::errc{} || read.ptr != end || count < 1 || count > kMostPlants) {
    return refuse(fmt::format("{}: expected 1 to {} plants, got \"{}\"", kCount,
                              kMostPlants, escaped(*text)));
  }
  return count;
}

// By its name where it was given one, else by its crop.
Result<std::string> id_said(const Arguments& arguments, const Crop& crop) {
  const auto name = arguments.text(kName);
  if (!name) return id_from_name(crop.plural.empty() ? crop.name : crop.plural);
  std::string id = id_from_name(*name);
  if (id.empty()) {
    return refuse(fmt::format("{}: expected a name with a letter or a digit, got \"{}\"",
                              kName, escaped(*name)));
  }
  return id;
}

Result<BatchWord> sowing_said(const Context& context, const Arguments& arguments,
                              const Crop& crop) {
  const auto place = place_said(context, arguments, kPlace);
  if (!place) return tl::unexpected(place.error());
  if (place->empty()) return refuse("batch add needs --place PLACE: where it stands");
  const auto next = place_said(context, arguments, kNext);
  if (!next) return tl::unexpected(next.error());
  if (*next == *place) {
    return refuse(
        fmt::format("--next: it is {} already", in_place(context.garden, *place)));
  }
  const auto sown = day_said(context, arguments, kSown);
  if (!sown) return tl::unexpected(sown.error());
  const auto count = count_said(arguments);
  if (!count) return tl::unexpected(count.error());
  const auto id = id_said(arguments, crop);
  if (!id) return tl::unexpected(id.error());
  return BatchWord{.batch = {.id = free_id(known_batches(context.store), *id),
                             .crop = crop.id,
                             .sown = *sown,
                             .count = *count,
                             .next_place = *next,
                             .finished = {}},
                   .place = *place,
                   .since = context.zone.at(*sown, std::chrono::minutes{0})};
}

Reply add(const Context& context, const Arguments& arguments) {
  const auto name = arguments.text(kWhich);
  if (!name) {
    return misused("batch add needs the crop: batch add CROP --place PLACE");
  }
  if (const auto surplus = arguments.text(kWhere)) {
    return misused(
        fmt::format("\"{}\" was not expected; batch add takes the place as --place "
                    "PLACE, and a crop of two words as \"sweet corn\", in quotes",
                    escaped(*surplus)));
  }
  const auto crop = find_crop(context.garden.crops, *name);
  if (!crop) return misused(crop.error().message);
  const auto word = sowing_said(context, arguments, **crop);
  if (!word) return misused(word.error().message);
  std::string text = fmt::format(
      "{}: written down, {} sown {} {}{}", word->batch.id, what_grows(word->batch, *crop),
      short_date(word->batch.sown, today_of(context)),
      in_place(context.garden, word->place), next_text(context.garden, word->batch));
  const auto wished = id_said(arguments, **crop);
  if (wished && *wished != word->batch.id) {
    text += fmt::format("\n{} is taken: this one is called {}", *wished, word->batch.id);
  }
  return written(context, "sow", *word, std::move(text));
}

// The batch that was named, and what is to be said of it next.
Result<const KnownBatch*> batch_said(const std::vector<KnownBatch>& batches,
                                     const Arguments& arguments) {
  const auto word = arguments.text(kWhich);
  if (!word) return refuse("which batch? `rimeward batch list` shows them");
  return find_batch(batches, *word);
}

std::optional<Reply> finished(const Context& context, const KnownBatch& batch) {
  if (!batch.row.finished) return std::nullopt;
  return could_not(fmt::format("{} was finished on {}", batch.row.id,
                               short_date(*batch.row.finished, today_of(context))));
}

// Now, or noon of the day that was said: no hour is known of it, and noon puts the night
// after it into the new place.
Result<Instant> time_of_move(const Context& context, const Arguments& arguments) {
  const auto day = day_said(context, arguments, kOn);
  if (!day) return tl::unexpected(day.error());
  if (*day == today_of(context)) return context.now;
  return context.zone.at(*day, kNoon);
}

struct Move {
  BatchWord word;
  Instant at;
};

Result<Move> move_said(const Context& context, const Arguments& arguments,
                       const KnownBatch& batch) {
  const auto where = arguments.text(kWhere);
  if (!where) {
    return refuse(fmt::format("where to? batch move {} PLACE", batch.row.id));
  }
  const auto place = find_place(context.garden, *where);
  if (!place) return tl::unexpected(place.error());
  const auto next = place_said(context, arguments, kNext);
  if (!next) return tl::unexpected(next.error());
  if (*next == (*place)->id) {
    return refuse(fmt::format("--next: that is where it goes now, {}",
                              in_sentence((*place)->name)));
  }
  const auto since = time_of_move(context, arguments);
  if (!since) return tl::unexpected(since.error());
  BatchWord word{.batch = batch.row, .place = (*place)->id, .since = *since};
  if (arguments.given(kNext)) {
    word.batch.next_place = *next;
  } else if (word.batch.next_place == word.place) {
    word.batch.next_place.clear();
  }
  return Move{std::move(word), *since};
}

Reply move(const Context& context, const Arguments& arguments) {
  const auto batches = known_batches(context.store);
  const auto found = batch_said(batches, arguments);
  if (!found) return misused(found.error().message);
  const KnownBatch& batch = **found;
  if (auto reply = finished(context, batch)) return *std::move(reply);
  const auto move = move_said(context, arguments, batch);
  if (!move) return misused(move.error().message);
  const BatchWord& word = move->word;
  if (word.place == batch.place()) {
    return could_not(fmt::format("{} is {} already", batch.row.id,
                                 in_place(context.garden, word.place)));
  }
  const Instant came = batch.stays.back().since;
  if (move->at <= came) {
    return could_not(fmt::format("{} came to {} on {}: a move is later than that",
                                 batch.row.id,
                                 in_sentence(place_name(context.garden, batch.place())),
                                 when_text(came, context.now, context.zone)));
  }
  return written(context, "move", word,
                 fmt::format("{}: written down, {} from {} on{}", batch.row.id,
                             in_place(context.garden, word.place),
                             when_text(move->at, context.now, context.zone),
                             next_text(context.garden, word.batch)));
}

Reply finish(const Context& context, const Arguments& arguments) {
  if (const auto surplus = arguments.text(kWhere)) {
    return misused(fmt::format("\"{}\" was not expected; batch finish takes a batch",
                               escaped(*surplus)));
  }
  const auto batches = known_batches(context.store);
  const auto found = batch_said(batches, arguments);
  if (!found) return misused(found.error().message);
  const KnownBatch& batch = **found;
  if (auto reply = finished(context, batch)) return *std::move(reply);
  const auto day = day_said(context, arguments, kOn);
  if (!day) return misused(day.error().message);
  const sys_days came{context.zone.local_date(batch.stays.back().since)};
  const sys_days today = today_of(context);
  if (*day < came) {
    return could_not(fmt::format(
        "{} came to {} on {}: it ends on that day or later", batch.row.id,
        in_sentence(place_name(context.garden, batch.place())), short_date(came, today)));
  }
  BatchWord word{.batch = batch.row, .place = {}, .since = {}};
  word.batch.finished = *day;
  const auto age = (*day - batch.row.sown).count();
  return written(
      context, "finish", word,
      fmt::format("{}: written down, finished on {}, {} {} after it was sown",
                  batch.row.id, short_date(*day, today), age, age == 1 ? "day" : "days"));
}

Reply list(const Context& context, const Arguments& arguments) {
  if (const auto word = arguments.text(kWhich)) {
    return misused(fmt::format("\"{}\" was not expected; batch list shows them all",
                               escaped(*word)));
  }
  return batch_list(context, arguments.given(kAll));
}

struct Step {
  std::string_view name;
  Reply (*run)(const Context& context, const Arguments& arguments);
};

constexpr std::array kSteps{Step{"add", add}, Step{"list", list}, Step{"move", move},
                            Step{"finish", finish}};

constexpr Parameter kParameters[]{
    {.name = kStep,
     .value = "",
     .help = "add, list, move or finish (default list)",
     .offers = Offers::kWords,
     .words = "add list move finish"},
    {.name = kWhich,
     .value = "",
     .help = "add: what was sown; move, finish: the batch, by its id",
     .offers = Offers::kCropsOrBatches,
     .goes_with = "add move finish"},
    {.name = kWhere,
     .value = "",
     .help = "move: the place it goes to",
     .offers = Offers::kPlaces,
     .goes_with = "move"},
    {.name = kPlace,
     .value = "PLACE",
     .help = "add: where it stands",
     .offers = Offers::kPlaces,
     .goes_with = "add"},
    {.name = kSown,
     .value = "DATE",
     .help = "add: when it was sown; today, yesterday or 2026-04-12 (today)",
     .offers = Offers::kDays,
     .goes_with = "add"},
    {.name = kName,
     .value = "NAME",
     .help = "add: what to call it (default: as the crop)",
     .goes_with = "add"},
    {.name = kCount, .value = "N", .help = "add: how many plants", .goes_with = "add"},
    {.name = kNext,
     .value = "PLACE",
     .help = "add, move: where it is to go from there",
     .offers = Offers::kPlaces,
     .goes_with = "add move"},
    {.name = kOn,
     .value = "DATE",
     .help = "move, finish: when that was, as --sown (default now)",
     .offers = Offers::kDays,
     .goes_with = "move finish"},
    {.name = kAll, .value = "", .help = "list: finished ones too", .goes_with = "list"},
};

// Refuses an option that is another step's.
std::optional<Reply> misplaced(const Step& step, const Arguments& arguments) {
  std::vector<std::string_view> options;  // of this step
  const Parameter* wrong = nullptr;
  for (const Parameter& parameter : kParameters) {
    if (!parameter.name.starts_with("--")) continue;
    if (goes_with(parameter, step.name)) {
      options.push_back(parameter.name);
    } else if (wrong == nullptr && arguments.given(parameter.name)) {
      wrong = &parameter;
    }
  }
  if (wrong == nullptr) return std::nullopt;
  return misused(fmt::format("batch {} takes no {}; it takes {}", step.name, wrong->name,
                             fmt::join(options, ", ")));
}

Reply run(const Context& context, const Arguments& arguments) {
  const std::string_view word = arguments.text(kStep).value_or("list");
  const auto* const step = std::ranges::find(kSteps, word, &Step::name);
  if (step != kSteps.end()) {
    if (auto reply = misplaced(*step, arguments)) return *std::move(reply);
    return step->run(context, arguments);
  }
  std::vector<std::string_view> names;
  names.reserve(kSteps.size());
  for (const Step& each : kSteps)
    names.push_back(each.name);
  return misused(fmt::format("batch: no step \"{}\"{}; steps: {}", escaped(word),
                             did_you_mean(word, names), fmt::join(names, ", ")));
}

}  // namespace

VerbDetails describe_batch() {
  return {
      .teaching =
          "The list of batches: what was sown, when, and where it stands. From it follow "
          "the keep-above of a place that sets none, and the notices that a batch is due "
          "or can move.\n\n"
          "`add` writes a sowing down and says by which id it goes; `move` says that it "
          "stands elsewhere from now on, or since a day (from its noon on); `finish` "
          "that it is harvested, given away or dead: it stays in the record, `list "
          "--all` shows it. Nothing is ever lost.\n\n"
          "  rimeward batch add chilli --sown 2026-03-29 --place glasshouse --count 24\n"
          "  chillies: written down, 24 chillies sown 29 Mar in the glasshouse\n"
          "  rimeward batch move chillies north-frame --next pea-bed\n"
          "  chillies: written down, in the north frame from 18:40 on, next the pea bed\n"
          "  rimeward batch finish chillies --on yesterday",
      .parameters = kParameters,
      .tabular = true,
      .writes = true,
      .knows_crops = true,
      .answer = run};
}

}  // namespace rimeward
