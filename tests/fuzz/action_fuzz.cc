// What the gardener says on the broker's command topic, or in the file of a rehearsal: a
// word that is taken does only what the garden has, and one that is refused is refused in
// words that can be shown.
//
// An input is the JSON; it is read both ways.

#include <algorithm>
#include <string>

#include "daemon/notice/action_json.h"
#include "daemon/notice/notice_kinds.h"
#include "daemon/store/batch_json.h"
#include "daemon/store/mute_word.h"
#include "sensors/iso_time.h"
#include "tests/fuzz/demands.h"

using namespace rimeward;

namespace {

Garden garden() {
  Garden garden;
  for (const char* id : {"north-frame", "yard"}) {
    Place& place = garden.places.emplace_back();
    place.id = id;
  }
  garden.crops =
      CropTable({Crop{.id = "chilli", .name = "chilli", .plural = "chillies"}});
  return garden;
}

bool is_known(const Garden& garden, const std::string& place) {
  return std::ranges::find(garden.places, place, &Place::id) != garden.places.end();
}

void demand_sound_mute(const ActionRow& action, Instant since) {
  const auto mute = mute_of(action);
  fuzz::demand(mute.has_value(), "a mute that can be read");
  fuzz::demand(std::ranges::find(kNoticeKinds, mute->kind) != kNoticeKinds.end(),
               "a kind of notice that there is");
  fuzz::demand(mute->until >= since, "a mute that ends no earlier than it is said");
}

void demand_sound_batch(const Garden& garden, const ActionRow& action) {
  const auto word = batch_from_json(action.detail);
  fuzz::demand(word.has_value(), "a word about a batch that can be read");
  fuzz::demand(word->batch.count >= 0, "plants that can be counted");
  fuzz::demand(word->place.empty() || is_known(garden, word->place),
               "a batch in a place of the garden");
  fuzz::demand(batch_json(*word) == action.detail, "the word that was written");
}

void demand_sound(const Garden& garden, const ActionRow& action, Instant since) {
  fuzz::demand(action.place.empty() || is_known(garden, action.place),
               "a place of the garden");
  fuzz::demand(action.layers >= 0 && action.layers <= 9, "as many layers as there are");
  if (action.verb == "done") {
    fuzz::demand(action.notice > 0, "a notice's number");
  } else if (action.verb == "mute") {
    demand_sound_mute(action, since);
  } else if (action.verb == "sow" || action.verb == "move" || action.verb == "finish") {
    demand_sound_batch(garden, action);
  } else {
    fuzz::demand(!action.place.empty(), "a place that something was done to");
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const Garden kGarden = garden();
  static const Instant kNow = parse_instant("2026-04-12T16:40:00Z").value();
  fuzz::Input input(data, size);
  const auto said = action_from_json(input.rest(), kGarden, kNow, Told::kByMessage);
  if (said) {
    fuzz::demand(said->at <= kNow, "what has been");
    demand_sound(kGarden, *said, kNow);
  } else {
    fuzz::demand_words(said.error().message);
  }
  const auto told =
      action_from_json(input.rest(), kGarden, Instant::max(), Told::kInRehearsal);
  if (told) {
    demand_sound(kGarden, *told, told->at);
  } else {
    fuzz::demand_words(told.error().message);
  }
  return 0;
}
