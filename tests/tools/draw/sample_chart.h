// Charts of the Hochfeld school garden, for tests of what writes and draws them.

#pragma once

#include <chrono>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "tools/draw/chart.h"

namespace rimeward {

// Midnight of Friday 10 April 2026 in Berlin, which is at UTC+2.
inline constexpr Instant kFridayMidnight =
    Instant{std::chrono::sys_days{std::chrono::year{2026} / 4 / 9}} +
    std::chrono::hours{22};

// Two days from 18:00 on, a tick each six hours and two nights.
inline Chart two_days() {
  using std::chrono::hours;
  using std::chrono::minutes;
  Chart chart{
      .title = "Hochfeld school garden: air, Fri 10 Apr 18:00 to Sun 12 Apr 18:00",
      .unit = "°C",
      .span = {kFridayMidnight + hours{18}, kFridayMidnight + hours{66}}};
  for (int hour = 18; hour <= 66; hour += 6) {
    const std::string label = hour == 24   ? "Sat 11 Apr"
                              : hour == 48 ? "Sun 12 Apr"
                                           : std::to_string(hour % 24);
    chart.ticks.push_back({kFridayMidnight + hours{hour}, label, hour % 24 == 0});
  }
  for (const int evening : {20, 44}) {
    chart.nights.push_back({kFridayMidnight + hours{evening},
                            kFridayMidnight + hours{evening + 10} + minutes{38}});
  }
  return chart;
}

// A smooth day and night about `mean`, coldest at five in the morning.
inline double invented_air(Instant at, double mean, double swing) {
  const auto hours =
      std::chrono::duration<double, std::ratio<3600>>(at - kFridayMidnight);
  return mean - swing * std::cos((hours.count() - 5) * 6.283185307179586 / 24);
}

inline Chart::Line invented_line(std::string place, const Chart::Span& span,
                                 std::chrono::minutes step, double mean, double swing,
                                 double spread) {
  Chart::Line line{.place = std::move(place), .pieces = {{}}};
  for (Instant at = span.from; at < span.to; at += step) {
    const double middle = invented_air(at, mean, swing);
    line.pieces[0].push_back({at, middle - spread / 2, middle + spread / 2});
  }
  return line;
}

}  // namespace rimeward
