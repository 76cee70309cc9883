// rimeward-years: makes the store of a garden that has run for years, for measuring. Its
// days are invented by a formula of seasons, days and passing weather: the same store at
// every run.
//
//   rimeward-years FOLDER [--days 1826] [--every SECONDS]
//
// writes FOLDER/garden.toml, a garden of five places with four sensors each, and
// FOLDER/garden.db. The air's readings of every quarter of an hour and the others' of
// every hour go through the daemon's own turns, so that there are outlooks, nights and
// notices; those between are stored as a commit would store them, and days that are over
// are packed as the daemon packs them. Whatever the number of days, they end on the same
// evening in April. Exit status: 0 done, 1 could not, 2 misuse.

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <numbers>
#include <string>
#include <string_view>
#include <vector>

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include "daemon/app.h"
#include "daemon/crops.h"
#include "daemon/settings.h"
#include "daemon/upkeep.h"
#include "sensors/iso_time.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::days;
using std::chrono::seconds;
using std::chrono::sys_days;

// An hour and a half before sunset.
constexpr Instant kEnd = sys_days{std::chrono::year{2026} / 4 / 12} + 16h + 45min;

struct Spot {
  std::string_view id;
  std::string_view name;
  std::string_view kind;
  double keep_above;  // degrees C
  double warmer;      // than the open, by day, in kelvins
};

constexpr std::array kSpots{Spot{"glasshouse", "Glasshouse", "greenhouse", 5, 8},
                            Spot{"north-frame", "North frame", "frame", 1, 5},
                            Spot{"south-frame", "South frame", "frame", -1, 6},
                            Spot{"pea-bed", "Pea bed", "bed", -3, 0.5},
                            Spot{"yard", "Yard", "outdoors", -20, 0}};

struct Kind {
  std::string_view word;  // in the sensor's id and topic
  std::string_view key;   // in its payload
  Channel channel;
  seconds turn_every;  // what goes through the daemon's turns
};

constexpr std::array kKinds{
    Kind{"air", "temperature", Channel::kAirTemperature, 15min},
    Kind{"humidity", "humidity", Channel::kHumidity, 1h},
    Kind{"soil", "soil_temperature", Channel::kSoilTemperature, 1h},
    Kind{"moisture", "soil_moisture", Channel::kSoilMoisture, 1h}};

std::string sensor_id(const Spot& spot, const Kind& kind) {
  return fmt::format("{}-{}", spot.id, kind.word);
}

std::string settings_of(const std::filesystem::path& folder) {
  std::string text = fmt::format(
      "# Made by rimeward-years.\n[garden]\nname = \"Hochfeld school garden\"\n"
      "latitude = 48.41\nlongitude = 9.52\ntime_zone = \"Europe/Berlin\"\n"
      "[broker]\nlisten = [\"garden/#\"]\n"
      "[store]\nfile = \"{0}/garden.db\"\nspool = \"{0}/spool\"\n",
      folder.string());
  for (const Spot& spot : kSpots) {
    text += fmt::format(
        "[[place]]\nid = \"{}\"\nname = \"{}\"\nkind = \"{}\"\nkeep_above = {:.1f}\n",
        spot.id, spot.name, spot.kind, spot.keep_above);
    for (const Kind& kind : kKinds) {
      text += fmt::format(
          "[[sensor]]\nid = \"{}\"\nplace = \"{}\"\ntopic = \"garden/{}/{}\"\n"
          "format = \"json\"\n",
          sensor_id(spot, kind), spot.id, spot.id, kind.word);
    }
  }
  return text;
}

// A wave of that period, between -1 and 1.
double wave(Instant at, std::chrono::duration<double> period, double phase) {
  const std::chrono::duration<double> since = at.time_since_epoch();
  return std::sin(2 * std::numbers::pi * (since / period - phase));
}

// Passing weather: waves of some days whose periods have no common measure.
double weather(Instant at) {
  return 0.5 * wave(at, 149h, 0.1) + 0.3 * wave(at, 233h, 0.7) + 0.2 * wave(at, 71h, 0.4);
}

// In the channel's unit.
double invented(Instant at, const Spot& spot, Channel channel) {
  const double season = wave(at, days{365} + 6h, 0.3);
  const double day = wave(at, 24h, 0.34);
  const double sky = weather(at);
  switch (channel) {
    case Channel::kAirTemperature:
      return 9 + 9 * season + 4 * sky + 5 * day + spot.warmer * std::max(0.0, day);
    case Channel::kHumidity:
      return 72 - 14 * day - 8 * sky;
    case Channel::kSoilTemperature:
      return 10 + 7 * season + 1.5 * sky + spot.warmer / 4;
    default:
      return 35 + 8 * sky - 5 * season;
  }
}

