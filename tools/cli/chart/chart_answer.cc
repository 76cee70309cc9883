#include "tools/cli/chart/chart_answer.h"

#include <algorithm>
#include <chrono>

#include <fmt/format.h>

#include "daemon/climate/sun.h"
#include "daemon/notice/notice_kinds.h"
#include "tools/cli/chart/chart_ticks.h"
#include "tools/cli/quantity.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::hours;
using std::chrono::minutes;

constexpr days kNightsShown{16};
// Two solar days do not meet to the second where the sun stays up.
constexpr minutes kMeeting{10};

bool is_midnight(const Zone& zone, Instant at) {
  return zone.minute_of_day(at) == minutes{0};
}

// "Fri 10 Apr 18:40 to Sun 12 Apr 18:40"; whole dates without their times, with the year
// where it is not this one.
std::string span_words(const Context& context, const Chart::Span& span) {
  const Zone& zone = context.zone;
  const auto this_year = zone.local_date(context.now).year();
  const bool dates = is_midnight(zone, span.from) && is_midnight(zone, span.to);
  const auto text = [&](Instant at) {
    const auto date = zone.local_date(at);
    std::string words = day_text(date);
    if (date.year() != this_year) {
      words += fmt::format(" {}", static_cast<int>(date.year()));
    }
    return dates ? words : words + " " + zone.time_text(at);
  };
  const std::string from = text(span.from);
  const std::string to = text(dates ? span.to - hours{1} : span.to);
  return from == to ? from : from + " to " + to;
}

std::string title_of(const Context& context, const ChartQuestion& question) {
  std::string whose = context.garden.name;
  if (question.places.size() == 1) whose += ", " + question.places.front()->name;
  return fmt::format("{}: {}, {}", whose, chart_words(question.channel),
                     span_words(context, question.span));
}

// Cut to the span; nothing where it lies outside.
std::optional<Chart::Span> within(const Chart::Span& whole, Instant from, Instant to) {
  const Chart::Span part{std::max(whole.from, from), std::min(whole.to, to)};
  return part.from < part.to ? std::optional(part) : std::nullopt;
}

std::vector<Chart::Cover> covers_of(const Context& context, const Place& place,
                                    const Chart::Span& span) {
  const std::vector<CoverRow> rows = context.store.covers(place.id, span.from);
  std::vector<Chart::Cover> covers;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    if (rows[i].layers == 0) continue;
    const Instant until = i + 1 < rows.size() ? rows[i + 1].since : span.to;
    const auto part = within(span, rows[i].since, until);
    if (part) covers.push_back({*part, rows[i].layers});
  }
  return covers;
}

Chart::Line line_of(const Context& context, const ChartQuestion& question,
                    std::size_t number, const ChartCurve& curve, TemperatureUnit unit) {
  const Place& place = *question.places[number];
  Chart::Line line{.place = place.name, .pieces = curve.pieces};
  line.covers = covers_of(context, place, question.span);
  if (question.channel == Channel::kAirTemperature && place.keep_above) {
    line.keep_above = shown_value(question.channel, place.keep_above->degrees, unit);
  }
  return line;
}

// Those raised in the span, oldest first. From the newest back, for spans end with now
// far more often than long ago.
std::vector<NoticeRow> notices_of(const Context& context, const ChartQuestion& question) {
  const Chart::Span& span = question.span;
  std::vector<NoticeRow> rows;
  for (std::size_t count = 64;; count *= 4) {
    rows = context.store.latest_notices(count);
    if (rows.size() < count || rows.back().raised_at < span.from) break;
  }
  std::erase_if(rows, [&](const NoticeRow& row) {
    const bool is_here =
        row.place.empty() || std::ranges::find(question.places, row.place, &Place::id) !=
                                 question.places.end();
    return !is_here || is_letter(row.kind) || row.raised_at < span.from ||
           row.raised_at > span.to;
  });
  std::ranges::sort(
      rows, {}, [](const NoticeRow& row) { return std::pair(row.raised_at, row.id); });
  return rows;
}

Chart::Mark mark_of(const Context& context, const NoticeRow& notice) {
  std::string text = fmt::format("{}  {}", notice.id, notice.title);
  if (notice.deadline) {
    text += ", by " + when_text(*notice.deadline, notice.raised_at, context.zone);
  }
  return {notice.raised_at, std::move(text)};
}

// When the sun is up on one solar day; nothing when it is not.
std::optional<Chart::Span> daylight(std::int64_t day, Position position) {
  const SunDay sun = sun_day(day, position, SunHeight::kHorizon);
  if (below_all_day(sun)) return std::nullopt;
  const SunTime rise = sun.rise.value_or(sun.noon - hours{12});
  const SunTime set = sun.set.value_or(sun.noon + hours{12});
  return Chart::Span{whole_second(rise), whole_second(set)};
}

}  // namespace

std::vector<Chart::Span> chart_nights(const Chart::Span& span, Position position) {
  std::vector<Chart::Span> nights;
  const auto put = [&](Instant from, Instant to) {
    if (to - from < kMeeting) return;
    if (const auto part = within(span, from, to)) nights.push_back(*part);
  };
  Instant dark_from = span.from - days{2};
  const std::int64_t last = solar_day(span.to, position) + 1;
  for (std::int64_t day = solar_day(span.from, position) - 1; day <= last; ++day) {
    const auto light = daylight(day, position);
    if (!light) continue;
    put(dark_from, light->from);
    dark_from = light->to;
  }
  put(dark_from, span.to + days{2});
  return nights;
}

bool has_readings(const ChartAnswer& answer) {
  return std::ranges::any_of(
      answer.curves, [](const ChartCurve& curve) { return !curve.pieces.empty(); });
}

ChartAnswer answer_chart(const Context& context, const ChartQuestion& question,
                         TemperatureUnit unit) {
  ChartAnswer answer{.chart = {},
                     .step = chart_step(question.span),
                     .question = question,
                     .curves = chart_curves(context, question, unit),
                     .notices = notices_of(context, question)};
  Chart& chart = answer.chart;
  chart.title = title_of(context, question);
  chart.unit = unit_of(question.channel, unit);
  chart.span = question.span;
  chart.ticks = chart_ticks(question.span, context.zone);
  if (question.span.to - question.span.from <= kNightsShown + hours{2}) {
    chart.nights = chart_nights(question.span, context.garden.position);
  }
  for (std::size_t i = 0; i < question.places.size(); ++i) {
    chart.lines.push_back(line_of(context, question, i, answer.curves[i], unit));
  }
  for (const NoticeRow& notice : answer.notices)
    chart.marks.push_back(mark_of(context, notice));
  return answer;
}

}  // namespace rimeward
