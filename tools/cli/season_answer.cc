#include "tools/cli/season_answer.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "daemon/climate/chill.h"
#include "daemon/climate/coverage.h"
#include "daemon/climate/degree_days.h"
#include "daemon/climate/hour_book.h"
#include "daemon/store/highs_and_lows.h"
#include "daemon/store/place_hours.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::hours;
using std::chrono::months;
using std::chrono::sys_days;
using std::chrono::year_month_day;

constexpr std::chrono::year kFirstYear{1970};
constexpr days kNearSummer{30};
constexpr months kHalfWinter{2};
constexpr Odds kOneInTen{0.1};
constexpr std::size_t kSpringsEnough = 10;

// Of each place asked for: the lows of the season's nights, the highs of its days.
std::vector<HighsAndLows> days_of(const Context& context, const DayGrid& grid,
                                  const std::vector<const Place*>& places,
                                  const Season& season) {
  std::vector<HighsAndLows> all = highs_and_lows(
      context.store, context.garden, season.begins, season.ends - days{1}, grid);
  std::vector<HighsAndLows> result;
  result.reserve(places.size());
  for (const Place* place : places) {
    result.push_back(
        std::move(all[static_cast<std::size_t>(place - context.garden.places.data())]));
  }
  return result;
}

// --- hours

struct HourTotals {
  std::int64_t hardy = 0;  // thousandths of degree hours
  std::int64_t tender = 0;
  int frost_hours = 0;
  int chill_hours = 0;
  int known = 0;  // hours
  int missing = 0;
};

// What the store has of one place around one season.
struct Held {
  const DayGrid& grid;
  const HighsAndLows& days;
  const HourBook& hours;
  Instant now;
};

HourTotals totals_of(const Held& held, Instant from, Instant to) {
  HourTotals totals;
  Instant hour = std::chrono::ceil<hours>(from);
  held.hours.each(from, to, [&](const HourMeans& means) {
    hour += hours{1};
    if (!means.air) {
      // The hour under way may still be read.
      totals.missing += hour <= held.now ? 1 : 0;
      return true;
    }
    ++totals.known;
    totals.hardy += degree_hours(*means.air, {.base = kHardyBase});
    totals.tender += degree_hours(*means.air, {.base = kTenderBase});
    totals.frost_hours += frost_hours(*means.air);
    totals.chill_hours += chill_hours(*means.air);
    return true;
  });
  return totals;
}

void put(SeasonSums& sums, const HourTotals& totals) {
  sums.frost_hours = totals.frost_hours;
  sums.hardy = degree_days(totals.hardy);
  sums.tender = degree_days(totals.tender);
}

std::vector<Instant> measured_hours(const HourBook& book, Instant from, Instant to) {
  std::vector<Instant> measured;
  for (Instant hour = std::chrono::ceil<hours>(from); hour < to; hour += hours{1}) {
    if (book.is_measured(Channel::kAirTemperature, hour)) measured.push_back(hour);
  }
  return measured;
}

// --- a season

struct Span {
  std::chrono::year year;
  Season season;
  bool is_under_way = false;
  std::optional<sys_days> same_date{};  // that of today in a past season
  Instant begins{};
  Instant until{};      // its end, or now
  Instant same_time{};  // of same_date
};

sys_days with_year(sys_days date, std::chrono::years later) {
  const year_month_day moved = year_month_day{date} + later;
  // 29 February of a common year is its last day.
  if (moved.ok()) return moved;
  return moved.year() / moved.month() / std::chrono::last;
}

Span span_of(const Context& context, std::chrono::year year, bool southern) {
  const auto midnight = [&](sys_days date) { return context.zone.at(date, hours{0}); };
  const sys_days today{context.zone.local_date(context.now)};
  Span span{.year = year, .season = season_of(year, southern)};
  span.begins = midnight(span.season.begins);
  const std::chrono::year current = season_year(today, southern);
  span.is_under_way = year == current;
  if (span.is_under_way) {
    span.until = std::chrono::floor<hours>(context.now) + hours{1};
    return span;
  }
  span.until = midnight(span.season.ends);
  span.same_date = with_year(today, year - current);
  span.same_time =
      context.zone.at(*span.same_date, context.zone.minute_of_day(context.now));
  return span;
}

