#include "tools/cli/batches.h"

#include <algorithm>
#include <iterator>
#include <tuple>
#include <utility>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "daemon/notice/batch_words.h"
#include "daemon/store/batch_json.h"
#include "daemon/store/marks.h"
#include "sensors/escape.h"
#include "tools/cli/screen.h"

namespace rimeward {
namespace {

constexpr std::size_t kLongestId = 40;

std::vector<KnownBatch> stored_batches(const Store& store) {
  const std::vector<StayRow> stays = store.stays();
  std::vector<KnownBatch> batches;
  for (BatchRow& row : store.batches()) {
    KnownBatch batch{.row = std::move(row)};
    std::ranges::copy_if(
        stays, std::back_inserter(batch.stays),
        [&batch](const StayRow& stay) { return stay.batch == batch.row.id; });
    if (!batch.stays.empty()) batches.push_back(std::move(batch));
  }
  return batches;
}

void take_sowing(std::vector<KnownBatch>& batches, const BatchWord& word) {
  const StayRow stay{.batch = word.batch.id,
                     .since = word.since.value_or(Instant{word.batch.sown}),
                     .place = word.place};
  batches.push_back({.row = word.batch, .stays = {stay}, .is_pending = true});
}

void take_rest(KnownBatch& batch, const ActionRow& action, const BatchWord& word) {
  batch.is_pending = true;
  if (action.verb == "finish") {
    batch.row.finished = word.batch.finished;
    return;
  }
  const Instant since = word.since.value_or(action.at);
  if (since > batch.stays.back().since) {
    batch.stays.push_back({.batch = batch.row.id, .since = since, .place = word.place});
  }
  batch.row.next_place = word.batch.next_place;
}

void take(std::vector<KnownBatch>& batches, const ActionRow& action) {
  if (action.verb != "sow" && action.verb != "move" && action.verb != "finish") return;
  const auto word = batch_from_json(action.detail);
  if (!word) return;  // the daemon will say so, and pass over it
  const auto found = std::ranges::find_if(
      batches, [&](const KnownBatch& batch) { return batch.row.id == word->batch.id; });
  if (action.verb == "sow") {
    if (found == batches.end()) take_sowing(batches, *word);
  } else if (found != batches.end()) {
    take_rest(*found, action, *word);
  }
}

}  // namespace

std::vector<KnownBatch> known_batches(const Store& store) {
  // The mark is read first: what the daemon takes meanwhile is then seen twice, and not
  // overlooked.
  const std::int64_t taken = store.mark(kMarkAction).value_or(0);
  std::vector<KnownBatch> batches = stored_batches(store);
  for (const ActionRow& action : store.actions_after(taken))
    take(batches, action);
  std::ranges::sort(batches, {}, [](const KnownBatch& batch) {
    return std::tie(batch.row.sown, batch.row.id);
  });
  return batches;
}

Result<const KnownBatch*> find_batch(std::span<const KnownBatch> batches,
                                     std::string_view word) {
  const std::string id = id_from_name(word);
  std::vector<std::string_view> ids;
  for (const KnownBatch& batch : batches) {
    if (batch.row.id == word || batch.row.id == id) return &batch;
    if (!batch.row.finished) ids.push_back(batch.row.id);
  }
  if (ids.empty()) {
    return refuse(fmt::format("no batch \"{}\"; there is none that is not finished",
                              escaped(word)));
  }
  const std::string meant = did_you_mean(word, ids);
  return refuse(fmt::format("no batch \"{}\"{}; batches: {}", escaped(word), meant,
                            fmt::join(ids, ", ")));
}

Result<const Crop*> find_crop(const CropTable& crops, std::string_view word) {
  if (const Crop* crop = crops.named(word)) return crop;
  if (const Crop* meant = crops.nearest(word)) {
    return refuse(fmt::format("no crop \"{}\"; did you mean \"{}\"?", escaped(word),
                              escaped(meant->name)));
  }
  std::vector<std::string> names;
  for (const Crop& crop : crops.all())
    names.push_back(escaped(crop.name));
  return refuse(
      fmt::format("no crop \"{}\"; crops: {}", escaped(word), fmt::join(names, ", ")));
}

std::string id_from_name(std::string_view name) {
  std::string id;
  for (const char c : printable(name, {.utf8 = false})) {
    const bool is_upper = c >= 'A' && c <= 'Z';
    const bool is_kept = is_upper || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9');
    if (is_kept) {
      id += is_upper ? static_cast<char>(c - 'A' + 'a') : c;
    } else if (!id.empty() && id.back() != '-') {
      id += '-';
    }
    if (id.size() == kLongestId) break;
  }
  if (id.ends_with('-')) id.pop_back();
  return id;
}

std::string free_id(std::span<const KnownBatch> batches, const std::string& id) {
  const auto is_taken = [&](const std::string& wanted) {
    return std::ranges::any_of(
        batches, [&](const KnownBatch& batch) { return batch.row.id == wanted; });
  };
  std::string wanted = id;
  for (int number = 2; is_taken(wanted); ++number)
    wanted = fmt::format("{}-{}", id, number);
  return wanted;
}

std::string what_grows(const BatchRow& batch, const Crop* crop) {
  std::string_view name = batch.crop;
  if (crop != nullptr) name = batch.count > 1 ? plural_of(*crop) : crop->name;
  return batch.count == 0 ? std::string(name) : fmt::format("{} {}", batch.count, name);
}

}  // namespace rimeward