// Fine ripples, so that two readings in a row are seldom the same.
double ripple(Instant at, std::size_t number) {
  return 0.05 * wave(at, 17min, 0.13 * static_cast<double>(number));
}

class Years {
 public:
  Years(const Garden& garden, const Zone& zone, Store& store, seconds every)
      : store_(store),
        every_(every),
        app_(garden, zone, store, {.clock = ClockSource::kReadings}),
        upkeep_(store, garden.store, [](LogLevel, const std::string&) {}) {}

  void add_day(Instant from, Instant to) {
    for (Instant at = from; at < to; at += 15min)
      turn_at(at);
    app_.commit();
    if (series_.empty()) find_series();
    store_.commit(between(from, to));
    upkeep_.step(*app_.now());
  }

  void end() {
    app_.turn(Stop{}, *app_.now());
    app_.commit();
  }

 private:
  void turn_at(Instant at) {
    for (const Spot& spot : kSpots) {
      for (const Kind& kind : kKinds) {
        if (at.time_since_epoch() % kind.turn_every == 0s) turn(at, spot, kind);
      }
    }
  }

  void turn(Instant at, const Spot& spot, const Kind& kind) {
    Arrival arrival;
    arrival.sequence = ++sequence_;
    arrival.at = at;
    arrival.topic = fmt::format("garden/{}/{}", spot.id, kind.word);
    arrival.payload = fmt::format(R"({{"time":"{}","{}":{:.2f}}})", format_utc(at),
                                  kind.key, invented(at, spot, kind.channel));
    arrival.payload_bytes = arrival.payload.size();
    app_.turn(arrival, app_.time_told_by(arrival));
  }

  void find_series() {
    const std::vector<SeriesRow> all = store_.all_series();
    for (const Spot& spot : kSpots) {
      for (const Kind& kind : kKinds) {
        const auto found =
            std::ranges::find(all, sensor_id(spot, kind), &SeriesRow::sensor);
        if (found == all.end()) throw std::logic_error("a sensor was not understood");
        series_.push_back(found->id);
      }
    }
  }

  // All readings of the span that did not go through the turns.
  Changes between(Instant from, Instant to) const {
    Changes changes;
    changes.now = *app_.now();
    for (Instant at = from; at < to; at += every_) {
      std::size_t number = 0;
      for (const Spot& spot : kSpots) {
        for (const Kind& kind : kKinds) {
          const std::size_t one = number++;
          if (at.time_since_epoch() % kind.turn_every == 0s) continue;
          const double value = invented(at, spot, kind.channel) + ripple(at, one);
          changes.readings.push_back({at, series_[one], to_milli(value)});
        }
      }
    }
    return changes;
  }

  Store& store_;
  seconds every_;
  App app_;
  Upkeep upkeep_;
  std::uint64_t sequence_ = 0;
  std::vector<SeriesId> series_;  // by spot, then kind
};

void make(const std::filesystem::path& folder, int day_count, seconds every) {
  std::filesystem::create_directories(folder);
  const auto file = folder / "garden.toml";
  std::ofstream(file) << settings_of(folder);
  SettingsOutcome garden = read_garden(file);
  if (!garden) throw std::runtime_error(garden.error().front());
  (void)add_crops(*garden);
  const Zone zone = Zone::named(garden->time_zone).value();
  if (std::filesystem::exists(garden->store.file)) {
    throw std::runtime_error(garden->store.file + " is there already; remove it");
  }
  Store store = Store::open(garden->store.file, Store::Access::kReadWrite);
  store.set_days(DayGrid(zone, garden->day_starts));
  Years years(*garden, zone, store, every);
  for (Instant at = kEnd - days{day_count}; at < kEnd; at += days{1})
    years.add_day(at, at + days{1});
  years.end();
  fmt::print("{} readings\n", store.reading_count());
}

}  // namespace
}  // namespace rimeward

int main(int argc, char** argv) {
  using namespace rimeward;
  std::filesystem::path folder;
  int day_count = 1826;  // five years
  int every = 60;
  CLI::App arguments{"Makes the store of a garden that has run for years."};
  arguments.add_option("FOLDER", folder, "where to")->required();
  arguments.add_option("--days", day_count, "how many")->check(CLI::Range(1, 36'525));
  arguments.add_option("--every", every, "seconds between two readings of a sensor")
      ->check(CLI::Range(1, 900));
  try {
    arguments.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return arguments.exit(error) == 0 ? EXIT_SUCCESS : 2;
  }
  try {
    make(std::filesystem::absolute(folder), day_count, seconds{every});
    return EXIT_SUCCESS;
  } catch (const std::exception& error) {
    fmt::print(stderr, "rimeward-years: {}\n", error.what());
    return EXIT_FAILURE;
  }
}