struct KnownNight {
  sys_days night;
  std::optional<Milli> low{};
  // Complete: no frost but the one read, or not over yet.
  DayCoverage coverage = DayCoverage::kComplete;
};

KnownNight night_of(const Held& held, const std::vector<Instant>& measured,
                    sys_days night) {
  KnownNight result{.night = night};
  const sys_days day = night - days{1};
  bool is_noted = false;
  if (const auto found = held.days.find(night);
      found != held.days.end() && found->second.low) {
    result.low = to_milli(found->second.low->air.degrees);
    is_noted = found->second.low->is_noted;
  }
  const bool had_frost = result.low && is_frost(*result.low);
  if (!had_frost && !is_noted && held.grid.ends(day) <= held.now) {
    result.coverage =
        coverage_of(hours_held(measured, held.grid.begins(day), held.grid.ends(day)));
  }
  return result;
}

std::vector<KnownNight> nights_of(const Held& held, const Season& season,
                                  sys_days today) {
  const std::vector<Instant> measured =
      measured_hours(held.hours, held.grid.begins(season.begins - days{1}),
                     std::min(held.now, held.grid.begins(season.ends)));
  std::vector<KnownNight> nights;
  const sys_days last = std::min(today, season.ends - days{1});
  for (sys_days night = season.begins; night <= last; night += days{1}) {
    nights.push_back(night_of(held, measured, night));
  }
  return nights;
}

std::optional<FrostDate> frost_date(std::optional<sys_days> night,
                                    const std::vector<KnownNight>& nights,
                                    const Season& season) {
  if (!night) return std::nullopt;
  const bool is_spring = *night < season.midsummer;
  const sys_days first =
      is_spring ? *night : std::max(season.midsummer, *night - kNearSummer);
  const sys_days last =
      is_spring ? std::min(season.midsummer, *night + kNearSummer) : *night;
  const bool is_sure = std::ranges::none_of(nights, [&](const KnownNight& one) {
    return one.coverage != DayCoverage::kComplete && one.night >= first &&
           one.night <= last;
  });
  return FrostDate{*night, is_sure};
}

void put_nights(const std::vector<KnownNight>& nights, const Span& span,
                PlaceSeason& row) {
  std::vector<NightLow> lows;
  for (const KnownNight& one : nights) {
    row.nights_in_part += one.coverage == DayCoverage::kPartial ? 1 : 0;
    row.nights_missing += one.coverage == DayCoverage::kNotCounted ? 1 : 0;
    HalfSeason& half = one.night < span.season.midsummer ? row.spring : row.autumn;
    if (one.coverage != DayCoverage::kComplete) ++half.unknown;
    if (!one.low) continue;
    if (one.coverage == DayCoverage::kComplete) ++half.known;
    lows.push_back({one.night, *one.low});
    const Celsius air{from_milli(*one.low)};
    if (!row.coldest || air < row.coldest->air) row.coldest = {air, one.night};
    if (!is_frost(*one.low)) continue;
    ++row.sums.frost_nights;
    if (row.by_today && one.night <= *span.same_date) ++row.by_today->frost_nights;
  }
  const FrostDates dates = frost_dates(lows, span.season);
  row.last_of_spring = frost_date(dates.last_of_spring, nights, span.season);
  row.first_of_autumn = frost_date(dates.first_of_autumn, nights, span.season);
}

void put_warmest(const HighsAndLows& by_date, PlaceSeason& row) {
  for (const auto& [date, known] : by_date) {
    if (!known.high) continue;
    if (!row.warmest || known.high->air > row.warmest->air) {
      row.warmest = {known.high->air, date};
    }
  }
}

bool has_notes(const HighsAndLows& by_date) {
  return std::ranges::any_of(by_date, [](const auto& date_and_known) {
    const DayAndNight& known = date_and_known.second;
    return (known.low && known.low->is_noted) || (known.high && known.high->is_noted);
  });
}

std::optional<Chill> winter_chill(const Context& context, const Held& held,
                                  sys_days season_begins, Instant until) {
  const auto midnight = [&](year_month_day date) {
    return context.zone.at(date, hours{0});
  };
  const year_month_day middle{season_begins};
  const HourTotals totals = totals_of(held, midnight(middle - kHalfWinter),
                                      std::min(until, midnight(middle + kHalfWinter)));
  if (totals.known == 0) return std::nullopt;
  return Chill{.chill_hours = totals.chill_hours, .missing = totals.missing};
}

