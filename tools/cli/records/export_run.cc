#include "tools/cli/records/export_run.h"

#include <algorithm>
#include <chrono>
#include <string>

#include "daemon/store/highs_and_lows.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::sys_days;

constexpr std::size_t kPiece = 64 * 1024;
// Of readings, between two looks at the store: a few thousand of them in a large garden.
constexpr std::chrono::hours kSlice{1};
// Of days.
constexpr days kYear{366};
constexpr sys_days kFirst{std::chrono::year{1900} / 1 / 1};

// Hands on what has gathered, in pieces.
class Pieces {
 public:
  explicit Pieces(ExportSink& sink) : sink_(sink) {}

  std::string& text() { return text_; }
  void hand_on() {
    if (text_.size() >= kPiece) flush();
  }
  void flush() {
    sink_.put(text_);
    text_.clear();
  }

 private:
  ExportSink& sink_;
  std::string text_;
};

void show_progress(const Context& context, std::uint64_t rows, Instant from, Instant at,
                   Instant to) {
  const Conversation* const conversation = context.around.conversation;
  if (conversation == nullptr || !conversation->progress) return;
  const auto seconds = [&](Instant until) {
    return static_cast<std::uint64_t>(
        std::max(until - from, Instant::duration{}).count());
  };
  conversation->progress({.doing = "exporting readings",
                          .done = seconds(at),
                          .total = seconds(std::max(to, from)),
                          .rows = rows});
}

Instant midnight(const Context& context, sys_days date) {
  return context.zone.at(date, std::chrono::minutes{0});
}

// The first date of which anything is known.
std::optional<sys_days> first_date(const Context& context) {
  std::optional<sys_days> first;
  const sys_days today{context.zone.local_date(context.now)};
  const auto noted = context.store.noted_days(kFirst, today);
  if (!noted.empty()) first = noted.front().date;
  if (const auto reading = context.store.next_reading(Instant{kFirst})) {
    const sys_days date{context.zone.local_date(*reading)};
    first = std::min(first.value_or(date), date);
  }
  return first;
}

// What is written of a place's date; nothing where neither is over or known.
std::optional<NotedDayRow> row_of(const Context& context, const Place& place,
                                  sys_days date, const DayAndNight& known) {
  const DayGrid grid(context.zone, context.garden.day_starts);
  NotedDayRow row{.date = date, .place = place.id};
  if (known.low && grid.ends(date - days{1}) <= context.now) {
    row.low = to_milli(known.low->air.degrees);
    row.low_at = known.low->at;
  }
  if (known.high && grid.ends(date) <= context.now) {
    row.high = to_milli(known.high->air.degrees);
    row.high_at = known.high->at;
  }
  if (!row.low && !row.high) return std::nullopt;
  return row;
}

}  // namespace

std::uint64_t export_readings(const Context& context, const ExportAsked& asked,
                              ExportSink& sink) {
  ReadingLines lines(asked.style);
  for (const SeriesRow& series : context.store.all_series()) {
    const bool is_asked = (!asked.place || series.place == *asked.place) &&
                          (!asked.channel || series.channel == *asked.channel);
    if (is_asked) lines.add(series);
  }
  const Instant from = asked.from ? midnight(context, *asked.from) : Instant{kFirst};
  const Instant to =
      asked.to ? midnight(context, *asked.to + days{1}) : context.now + days{1};
  Pieces pieces(sink);
  pieces.text() = lines.heading();
  std::uint64_t rows = 0;
  auto at = context.store.next_reading(from);
  const Instant first = at.value_or(from);
  while (at && *at < to) {
    const Instant until =
        std::min<Instant>(std::chrono::floor<std::chrono::hours>(*at) + kSlice, to);
    context.store.each_reading(*at, until, [&](const ReadingRow& reading) {
      if (!lines.knows(reading.series)) return;
      lines.append(pieces.text(), reading);
      ++rows;
    });
    pieces.hand_on();
    show_progress(context, rows, first, until, std::min(to, context.now));
    at = context.store.next_reading(until);
  }
  pieces.flush();
  sink.finish();
  return rows;
}

std::uint64_t export_days(const Context& context, const ExportAsked& asked,
                          ExportSink& sink) {
  const sys_days today{context.zone.local_date(context.now)};
  const sys_days from = asked.from.value_or(first_date(context).value_or(today));
  const sys_days to = std::min(asked.to.value_or(today), today);
  const DayGrid grid(context.zone, context.garden.day_starts);
  const std::vector<Place>& places = context.garden.places;
  Pieces pieces(sink);
  pieces.text() = day_heading(asked.style);
  std::uint64_t rows = 0;
  for (sys_days begin = from; begin <= to; begin += kYear) {
    const sys_days end = std::min(begin + kYear - days{1}, to);
    const auto known = highs_and_lows(context.store, context.garden, begin, end, grid);
    for (sys_days date = begin; date <= end; date += days{1}) {
      for (std::size_t i = 0; i < places.size(); ++i) {
        if (asked.place && places[i].id != *asked.place) continue;
        const auto found = known[i].find(date);
        if (found == known[i].end()) continue;
        const auto row = row_of(context, places[i], date, found->second);
        if (!row) continue;
        append_day(pieces.text(), *row, asked.style);
        ++rows;
      }
    }
    pieces.hand_on();
  }
  pieces.flush();
  sink.finish();
  return rows;
}

}  // namespace rimeward
