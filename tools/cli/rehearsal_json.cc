#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <nlohmann/json.hpp>

#include "daemon/notice/notice_json.h"
#include "sensors/iso_time.h"
#include "tools/cli/json_text.h"
#include "tools/cli/rehearsal_report.h"
#include "tools/frost_tally.h"

namespace rimeward {
namespace {

using Json = nlohmann::ordered_json;

// null when absent.
Json plain(std::optional<double> value) {
  return value ? Json(*value) : Json(nullptr);
}

Json plain(std::optional<Kelvins> difference) {
  return difference ? Json(difference->degrees) : Json(nullptr);
}

Json json_of(const OutlookScores& scores) {
  return {{"nights", scores.nights},
          {"mean_absolute_error_celsius", plain(scores.mean_absolute_error)},
          {"bias_celsius", plain(scores.bias)},
          {"share_in_range", plain(scores.share_in_range)},
          {"mean_range_celsius", plain(scores.mean_range)},
          {"crps_celsius", plain(scores.mean_ranked)},
          {"brier", plain(scores.brier)},
          {"caught", scores.calls.caught},
          {"missed", scores.calls.missed},
          {"false_calls", scores.calls.false_calls}};
}

Json json_of(const std::vector<OddsBin>& bins) {
  Json list = Json::array();
  for (const OddsBin& bin : bins) {
    list.push_back({{"from", bin.from.value},
                    {"below", bin.below.value},
                    {"outlooks", bin.nights},
                    {"mean_odds", bin.mean.value},
                    {"share_came", bin.share_came}});
  }
  return list;
}

// "brier_skill" is over the share of the nights so far.
Json json_of(const Comparison& beside) {
  Json json{{"nights", beside.nights}};
  for (const Compared& one : beside.entries) {
    json[std::string(one.key)] = {
        {"mean_absolute_error_celsius", plain(one.mean_absolute_error)},
        {"bias_celsius", plain(one.bias)},
        {"brier", plain(one.brier)}};
  }
  const auto outlook = beside.entries.front().brier;
  const auto past = beside.entries.back().brier;
  json["brier_skill"] = outlook && past ? plain(brier_skill(*outlook, *past)) : Json();
  return json;
}

Json json_of(const MomentScores& one) {
  Json json{{"issue", name_of(one.moment)}};
  json.update(json_of(one.scores));
  json["reliability"] = json_of(one.odds);
  json["first_nights"] = json_of(one.first);
  json["beside"] = json_of(one.beside);
  return json;
}

Json json_of(const PlaceScores& scores, const Place& place) {
  Json moments = Json::array();
  for (const MomentScores& one : scores.moments)
    moments.push_back(json_of(one));
  Json settled_from;
  if (scores.settled_from) settled_from = date_text(*scores.settled_from);
  return {{"place", place.id},
          {"settled_from", std::move(settled_from)},
          {"threshold_celsius", threshold_of(place).degrees},
          {"settling_nights", kSettlingNights.count()},
          {"scores", std::move(moments)},
          {"reliability", json_of(scores.odds)},
          {"first_outlooks", json_of(scores.first)}};
}

Json json_of(const FrostTally& tally) {
  return {{"nights", tally.nights},
          {"frosts", tally.frosts},
          {"told_before_sunset", tally.before_sunset},
          {"told_after_sunset", tally.after_sunset},
          {"danger_alone", tally.danger_alone},
          {"untold", tally.untold},
          {"covers_for_nothing", tally.covers_for_nothing},
          {"dangers_for_nothing", tally.dangers_for_nothing},
          {"most_covers_a_night", tally.most_covers}};
}

Json json_of(const TallyRow& row) {
  Json doubt{{"sensor", row.sensor}};
  if (row.channel) doubt["channel"] = traits(*row.channel).name;
  doubt["reason"] = traits(row.doubt).name;
  doubt["count"] = row.count;
  return doubt;
}

}  // namespace

std::string rehearsal_json(const Rehearsal& rehearsal, const Garden& garden,
                           const Zone& zone) {
  Json document{{"readings", rehearsal.readings},
                {"outlooks", rehearsal.outlooks.size()},
                {"doubts", Json::array()},
                {"notices", Json::array()},
                {"places", Json::array()}};
  for (const TallyRow& row : rehearsal.doubts)
    document["doubts"].push_back(json_of(row));
  for (const NoticeRow& notice : rehearsal.notices) {
    document["notices"].push_back(Json::parse(notice_json(notice, garden, zone)));
  }
  document["tellings"] = Json::array();
  for (const auto& [event, notice] : rehearsal.tellings) {
    document["tellings"].push_back({{"event", event},
                                    {"at", format_utc(notice.spoke_at)},
                                    {"notice", notice.id},
                                    {"title", notice.title}});
  }
  for (const Place& place : garden.places) {
    Json one =
        json_of(scores_of(rehearsal, place.id, threshold_of(place), place.act_at), place);
    one["frosts"] = json_of(frost_tally(rehearsal, place.id, zone));
    document["places"].push_back(std::move(one));
  }
  return json_text(document);
}

}  // namespace rimeward
