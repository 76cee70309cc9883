// `rimeward rehearse`: recorded readings through the same turns as the daemon's. Says
// what would have been forecast and noticed, and how good the outlooks were beside simple
// ones.

#include <cmath>
#include <fstream>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/notice/notice_json.h"
#include "daemon/notice/notice_text.h"
#include "sensors/iso_time.h"
#include "tools/cli/json_text.h"
#include "tools/cli/rehearsal_plan.h"
#include "tools/cli/table.h"
#include "tools/cli/verb.h"
#include "tools/cli/words.h"
#include "tools/rehearsal.h"

namespace rimeward {
namespace {

constexpr std::string_view kTeaching =
    "Runs recorded readings through the same turns as the daemon's and prints what "
    "would\n"
    "have been noticed, and how the outlooks did against the lows that came.\n"
    "\n"
    "DATA is a CSV file whose first line names the columns time (ISO 8601 with offset "
    "or\n"
    "Z), temperature (degrees C) and, where there are any, humidity (percent) and "
    "place.\n"
    "Say where the readings are from by --latitude, --longitude and --time-zone, or name "
    "a\n"
    "place of the settings file by --place; then its kind, keep-above and fleece are "
    "used.\n"
    "With --log, DATA is a captured log of messages to the garden of the settings file.\n"
    "\n"
    "  rimeward rehearse spring.csv --latitude 48.41 --longitude 9.52 \\\n"
    "    --time-zone Europe/Berlin --nights nights.csv\n"
    "  rimeward rehearse spring.csv --place north-frame\n"
    "\n"
    "--nights OUT.csv writes each outlook beside the low that came: night (date of the\n"
    "morning), place, issue, issued_at (UTC), low, low10, low90 and observed_low "
    "(degrees\n"
    "C), odds_below_0. An outlook looks only at what was read before it was issued.";

constexpr Parameter kParameters[]{
    {"DATA", "", "recorded readings (CSV), or a captured log with --log", true},
    {"--latitude", "DEGREES", "north is positive"},
    {"--longitude", "DEGREES", "east is positive"},
    {"--time-zone", "ZONE", "such as Europe/Berlin"},
    {"--place-kind", "KIND",
     "outdoors (if left out), bed, frame, polytunnel, greenhouse"},
    {"--keep-above", "DEGREES", "°C that the plants must not go below; 0 if left out"},
    {"--place", "PLACE", "take all this from a place of the settings file"},
    {"--prior", "FILE", "where the outlook starts from, as JSON"},
    {"--nights", "FILE", "write every outlook to this CSV file"},
    {"--log", "", "DATA is a captured log of messages"},
};

Result<Rehearsal> run_log(const std::string& file, Rehearser& rehearser) {
  std::ifstream stream(file);
  if (!stream) return refuse(file + ": cannot be read");
  std::string line;
  for (std::size_t number = 1; std::getline(stream, line); ++number) {
    if (line.empty() || line.starts_with('#')) continue;
    const auto arrival = arrival_from_line(line);
    if (!arrival) {
      return refuse(fmt::format("{}:{}: {}", file, number, arrival.error().message));
    }
    rehearser.feed(*arrival);
  }
  return rehearser.finish();
}

Result<Rehearsal> run_readings(const std::string& file, const Garden& garden,
                               Rehearser& rehearser) {
  auto recorded = RecordedFile::open(file);
  if (!recorded) return tl::unexpected(recorded.error());
  while (true) {
    const auto reading = recorded->next();
    if (!reading) return tl::unexpected(reading.error());
    const std::optional<RecordedReading>& one = *reading;
    if (!one) return rehearser.finish();
    rehearser.feed(*one, rehearsal_topic(garden, *one));
  }
}

std::string date_of(const RehearsedOutlook& one) {
  return date_text(date_of_night(one.outlook.solar_day));
}

// Adding zero turns -0.0 into 0.0.
std::string thousandths(double value) {
  return fmt::format("{:.3f}", std::round(value * 1000) / 1000 + 0.0);
}

bool write_nights(const std::string& file, const Rehearsal& rehearsal) {
  std::ofstream stream(file);
  stream << "night,place,issue,issued_at,low,low10,low90,odds_below_0,observed_low\n";
  for (const RehearsedOutlook& one : rehearsal.outlooks) {
    const Outlook& outlook = one.outlook;
    const Instant issued = whole_second(outlook.issued_at);
    stream << fmt::format(
        "{},{},{},{},{},{},{},{:.4f},{}\n", date_of(one), one.place,
        name_of(outlook.moment), format_utc(issued), thousandths(outlook.low.degrees),
        thousandths(outlook.low10.degrees), thousandths(outlook.low90.degrees),
        odds_below(outlook, Celsius{0}).value,
        one.came ? thousandths(one.came->degrees) : "");
  }
  stream.flush();
  return stream.good();
}

// --- what is printed

std::string hundredths(std::optional<double> value) {
  return value ? fmt::format("{:.2f}", *value) : "-";
}

std::optional<double> degrees(std::optional<Kelvins> difference) {
  if (!difference) return std::nullopt;
  return difference->degrees;
}

std::string calls_text(const YesNoTable& calls) {
  return fmt::format("{} of {}", calls.caught, calls.caught + calls.missed);
}

std::string score_table(const std::vector<MomentScores>& all, const Place& place,
                        const Screen& screen) {
  std::vector<Column> columns{{.heading = ""}};
  for (const MomentScores& one : all) {
    columns.push_back(
        {.heading = std::string(name_of(one.moment)), .align = Column::Align::kRight});
  }
  Table table(columns);
  const auto row = [&](std::string title, auto&& value) {
    std::vector<Cell> cells{{std::move(title)}};
    for (const MomentScores& one : all)
      cells.push_back({value(one)});
    table.add_row(std::move(cells));
  };
  row("nights",
      [](const MomentScores& one) { return fmt::to_string(one.scores.nights); });
  row("mean error, °C", [](const MomentScores& one) {
    return hundredths(degrees(one.scores.mean_absolute_error));
  });
  row("lows within the 80 % range, %", [](const MomentScores& one) {
    const auto share = one.scores.share_in_range;
    return share ? fmt::format("{:.0f}", *share * 100) : std::string("-");
  });
  row("width of the range, °C",
      [](const MomentScores& one) { return hundredths(degrees(one.scores.mean_range)); });
  row("Brier score of the odds", [](const MomentScores& one) {
    return one.scores.brier ? fmt::format("{:.3f}", *one.scores.brier) : std::string("-");
  });
  row(fmt::format("nights below {:.1f} °C called",
                  place.keep_above.value_or(Celsius{0}).degrees),
      [](const MomentScores& one) { return calls_text(one.scores.calls); });
  row("called, but not so cold", [](const MomentScores& one) {
    return fmt::to_string(one.scores.calls.false_calls);
  });
  for (std::size_t i = 0; i < yardsticks().size(); ++i) {
    row(fmt::format("error °C, {}", yardsticks()[i].name), [i](const MomentScores& one) {
      return hundredths(degrees(one.yardstick_errors[i]));
    });
  }
  return table.text(screen);
}

Celsius threshold_of(const Place& place) {
  return place.keep_above.value_or(Celsius{0});
}

// "Counted apart: station temperature: 2 jumps no air can make."; empty without any.
std::string doubts_text(const Rehearsal& rehearsal) {
  std::string text;
  for (const TallyRow& row : rehearsal.doubts) {
    const std::string of =
        row.channel ? fmt::format("{} {}", row.sensor, traits(*row.channel).name)
                    : row.sensor;
    text += fmt::format("{}{}: {} {}", text.empty() ? "Counted apart: " : "; ", of,
                        row.count, traits(row.doubt).words);
  }
  return text.empty() ? text : text + ".\n";
}

std::string text_of_rehearsal(const Rehearsal& rehearsal, const RehearsalPlan& plan,
                              const Zone& zone, const Screen& screen) {
  std::string text =
      fmt::format("{} readings rehearsed, {} outlooks, {} notices\n", rehearsal.readings,
                  rehearsal.outlooks.size(), rehearsal.notices.size());
  text += paragraphs(doubts_text(rehearsal), 0, screen);
  if (!rehearsal.notices.empty()) {
    Table notices({{.heading = "raised"}, {.heading = "notice", .wraps = true}});
    for (const NoticeRow& notice : rehearsal.notices) {
      notices.add_row({{fmt::format("{} {} {}", zone.weekday_text(notice.raised_at),
                                    zone.date_text(notice.raised_at),
                                    zone.time_text(notice.raised_at))},
                       {notice_headline(notice, zone)}});
    }
    text += "\n" + notices.text(screen);
  }
  for (const Place& place : plan.garden.places) {
    const auto scores = scores_of(rehearsal, place.id, threshold_of(place), place.act_at);
    text +=
        fmt::format("\n{}: outlooks against the lows that came, from the 15th night on\n",
                    printable(place.name, screen));
    text += score_table(scores, place, screen);
  }
  return text + "\nA forecast is never a promise.\n";
}

nlohmann::ordered_json json_of(const MomentScores& one) {
  nlohmann::ordered_json json{{"issue", name_of(one.moment)},
                              {"nights", one.scores.nights}};
  const auto put = [&](std::string_view name, std::optional<double> value) {
    json[std::string(name)] =
        value ? nlohmann::ordered_json(*value) : nlohmann::ordered_json(nullptr);
  };
  put("mean_absolute_error_celsius", degrees(one.scores.mean_absolute_error));
  put("share_in_range", one.scores.share_in_range);
  put("mean_range_celsius", degrees(one.scores.mean_range));
  put("brier", one.scores.brier);
  json["caught"] = one.scores.calls.caught;
  json["missed"] = one.scores.calls.missed;
  json["false_calls"] = one.scores.calls.false_calls;
  put("error_same_as_last_night_celsius", degrees(one.yardstick_errors[0]));
  put("error_mean_fall_celsius", degrees(one.yardstick_errors[1]));
  put("error_fao_regression_celsius", degrees(one.yardstick_errors[2]));
  return json;
}

std::string json_of_rehearsal(const Rehearsal& rehearsal, const RehearsalPlan& plan,
                              const Zone& zone) {
  nlohmann::ordered_json document{{"readings", rehearsal.readings},
                                  {"outlooks", rehearsal.outlooks.size()},
                                  {"doubts", nlohmann::ordered_json::array()},
                                  {"notices", nlohmann::ordered_json::array()},
                                  {"places", nlohmann::ordered_json::array()}};
  for (const TallyRow& row : rehearsal.doubts) {
    nlohmann::ordered_json doubt{{"sensor", row.sensor}};
    if (row.channel) doubt["channel"] = traits(*row.channel).name;
    doubt["reason"] = traits(row.doubt).name;
    doubt["count"] = row.count;
    document["doubts"].push_back(std::move(doubt));
  }
  for (const NoticeRow& notice : rehearsal.notices) {
    document["notices"].push_back(
        nlohmann::ordered_json::parse(notice_json(notice, plan.garden, zone)));
  }
  for (const Place& place : plan.garden.places) {
    nlohmann::ordered_json scores = nlohmann::ordered_json::array();
    for (const MomentScores& one :
         scores_of(rehearsal, place.id, threshold_of(place), place.act_at)) {
      scores.push_back(json_of(one));
    }
    document["places"].push_back({{"place", place.id},
                                  {"threshold_celsius", threshold_of(place).degrees},
                                  {"scores", std::move(scores)}});
  }
  return json_text(document);
}

Reply answer(const Surroundings& around, const Arguments& arguments) {
  const auto plan = plan_rehearsal(around, arguments);
  if (!plan) return plan.error();
  const auto zone = Zone::named(plan->garden.time_zone);
  if (!zone) return misused("--time-zone: " + zone.error().message);
  const std::string file(arguments.text("DATA").value_or(""));
  const bool is_log = arguments.given("--log");
  Rehearser rehearser(plan->garden, *zone,
                      is_log ? ClockSource::kSystem : ClockSource::kReadings,
                      plan->prior);
  const auto rehearsal =
      is_log ? run_log(file, rehearser) : run_readings(file, plan->garden, rehearser);
  if (!rehearsal) return could_not(rehearsal.error().message);
  if (const auto nights = arguments.text("--nights")) {
    const std::string out(*nights);
    if (!write_nights(out, *rehearsal)) return could_not(out + ": cannot be written");
  }
  if (around.format == Format::kJson) {
    return said(json_of_rehearsal(*rehearsal, *plan, *zone));
  }
  return said(text_of_rehearsal(*rehearsal, *plan, *zone, around.screen));
}

}  // namespace

VerbDetails describe_rehearse() {
  return {.teaching = kTeaching, .parameters = kParameters, .answer_alone = &answer};
}

}  // namespace rimeward