// Nothing where no hour of the season is known, and nothing of it was noted.
std::optional<PlaceSeason> season_row(const Context& context, const Span& span,
                                      const Held& held) {
  const HourTotals totals = totals_of(held, span.begins, span.until);
  if (totals.known == 0 && !has_notes(held.days)) return std::nullopt;
  PlaceSeason row{.year = span.year, .is_under_way = span.is_under_way};
  row.has_hours = totals.known > 0;
  put(row.sums, totals);
  row.hours_missing = totals.missing;
  if (span.same_date) {
    row.by_today.emplace();
    put(*row.by_today, totals_of(held, span.begins, span.same_time));
  }
  row.chill = winter_chill(context, held, span.season.begins, span.until);
  if (span.is_under_way) {
    row.coming_chill = winter_chill(context, held, span.season.ends, span.until);
  }
  const sys_days today{context.zone.local_date(context.now)};
  put_nights(nights_of(held, span.season, today), span, row);
  put_warmest(held.days, row);
  return row;
}

// Rows of one season, by place; those of which nothing is known are left out.
std::vector<PlaceSeason> season_rows(const Context& context,
                                     const std::vector<const Place*>& places,
                                     const Span& span) {
  std::vector<PlaceSeason> rows;
  const DayGrid grid(context.zone, context.garden.day_starts);
  const auto by_date = days_of(context, grid, places, span.season);
  if (std::ranges::all_of(by_date, &HighsAndLows::empty)) return rows;
  // From before the winter that the season began in; an hour at either edge may be
  // bridged from beyond it.
  const Instant from =
      context.zone.at(year_month_day{span.season.begins} - kHalfWinter, hours{0});
  constexpr hours margin = HourBook::kBridged + hours{1};
  const auto books = air_hours(context.store, context.garden, places,
                               std::chrono::floor<hours>(from) - margin,
                               std::chrono::ceil<hours>(span.until) + margin);
  for (std::size_t i = 0; i < places.size(); ++i) {
    auto row = season_row(context, span, {grid, by_date[i], books[i], context.now});
    if (!row) continue;
    row->place = places[i];
    rows.push_back(*row);
  }
  return rows;
}

}  // namespace

SeasonAnswer answer_season(const Context& context,
                           const std::vector<const Place*>& places,
                           std::optional<std::chrono::year> only) {
  SeasonAnswer answer{.is_southern = is_southern(context.garden.position.latitude),
                      .today = context.zone.local_date(context.now)};
  const std::chrono::year current = season_year(answer.today, answer.is_southern);
  for (std::chrono::year year = only.value_or(current); year >= kFirstYear;
       year -= std::chrono::years{1}) {
    const Span span = span_of(context, year, answer.is_southern);
    for (PlaceSeason& row : season_rows(context, places, span)) {
      answer.rows.push_back(std::move(row));
    }
    if (only) break;
  }
  std::ranges::stable_sort(answer.rows, {}, [&places](const PlaceSeason& row) {
    return std::ranges::find(places, row.place) - places.begin();
  });
  return answer;
}

std::optional<FrostRisk> frost_risk(const SeasonAnswer& answer, const Place& place,
                                    std::chrono::year year) {
  std::vector<days> last;
  PastFrosts past;
  for (const PlaceSeason& row : answer.rows) {
    if (row.place != &place || row.is_under_way) continue;
    const Season season = season_of(row.year, answer.is_southern);
    if (row.last_of_spring && row.last_of_spring->is_sure) {
      last.push_back(row.last_of_spring->night - season.begins);
    } else if (!row.last_of_spring && row.spring.unknown == 0) {
      ++past.years_without;
    }
  }
  past.last = last;
  const std::size_t springs = last.size() + static_cast<std::size_t>(past.years_without);
  if (springs < kSpringsEnough) return std::nullopt;
  const auto day = day_by_odds(past, kOneInTen);
  if (!day) return std::nullopt;
  const Season season = season_of(year, answer.is_southern);
  return FrostRisk{season.begins + std::chrono::round<days>(*day),
                   static_cast<int>(springs)};
}

}  // namespace rimeward
