#include "tools/cli/chart/chart_curves.h"

#include <algorithm>
#include <chrono>
#include <iterator>
#include <map>

#include "daemon/climate/coverage.h"
#include "daemon/store/place_hours.h"
#include "tools/cli/quantity.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::hours;
using std::chrono::minutes;
using std::chrono::seconds;

constexpr hours kClockChange{2};
constexpr days kReadingDays{3};
constexpr days kHourDays{60};
constexpr int kBuckets = 600;
constexpr minutes kLeastGap{20};

// Which curve a series belongs to, and who speaks before it.
struct Voice {
  std::size_t curve = 0;
  std::size_t rank = 0;
};
using Voices = std::map<SeriesId, Voice>;

Voices voices_of(const Context& context, const ChartQuestion& question) {
  Voices voices;
  const std::vector<SeriesRow> all = context.store.all_series();
  for (const SeriesRow& row : all) {
    if (row.channel != question.channel) continue;
    const auto place = std::ranges::find(question.places, row.place, &Place::id);
    if (place == question.places.end()) continue;
    voices[row.id] = {static_cast<std::size_t>(place - question.places.begin()),
                      hour_rank(context.garden, row, all.back().id)};
  }
  return voices;
}

// From thousandths of the channel's unit to what is shown.
class Scale {
 public:
  Scale(Channel channel, TemperatureUnit unit) : channel_(channel), unit_(unit) {}
  double operator()(Milli value) const {
    return shown_value(channel_, from_milli(value), unit_);
  }

 private:
  Channel channel_;
  TemperatureUnit unit_;
};

void take_extremes(ChartCurve& curve, const ChartExtreme& low, const ChartExtreme& high) {
  if (!curve.low || low.value < curve.low->value) curve.low = low;
  if (!curve.high || high.value > curve.high->value) curve.high = high;
}

// --- readings

struct Heard {
  Instant at;
  Milli value = 0;
  std::size_t rank = 0;
};

// Leaves of each UTC clock hour the readings of the first sensor that has some.
void keep_speakers(std::vector<Heard>& heard) {
  const auto hour_of = [](const Heard& each) {
    return std::chrono::floor<hours>(each.at);
  };
  std::vector<Heard> kept;
  kept.reserve(heard.size());
  for (auto begin = heard.begin(); begin != heard.end();) {
    const auto end = std::find_if(begin, heard.end(), [&](const Heard& each) {
      return hour_of(each) != hour_of(*begin);
    });
    const std::size_t speaks =
        std::ranges::min_element(begin, end, {}, &Heard::rank)->rank;
    std::copy_if(begin, end, std::back_inserter(kept),
                 [speaks](const Heard& each) { return each.rank == speaks; });
    begin = end;
  }
  heard = std::move(kept);
}

// The longest interval between two readings in which none is missing.
seconds longest_interval(const std::vector<Heard>& heard) {
  std::vector<seconds> intervals;
  for (std::size_t i = 1; i < heard.size(); ++i)
    intervals.push_back(heard[i].at - heard[i - 1].at);
  if (intervals.size() < 2) return kLeastGap;
  std::ranges::sort(intervals);
  const seconds usual = intervals[intervals.size() / 2];
  const seconds most = intervals[(intervals.size() - 1) * 19 / 20];
  return std::max({seconds(kLeastGap), usual * 3, most * 3 / 2});
}

ChartCurve curve_of(const std::vector<Heard>& heard, const Chart::Span& span,
                    const Scale& shown) {
  ChartCurve curve;
  if (heard.empty()) return curve;
  const seconds longest = longest_interval(heard);
  const auto bucket_of = [&span](Instant at) {
    return (at - span.from) * kBuckets / (span.to - span.from + seconds{1});
  };
  Instant last = span.from;
  for (const Heard& each : heard) {
    const double value = shown(each.value);
    take_extremes(curve, {value, each.at}, {value, each.at});
    const bool missed = each.at - last > longest;
    if (missed) curve.gaps.push_back({last, each.at});
    if (missed || curve.pieces.empty()) curve.pieces.emplace_back();
    std::vector<Chart::Point>& piece = curve.pieces.back();
    if (!piece.empty() && bucket_of(piece.back().at) == bucket_of(each.at)) {
      piece.back().low = std::min(piece.back().low, value);
      piece.back().high = std::max(piece.back().high, value);
    } else {
      piece.push_back({each.at, value, value});
    }
    last = each.at;
  }
  if (span.to - last > longest) curve.gaps.push_back({last, span.to});
  return curve;
}

std::vector<ChartCurve> curves_of_readings(const Context& context,
                                           const ChartQuestion& question,
                                           const Voices& voices, const Scale& shown) {
  std::vector<std::vector<Heard>> heard(question.places.size());
  context.store.each_reading(
      question.span.from, question.span.to + seconds{1}, [&](const ReadingRow& row) {
        const auto voice = voices.find(row.series);
        if (voice == voices.end()) return;
        heard[voice->second.curve].push_back({row.time, row.value, voice->second.rank});
      });
  std::vector<ChartCurve> curves;
  for (std::vector<Heard>& each : heard) {
    keep_speakers(each);
    curves.push_back(curve_of(each, question.span, shown));
  }
  return curves;
}

