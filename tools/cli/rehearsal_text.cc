#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <fmt/format.h>

#include "daemon/notice/notice_text.h"
#include "daemon/notice/wording.h"
#include "tools/cli/rehearsal_report.h"
#include "tools/cli/table.h"
#include "tools/cli/words.h"
#include "tools/frost_tally.h"

namespace rimeward {
namespace {

// Fewer than a dozen outlooks cannot tell whether their odds were right.
constexpr std::int64_t kFewestForOdds = 12;

// --- numbers

// How a garden's numbers are to be said.
struct Manner {
  const Screen& screen;
  TemperatureUnit unit;
};

std::string hundredths(std::optional<Kelvins> difference, const Manner& manner) {
  if (!difference) return "-";
  const bool celsius = manner.unit == TemperatureUnit::kCelsius;
  return fmt::format("{:.2f}",
                     celsius ? difference->degrees : in_fahrenheit(*difference));
}

// Never "-0.00".
std::string signed_hundredths(std::optional<Kelvins> difference, const Manner& manner) {
  if (!difference) return "-";
  const std::string size = hundredths(difference, manner);
  if (size == "-0.00") return "0.00";
  return difference->degrees > 0 && size != "0.00" ? "+" + size : size;
}

std::string percent(std::optional<double> share) {
  return share ? fmt::format("{:.0f}", *share * 100) : "-";
}

std::string thousandths(std::optional<double> value) {
  return value ? fmt::format("{:.3f}", *value) : "-";
}

std::string caught_of(const YesNoTable& calls) {
  return fmt::format("{} of {}", calls.caught, calls.caught + calls.missed);
}

// "below 1.0 °C".
std::string below_text(const Place& place, const Manner& manner) {
  return fmt::format("below {} {}", number(threshold_of(place), manner.unit),
                     degree_sign(manner.unit));
}

// --- tables of the four moments

Table moment_table(std::string corner, const std::vector<MomentScores>& all) {
  std::vector<Column> columns{{.heading = std::move(corner)}};
  for (const MomentScores& one : all) {
    columns.push_back(
        {.heading = std::string(name_of(one.moment)), .align = Column::Align::kRight});
  }
  return Table(std::move(columns));
}

template <class Value>
void add_row(Table& table, std::string title, const std::vector<MomentScores>& all,
             Value value) {
  std::vector<Cell> cells{{std::move(title)}};
  for (const MomentScores& one : all)
    cells.push_back({value(one)});
  table.add_row(std::move(cells));
}

std::string score_table(const std::vector<MomentScores>& all, const Place& place,
                        const Manner& manner) {
  const auto degree = degree_sign(manner.unit);
  Table table = moment_table("", all);
  const auto row = [&](std::string title, auto value) {
    add_row(table, std::move(title), all,
            [&](const MomentScores& one) { return value(one.scores); });
  };
  row("nights", [](const OutlookScores& one) { return fmt::to_string(one.nights); });
  row(fmt::format("mean error, {}", degree), [&](const OutlookScores& one) {
    return hundredths(one.mean_absolute_error, manner);
  });
  row(fmt::format("too warm +, too cold -, {}", degree),
      [&](const OutlookScores& one) { return signed_hundredths(one.bias, manner); });
  row("lows within the 80 % range, %",
      [](const OutlookScores& one) { return percent(one.share_in_range); });
  row(fmt::format("width of the range, {}", degree),
      [&](const OutlookScores& one) { return hundredths(one.mean_range, manner); });
  row(fmt::format("nights {} called", below_text(place, manner)),
      [](const OutlookScores& one) { return caught_of(one.calls); });
  row("called, but not so cold",
      [](const OutlookScores& one) { return fmt::to_string(one.calls.false_calls); });
  row("Brier score of the odds",
      [](const OutlookScores& one) { return thousandths(one.brier); });
  return table.text(manner.screen);
}

std::string first_nights_text(const PlaceScores& scores, const Place& place,
                              const Manner& manner) {
  if (scores.first.nights == 0) return "";
  std::string errors;
  for (const MomentScores& one : scores.moments) {
    if (one.first.nights == 0) continue;
    errors += fmt::format("{}{} {}", errors.empty() ? "" : ", ",
                          hundredths(one.first.mean_absolute_error, manner),
                          name_of(one.moment));
  }
  return fmt::format(
      "The first {} nights, while it settled in: mean error {} ({}), {} % of the lows "
      "within the range, {} outlooks for nights {} called, and {} more without need.\n",
      kSettlingNights.count(), errors, degree_sign(manner.unit),
      percent(scores.first.share_in_range), caught_of(scores.first.calls),
      below_text(place, manner), scores.first.calls.false_calls);
}

std::string comparison_table(const std::vector<MomentScores>& all, const Manner& manner) {
  Table table = moment_table("", all);
  add_row(table, "nights", all,
          [](const MomentScores& one) { return fmt::to_string(one.beside.nights); });
  const std::vector<Compared>& entries = all.front().beside.entries;
  // The share of the nights so far has no low to be off by.
  for (std::size_t i = 0; i + 1 < entries.size(); ++i) {
    add_row(table, fmt::format("error {}, {}", degree_sign(manner.unit), entries[i].name),
            all, [&](const MomentScores& one) {
              return hundredths(one.beside.entries[i].mean_absolute_error, manner);
            });
  }
  for (std::size_t i = 0; i < entries.size(); ++i) {
    add_row(table, fmt::format("Brier, {}", entries[i].name), all,
            [i](const MomentScores& one) {
              return thousandths(one.beside.entries[i].brier);
            });
  }
  return table.text(manner.screen);
}

// --- odds

std::string odds_text(const OddsBin& bin) {
  if (bin.from.value == 0.0) return fmt::format("under {:.0f} %", bin.below.value * 100);
  if (bin.below.value == 1.0) {
    return fmt::format("{:.0f} % and more", bin.from.value * 100);
  }
  return fmt::format("{:.0f} to {:.0f} %", bin.from.value * 100, bin.below.value * 100);
}

std::string odds_table(const std::vector<OddsBin>& bins, const Manner& manner) {
  using enum Column::Align;
  Table table({{.heading = "odds given"},
               {.heading = "outlooks", .align = kRight},
               {.heading = "their mean, %", .align = kRight},
               {.heading = "came true, %", .align = kRight}});
  for (const OddsBin& bin : bins) {
    table.add_row({{odds_text(bin)},
                   {fmt::to_string(bin.nights)},
                   {percent(bin.mean.value)},
                   {bin.nights < kFewestForOdds ? "too few" : percent(bin.share_came)}});
  }
  return table.text(manner.screen);
}

// --- the whole

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

std::string notices_text(const std::vector<RehearsedTelling>& tellings,
                         const Wording& wording, const Screen& screen) {
  if (tellings.empty()) return "";
  const Zone& zone = wording.zone();
  Table table({{.heading = "told"}, {.heading = "notice", .wraps = true}});
  for (const RehearsedTelling& told : tellings) {
    const bool again = told.event == "reminder" && told.notice.reminded_at;
    const Instant at = again ? *told.notice.reminded_at : told.notice.spoke_at;
    table.add_row({{fmt::format("{} {} {}", zone.weekday_text(at), zone.date_text(at),
                                zone.time_text(at))},
                   {told_headline(told.notice, told.event, wording)}});
  }
  return "\n" + table.text(screen);
}

std::string settled_text(const PlaceScores& scores, const Place& place,
                         const Manner& manner) {
  const bool any = std::ranges::any_of(
      scores.moments, [](const MomentScores& one) { return one.scores.nights > 0; });
  if (!any) {
    return paragraphs(fmt::format("{}: no 15th night to judge outlooks by", place.name),
                      0, manner.screen);
  }
  return paragraphs(fmt::format(
                        "{}: outlooks against the lows that came, from the 15th night on",
                        place.name),
                    0, manner.screen) +
         score_table(scores.moments, place, manner);
}

std::string beside_text(const PlaceScores& scores, const Manner& manner) {
  const bool any = std::ranges::any_of(
      scores.moments, [](const MomentScores& one) { return one.beside.nights > 0; });
  if (!any) return "";
  return "\n" +
         paragraphs(
             "Beside simple forecasts, on the nights for which each of them had "
             "something to say (Brier: how far odds were off; 0 is perfect)",
             0, manner.screen) +
         comparison_table(scores.moments, manner);
}

// How the notices did; empty where there was nothing to protect.
std::string frosts_text(const FrostTally& tally, const Place& place) {
  if (tally.nights == 0) return "";
  std::string text =
      fmt::format("{}: of {} nights {} went below what its plants must keep above",
                  place.name, tally.nights, tally.frosts);
  if (tally.frosts > 0) {
    text += fmt::format(
        "; {} were told of before sunset, {} in the evening, {} by a danger alone, {} "
        "not "
        "at all",
        tally.before_sunset, tally.after_sunset, tally.danger_alone, tally.untold);
  }
  return text + fmt::format(
                    ". Of the other {}, {} had a notice to cover and {} a danger for "
                    "nothing.\n",
                    tally.nights - tally.frosts, tally.covers_for_nothing,
                    tally.dangers_for_nothing);
}

std::string text_of_place(const PlaceScores& scores, const Place& place,
                          const Manner& manner) {
  std::string text = settled_text(scores, place, manner);
  text += paragraphs(first_nights_text(scores, place, manner), 0, manner.screen);
  text += beside_text(scores, manner);
  if (scores.odds.empty()) return text;
  text += "\n" + paragraphs(fmt::format("How often the odds of a night {} came true, the "
                                        "four moments together",
                                        below_text(place, manner)),
                            0, manner.screen);
  return text + odds_table(scores.odds, manner);
}

}  // namespace

Celsius threshold_of(const Place& place) {
  return place.keep_above.value_or(Celsius{0});
}

std::string rehearsal_text(const Rehearsal& rehearsal, const Garden& garden,
                           const Zone& zone, const Screen& screen) {
  std::string text =
      fmt::format("{} readings rehearsed, {} outlooks, {} notices\n", rehearsal.readings,
                  rehearsal.outlooks.size(), rehearsal.notices.size());
  text += paragraphs(doubts_text(rehearsal), 0, screen);
  const Wording wording(garden.language, garden.units, zone);
  text += notices_text(rehearsal.tellings, wording, screen);
  const Manner manner{screen, garden.units};
  std::string frosts;
  for (const Place& place : garden.places)
    frosts += frosts_text(frost_tally(rehearsal, place.id, zone), place);
  if (!frosts.empty()) text += "\n" + paragraphs(frosts, 0, screen);
  for (const Place& place : garden.places) {
    const PlaceScores scores =
        scores_of(rehearsal, place.id, threshold_of(place), place.act_at);
    text += "\n" + text_of_place(scores, place, manner);
  }
  return text + "\nA forecast is never a promise.\n";
}

}  // namespace rimeward
