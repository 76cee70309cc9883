// A few invented April days of the Hochfeld garden as the messages that would arrive:
// made by formula, mild at first, with a clear cold night at the end.

#pragma once

#include <cmath>
#include <numbers>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "daemon/base/arrival.h"
#include "tests/support/hochfeld.h"

namespace rimeward::testing {

// Warmest at 14:00 UTC, falling until 05:00; colder by the day.
inline double invented_air(Instant at, const std::string& place) {
  const double hours = std::chrono::duration<double, std::ratio<3600>>(
                           at - testing::at("2026-04-08T00:00:00Z"))
                           .count();
  const double wave = std::cos((std::fmod(hours, 24.0) - 14.0) * std::numbers::pi / 12.0);
  const double level = 9.0 - hours / 24.0 * 1.4;
  return level + 5.0 * wave + (place == "yard" ? -1.5 : 0.0);
}

// From 8 April 2026 on, a message of every sensor each ten minutes. The probe in the yard
// is silent for five hours of the third day.
inline std::vector<Arrival> invented_arrivals(int days) {
  using namespace std::chrono_literals;
  std::vector<Arrival> arrivals;
  const Instant start = at("2026-04-08T00:00:00Z");
  for (Instant now = start; now < start + days * 24h; now += 10min) {
    for (const std::string place : {"north-frame", "yard"}) {
      const bool silent = place == "yard" && now >= start + 58h && now < start + 63h;
      if (silent) continue;
      const double air = invented_air(now, place);
      Arrival arrival;
      arrival.sequence = arrivals.size() + 1;
      arrival.at = now + 7s;
      arrival.topic = "garden/" + place + "/climate";
      arrival.payload =
          fmt::format(R"({{"time":"{}","temperature":{:.2f},"humidity":{:.1f}}})",
                      format_utc(now), air, 75.0 - air);
      arrival.payload_bytes = arrival.payload.size();
      arrivals.push_back(std::move(arrival));
    }
  }
  return arrivals;
}

}  // namespace rimeward::testing
