// `move`: the place that a batch is to go to has stayed above what the batch must keep
// above for its hardening nights, and tonight's outlook there says that it will.
//
// Raised from the afternoon's outlook to sunset, while there is light to carry plants by.

#include <algorithm>
#include <chrono>
#include <span>
#include <string>
#include <utility>

#include <fmt/format.h>

#include "daemon/climate/trend.h"
#include "daemon/notice/batch_words.h"
#include "daemon/notice/hours_words.h"
#include "daemon/notice/rule.h"
#include "daemon/store/outlook_rows.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::sys_days;

// An open notice stays while the nights and the outlook are this much too cold.
constexpr Kelvins kLeaveBelow{0.5};
// All that PlaceView keeps: who asks for more nights is answered from these.
constexpr int kMostNights = 21;

// A batch and the place that it is to go to.
struct Move {
  const Situation& situation;
  const BatchView& batch;
  const PlaceView& view;
  Celsius keep_above;
  std::span<const NightRow> nights{};   // its hardening nights, oldest first
  const OutlookRow* tonight = nullptr;  // the newest; null: not issued yet
};

// The date of the last morning that ended a night: the one before tonight's, or with no
// outlook to tell, today's or before the night's end yesterday's.
bool is_newest(const Move& move, sys_days night) {
  if (move.tonight != nullptr) return night + days{1} == move.tonight->night;
  const sys_days today{move.situation.zone.local_date(move.situation.now)};
  return night == today || night + days{1} == today;
}

// The newest nights as far as they follow each other day by day and their lows are known;
// nothing where they are too few or too old.
std::span<const NightRow> hardening_nights(const Move& move) {
  const auto wanted =
      static_cast<std::size_t>(std::min(move.batch.crop->hardening_nights, kMostNights));
  const std::span<const NightRow> all = move.view.nights;
  if (wanted == 0 || all.size() < wanted) return {};
  const auto newest = all.last(wanted);
  if (!is_newest(move, newest.back().night)) return {};
  for (std::size_t i = 0; i < wanted; ++i) {
    if (!newest[i].low) return {};
    if (i > 0 && newest[i - 1].night + days{1} != newest[i].night) return {};
  }
  return newest;
}

const NightRow& coldest(const Move& move) {
  return *std::ranges::min_element(move.nights, {},
                                   [](const NightRow& row) { return *row.low; });
}

// True where neither the nights nor the outlook tell against a place that must stay above
// `limit`.
bool is_warm_enough(const Move& move, Celsius limit) {
  const bool asks_for_nights = move.batch.crop->hardening_nights > 0;
  if (asks_for_nights && (move.nights.empty() || *coldest(move).low < limit))
    return false;
  if (move.tonight == nullptr) return true;
  std::optional<Celsius> lowest;
  if (const auto reading = lowest_between(move.view.recents->air, move.tonight->sunset,
                                          move.situation.now)) {
    lowest = Celsius{reading->value};
  }
  return odds_below(outlook_of(*move.tonight), limit, lowest) < move.view.place->act_at;
}

std::string nights_text(const Move& move) {
  const Wording& wording = move.situation.wording;
  if (move.nights.empty()) return wording.say(Phrase::kMoveNoNights);
  const NightRow& lowest = coldest(move);
  const std::chrono::year_month_day morning{lowest.night};
  return wording.say(Phrase::kMoveNights, fmt::arg("count", move.nights.size()),
                     fmt::arg("low", wording.text_of(*lowest.low)),
                     fmt::arg("weekday", wording.weekday(morning)),
                     fmt::arg("date", wording.date(morning)),
                     fmt::arg("crop", plural_of(*move.batch.crop)),
                     fmt::arg("mark", wording.text_of(move.keep_above)));
}

// The numbers are those of the outlook as it was issued, so that the words change with it
// alone.
std::string tonight_text(const Move& move) {
  const Wording& wording = move.situation.wording;
  if (move.tonight == nullptr) return wording.say(Phrase::kMoveWait);
  const OutlookRow& row = *move.tonight;
  const Odds odds = odds_below(outlook_of(row), move.keep_above);
  return wording.say(Phrase::kMoveTonight, fmt::arg("low", wording.text_of(row.low)),
                     fmt::arg("low10", wording.text_of(row.low10)),
                     fmt::arg("low90", wording.text_of(row.low90)),
                     fmt::arg("odds", wording.text_of(odds)),
                     fmt::arg("mark", wording.text_of(move.keep_above))) +
         " " +
         wording.say(Phrase::kOutlookAt, fmt::arg("time", wording.time(row.issued_at)));
}

Phrase cover_phrase(const Place& place) {
  if (is_covered(place.kind)) return Phrase::kMoveAndShut;
  return place.fleece_layers > 0 ? Phrase::kMoveWithFleece : Phrase::kMoveAndWatch;
}

std::optional<Finding> finding_for(const Situation& situation, const BatchView& batch) {
  if (batch.next == nullptr || batch.next == batch.place) return std::nullopt;
  const PlaceView* view = view_of(situation, batch.next);
  if (view == nullptr) return std::nullopt;
  Move move{situation, batch, *view, keep_above(*batch.crop, batch.hardening)};
  if (!view->tonight.empty()) move.tonight = &view->tonight.back();
  move.nights = hardening_nights(move);
  if (!is_warm_enough(move, move.keep_above - kLeaveBelow)) return std::nullopt;

  Finding finding;
  finding.subject = batch.row->id;
  finding.place = batch.next->id;
  finding.holds = move.tonight != nullptr && situation.now < move.tonight->sunset &&
                  is_garden_time(situation, view->night) &&
                  is_warm_enough(move, move.keep_above);
  if (move.tonight != nullptr) finding.send_until = move.tonight->sunset;
  const Wording& wording = situation.wording;
  finding.title = wording.say(Phrase::kMoveTitle, fmt::arg("batch", batch_text(batch)),
                              fmt::arg("place", wording.place(batch.next->name)));
  finding.body = nights_text(move) + " " + tonight_text(move) + " " +
                 wording.say(cover_phrase(*batch.next));
  return finding;
}

}  // namespace

std::vector<Finding> find_move(const Situation& situation) {
  std::vector<Finding> findings;
  for (const BatchView& batch : situation.batches) {
    if (auto finding = finding_for(situation, batch)) {
      findings.push_back(std::move(*finding));
    }
  }
  return findings;
}

}  // namespace rimeward
