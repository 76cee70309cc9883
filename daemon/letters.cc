#include "daemon/letters.h"

#include <algorithm>
#include <array>
#include <utility>

#include "daemon/letter_sources.h"
#include "daemon/morning_letter.h"
#include "daemon/store/marks.h"
#include "daemon/sunday_letter.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::days;
using std::chrono::sys_days;
using std::chrono::year_month_day;

constexpr std::array kKinds{kMorningLetter, kSundayLetter};
// A summary of the night is of no use after noon; one that is asked for late is good for
// a while all the same.
constexpr auto kNoon = 12h;
constexpr auto kLateMorning = 3h;

std::string mark_of(std::string_view kind) {
  return kMarkLetter + std::string(kind);
}

std::int64_t seconds_of(Instant at) {
  return at.time_since_epoch().count();
}

}  // namespace

Letters::Letters(const Garden& garden, const Zone& zone, const Wording& wording,
                 const Store& store)
    : garden_(garden), zone_(zone), wording_(wording) {
  for (const std::string_view kind : kKinds) {
    if (const auto mark = store.mark(mark_of(kind))) {
      past_[kind] = Instant{std::chrono::seconds{*mark}};
    }
  }
}

// Nothing on a date without that letter.
std::optional<Letters::Due> Letters::on(std::string_view kind,
                                        year_month_day date) const {
  if (kind == kMorningLetter) {
    const auto& hour = garden_.hours.morning_summary;
    if (!hour) return std::nullopt;
    const Instant at = zone_.at(date, *hour);
    return Due{kind, at, std::max(zone_.at(date, kNoon), at + kLateMorning)};
  }
  const auto& hour = garden_.hours.sunday_letter;
  if (!hour || std::chrono::weekday(sys_days{date}) != std::chrono::Sunday) {
    return std::nullopt;
  }
  return Due{kind, zone_.at(date, *hour), zone_.at(date, 24h)};
}

// The newest letter of that kind that was due by `at` and is of use still. One of the day
// before may be: a summary that is asked for late in the evening.
std::optional<Letters::Due> Letters::newest(std::string_view kind, Instant at) const {
  const sys_days today{zone_.local_date(at)};
  for (const sys_days date : {today, today - days{1}}) {
    const auto due = on(kind, date);
    if (due && due->at <= at && at < due->ends_at) return due;
  }
  return std::nullopt;
}

void Letters::look(Instant at, Changes& changes) {
  for (const std::string_view kind : kKinds) {
    const bool is_asked_for = kind == kMorningLetter
                                  ? garden_.hours.morning_summary.has_value()
                                  : garden_.hours.sunday_letter.has_value();
    if (!is_asked_for) continue;
    if (!past_.contains(kind)) {
      past_[kind] = at - 1s;
      changes.marks[mark_of(kind)] = seconds_of(past_[kind]);
    }
    const auto due = newest(kind, at);
    if (!due || due->at <= past_[kind]) continue;
    past_[kind] = due->at;
    due_.push_back(*due);
  }
}

std::vector<WrittenLetter> Letters::write(const Store& store, Instant now,
                                          Changes& changes) {
  std::vector<WrittenLetter> written;
  for (const Due& due : std::exchange(due_, {})) {
    changes.marks[mark_of(due.kind)] = seconds_of(due.at);
    if (now >= due.ends_at) continue;
    const LetterSources from{store, garden_, zone_, wording_, due.at};
    LetterText text =
        due.kind == kMorningLetter ? morning_letter(from) : sunday_letter(from);
    written.push_back({.kind = std::string(due.kind),
                       .title = std::move(text.title),
                       .body = std::move(text.body),
                       .at = due.at,
                       .ends_at = due.ends_at});
  }
  return written;
}

WeekChart week_chart(const Store& store, const Garden& garden, const Zone& zone,
                     const Wording& wording, Instant at) {
  return chart_of_week({store, garden, zone, wording, at});
}

}  // namespace rimeward
