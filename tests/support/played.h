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

// The same with faults of every kind strewn in: values that cannot be, spikes, hours that
// stand still, repeats, late ones, a sensor's clock that is two hours ahead, messages
// that nobody can read, and topics of nobody.
inline std::vector<Arrival> with_faults(std::vector<Arrival> arrivals) {
  using namespace std::chrono_literals;
  const auto say = [](Arrival& arrival, double air, Instant told) {
    arrival.payload =
        fmt::format(R"({{"time":"{}","temperature":{:.2f}}})", format_utc(told), air);
  };
  std::vector<Arrival> faulty;
  for (std::size_t i = 0; i < arrivals.size(); ++i) {
    Arrival arrival = arrivals[i];
    const Instant measured = arrival.at - 7s;
    const double air = invented_air(measured, "yard");
    if (i % 37 == 5) say(arrival, air + 25, measured);
    if (i % 41 == 6) say(arrival, i % 2 == 0 ? -127 : 85, measured);
    if (i % 200 > 180 && i % 2 == 0) say(arrival, 7.25, measured);
    if (i % 300 > 290) say(arrival, air, measured + 2h);
    if (i % 53 == 7) arrival.payload = "{\"temperature\": \"";
    if (i % 59 == 8) arrival.topic = fmt::format("garden/stray-{}", i % 3);
    faulty.push_back(arrival);
    if (i % 43 == 9) faulty.push_back(arrival);
    if (i % 47 == 10) faulty.push_back(arrivals[i - 4]);
  }
  Instant latest;
  for (std::size_t i = 0; i < faulty.size(); ++i) {
    faulty[i].sequence = i + 1;
    faulty[i].at = latest = std::max(latest, faulty[i].at);
    faulty[i].payload_bytes = faulty[i].payload.size();
  }
  return faulty;
}

}  // namespace rimeward::testing