// --- hours and days

struct Summed {
  Instant from;
  Instant to;
  std::size_t rank = 0;
  Extremes extremes;
};

ChartCurve curve_of(const std::vector<Summed>& summed, const Chart::Span& span,
                    const Scale& shown) {
  ChartCurve curve;
  if (summed.empty()) return curve;
  // At the edges a part of an hour or day says nothing.
  const auto edge = summed.front().to - summed.front().from;
  Instant last = span.from;
  for (const Summed& each : summed) {
    const Extremes& extremes = each.extremes;
    const double low = shown(extremes.low);
    const double high = shown(extremes.high);
    take_extremes(curve, {low, extremes.low_at}, {high, extremes.high_at});
    const bool is_first = curve.pieces.empty();
    const bool missed = is_first ? each.from - last > edge : each.from != last;
    if (missed) curve.gaps.push_back({last, each.from});
    if (missed || is_first) curve.pieces.emplace_back();
    curve.pieces.back().push_back({each.from, low, high});
    last = each.to;
  }
  if (span.to - last > edge) curve.gaps.push_back({last, span.to});
  return curve;
}

std::vector<ChartCurve> curves_of(const std::vector<std::vector<Summed>>& summed,
                                  const Chart::Span& span, const Scale& shown) {
  std::vector<ChartCurve> curves;
  for (const std::vector<Summed>& each : summed)
    curves.push_back(curve_of(each, span, shown));
  return curves;
}

// Puts `next` behind the others, or in the place of the one of the same time where it
// speaks before that by `speaks_before`.
template <class Before>
void take(std::vector<Summed>& summed, const Summed& next, const Before& speaks_before) {
  if (summed.empty() || summed.back().from != next.from) {
    summed.push_back(next);
  } else if (speaks_before(next, summed.back())) {
    summed.back() = next;
  }
}

std::vector<ChartCurve> curves_of_hours(const Context& context,
                                        const ChartQuestion& question,
                                        const Voices& voices, const Scale& shown) {
  const Chart::Span& span = question.span;
  const bool runs_on = span.to >= context.now;
  const Instant from = std::chrono::ceil<hours>(span.from);
  const Instant to = runs_on ? std::chrono::floor<hours>(span.to) + hours{1}
                             : std::chrono::floor<hours>(span.to);
  std::vector<std::vector<Summed>> summed(question.places.size());
  const auto visit = [&](SeriesId series, const HourRow& row) {
    const auto voice = voices.find(series);
    if (voice == voices.end()) return;
    take(summed[voice->second.curve],
         {row.hour, row.hour + hours{1}, voice->second.rank, row.extremes},
         [](const Summed& a, const Summed& b) { return a.rank < b.rank; });
  };
  context.store.each_hour_of(question.channel, from, to, visit);
  return curves_of(summed, span, shown);
}

// As all_place_days() has it: whole days before others, then by rank.
bool tells_day_better(const Summed& a, const Summed& b) {
  const int hours_a = std::min(a.extremes.hours, kWholeDay);
  const int hours_b = std::min(b.extremes.hours, kWholeDay);
  return hours_a != hours_b ? hours_a > hours_b : a.rank < b.rank;
}

std::vector<ChartCurve> curves_of_days(const Context& context,
                                       const ChartQuestion& question,
                                       const Voices& voices, const Scale& shown) {
  const Chart::Span& span = question.span;
  const DayGrid grid(context.zone, context.garden.day_starts);
  std::vector<std::vector<Summed>> summed(question.places.size());
  const std::vector<DayRow> stored =
      context.store.days(grid.day_of(span.from), grid.day_of(span.to), grid);
  for (const DayRow& row : stored) {
    const auto voice = voices.find(row.series);
    if (voice == voices.end()) continue;
    const Summed day{grid.begins(row.date), grid.ends(row.date), voice->second.rank,
                     row.extremes};
    const bool under_way = day.to > context.now && span.to >= context.now;
    if (day.from < span.from || (day.to > span.to && !under_way)) continue;
    take(summed[voice->second.curve], day, tells_day_better);
  }
  return curves_of(summed, span, shown);
}

}  // namespace

ChartStep chart_step(const Chart::Span& span) {
  const seconds length = span.to - span.from;
  if (length <= kReadingDays + kClockChange) return ChartStep::kReadings;
  return length <= kHourDays + kClockChange ? ChartStep::kHours : ChartStep::kDays;
}

std::vector<ChartCurve> chart_curves(const Context& context,
                                     const ChartQuestion& question,
                                     TemperatureUnit unit) {
  const Voices voices = voices_of(context, question);
  const Scale shown(question.channel, unit);
  switch (chart_step(question.span)) {
    case ChartStep::kReadings:
      return curves_of_readings(context, question, voices, shown);
    case ChartStep::kHours:
      return curves_of_hours(context, question, voices, shown);
    case ChartStep::kDays:
      return curves_of_days(context, question, voices, shown);
  }
  std::abort();
}

}  // namespace rimeward
