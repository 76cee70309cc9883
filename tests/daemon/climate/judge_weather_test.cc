// Real weather through judges: what is sound stays believed, and faults planted in copies
// of it are found, each for its own reason.

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <optional>
#include <random>
#include <set>
#include <vector>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "tests/daemon/climate/judge_watch.h"
#include "tests/support/shared_folder.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

using Readings = std::map<Instant, Milli>;

constexpr std::array kFiles{"nyc_jfk",    "nyc_ewr",    "seoul",       "ie_oak_park",
                            "ie_dunsany", "ie_markree", "ie_casement", "bj_huairou",
                            "belgium_t6", "tunnel_it1"};

struct Column {
  Channel channel;
  int number;  // in the files
};
constexpr std::array kColumns{Column{Channel::kAirTemperature, 1},
                              Column{Channel::kHumidity, 2},
                              Column{Channel::kPressure, 3}};

// Nothing, and a word about it, where the records are not there.
std::optional<std::filesystem::path> weather_folder() {
  const auto shared = shared_folder();
  if (!shared) MESSAGE("no shared folder: real weather is not tried");
  return shared ? std::optional(*shared / "data") : std::nullopt;
}

// The column of every line that has it.
Readings readings_of(const std::filesystem::path& folder, const std::string& file,
                     int column) {
  std::ifstream stream(folder / (file + ".csv"));
  std::string line;
  REQUIRE(std::getline(stream, line));
  Readings readings;
  while (std::getline(stream, line)) {
    if (!line.empty() && line.back() == '\r') line.pop_back();
    std::vector<std::string> fields(1);
    for (const char one : line) {
      if (one == ',') {
        fields.emplace_back();
      } else {
        fields.back() += one;
      }
    }
    const auto number = static_cast<std::size_t>(column);
    if (number >= fields.size() || fields[number].empty()) continue;
    readings[parse_instant(fields[0]).value()] = to_milli(std::stod(fields[number]));
  }
  return readings;
}

Readings between(const Readings& all, Instant from, Instant to) {
  return {all.lower_bound(from), all.lower_bound(to)};
}

// By the minute: straight between the readings, in steps of a hundredth, with a sensor's
// own noise of at most 0.04.
Readings by_the_minute(const Readings& coarse, unsigned seed) {
  std::mt19937 random(seed);
  Readings fine;
  for (auto after = std::next(coarse.begin()); after != coarse.end(); ++after) {
    const auto before = std::prev(after);
    const auto span = after->first - before->first;
    for (auto part = 0s; part < span; part += 60s) {
      const Milli value = before->second + (after->second - before->second) * part / span;
      const auto noise = static_cast<Milli>(random() % 5) * 20 - 40;
      fine[before->first + part] = (value + noise) / 10 * 10;
    }
  }
  return fine;
}

// The same place seen by another sensor: off by a little, with noise of its own.
Readings neighbour_of(const Readings& place, unsigned seed) {
  std::mt19937 random(seed);
  Readings other;
  for (const auto& [time, value] : place)
    other[time] = value + 700 + static_cast<Milli>(random() % 5) * 50 - 100;
  return other;
}

struct Said {
  Instant time;
  Milli value = 0;
};

std::vector<Said> in_order(const Readings& readings) {
  std::vector<Said> stream;
  for (const auto& [time, value] : readings)
    stream.push_back({time, value});
  return stream;
}

// Each three hours' readings in disorder.
std::vector<Said> shuffled(const Readings& readings, unsigned seed) {
  std::vector<Said> stream = in_order(readings);
  std::mt19937 random(seed);
  for (auto first = stream.begin(); first != stream.end();) {
    const Instant end = first->time + 3h;
    const auto last = std::find_if(first, stream.end(),
                                   [end](const Said& one) { return one.time >= end; });
    std::shuffle(first, last, random);
    first = last;
  }
  return stream;
}

struct Planted {
  Readings said;
  Readings sound;  // what the faults left of it
  std::set<Instant> faults;
};

// Spikes of `smallest` to `largest`, one in every `gap` readings or so.
struct Spikes {
  std::size_t gap;
  Milli smallest;
  Milli largest;
};
Planted with_spikes(const Readings& sound, const Spikes& spikes, unsigned seed) {
  std::mt19937 random(seed);
  const auto within = [&random](auto below) {
    return static_cast<decltype(below)>(random() % static_cast<std::uint32_t>(below));
  };
  Planted planted{sound, sound, {}};
  std::size_t wait = spikes.gap;
  for (auto& [time, value] : planted.said) {
    if (--wait > 0) continue;
    wait = spikes.gap / 2 + within(spikes.gap);
    const Milli size = spikes.smallest + within(spikes.largest - spikes.smallest + 1);
    value += within(2) == 0 ? size : -size;
    planted.sound.erase(time);
    planted.faults.insert(time);
  }
  return planted;
}

// Hours in which the place said what it had said at their beginning, where the other
// place moved by so much that it can be told.
Planted with_stuck_hours(const Readings& sound, const Readings& other) {
  constexpr Milli kClearlyMoved = 2'300;
  Planted planted{sound, sound, {}};
  Instant earliest = sound.begin()->first + 24h;
  for (auto one = std::next(sound.begin()); one != sound.end(); ++one) {
    const auto& [from, value] = *one;
    const auto before = std::prev(one);
    const auto after = sound.find(from + 61min);
    const bool differs_around =
        before->second != value && after != sound.end() && after->second != value;
    if (from < earliest || !differs_around || !other.contains(from + 59min)) continue;
    if (std::abs(other.at(from + 59min) - other.at(from)) < kClearlyMoved) continue;
    for (Instant time = from + 1min; time <= from + 60min; time += 1min) {
      planted.said[time] = value;
      planted.sound.erase(time);
      planted.faults.insert(time);
    }
    earliest = from + 6h;
  }
  return planted;
}

void run_alone(Watched& place, const std::vector<Said>& stream) {
  for (const Said& said : stream)
    place.take(said.time, said.value, {});
}

// Each reading of the place is followed by the other place's of the same time.
void run_both(Watched& place, const std::vector<Said>& stream, Watched& elsewhere,
              const Readings& other) {
  const std::array<const Judge*, 1> of_place{place.judge()};
  const std::array<const Judge*, 1> of_other{elsewhere.judge()};
  for (const Said& said : stream) {
    place.take(said.time, said.value, of_other);
    const auto there = other.find(said.time);
    if (there != other.end()) elsewhere.take(there->first, there->second, of_place);
  }
}

// The four weeks of a record in which most happens by day and night: spring.
Readings spring_by_the_minute(const std::filesystem::path& folder, const char* file,
                              int column, unsigned seed) {
  const Readings all = readings_of(folder, file, column);
  constexpr std::chrono::year_month kApril{std::chrono::year{2017}, std::chrono::April};
  const Instant from = std::chrono::sys_days{kApril / 1};
  return by_the_minute(between(all, from, from + 24h * 28), seed);
}

}  // namespace

TEST_CASE("of sound weather everything is believed in the end") {
  const auto folder = weather_folder();
  if (!folder) return;
  // Faults of the records themselves: an hour 24 K too cold; an hour of a missing
  // humidity that is written as 0, and one between two such hours, which support each
  // other; an hour of 17 hPa too many.
  const std::set<std::string> faults{
      "nyc_jfk temperature 2013-05-09T02:00:00Z", "seoul humidity 2018-05-18T22:00:00Z",
      "seoul humidity 2018-05-26T21:00:00Z", "bj_huairou pressure 2014-12-24T16:00:00Z"};
  std::set<std::string> doubted;
  std::size_t count = 0;
  for (const std::string file : kFiles) {
    for (const auto& [channel, column] : kColumns) {
      Watched place(channel);
      run_alone(place, in_order(readings_of(*folder, file, column)));
      count += place.believed.size() + place.doubted.size();
      for (const auto& [time, why] : place.doubted)
        doubted.insert(
            fmt::format("{} {} {}", file, traits(channel).name, format_utc(time)));
    }
  }
  CHECK(count > 300'000);
  CHECK(fmt::format("{}", fmt::join(doubted, "\n")) ==
        fmt::format("{}", fmt::join(faults, "\n")));
}

TEST_CASE("sound weather may come in any order") {
  const auto folder = weather_folder();
  if (!folder) return;
  for (const std::string file : kFiles) {
    CAPTURE(file);
    const Readings sound = readings_of(*folder, file, 1);
    Watched place(Channel::kAirTemperature);
    run_alone(place, shuffled(sound, 3));
    CHECK(place.doubted.size() == (file == "nyc_jfk" ? 1 : 0));
  }
}

TEST_CASE("spikes of 10 to 40 degrees in hourly weather are found, and nothing is lost") {
  const auto folder = weather_folder();
  if (!folder) return;
  std::size_t planted_in_all = 0;
  std::size_t missed = 0;
  for (const std::string file : kFiles) {
    CAPTURE(file);
    // Not hourly; an hour under plastic can go 15 degrees up and back.
    if (file == "belgium_t6" || file == "tunnel_it1") continue;
    const Readings sound = readings_of(*folder, file, 1);
    const Planted planted = with_spikes(sound, {20, 10'000, 40'000}, 5);
    Watched place(Channel::kAirTemperature);
    run_alone(place, in_order(planted.said));
    planted_in_all += planted.faults.size();
    for (const Instant time : planted.faults) {
      if (place.believed.contains(time)) ++missed;
    }
    std::size_t lost = 0;
    for (const auto& [time, value] : planted.sound) {
      if (!place.believed.contains(time)) ++lost;
    }
    // The fault of the record; where a spike of 14 down ends a rise of 5, one reading
    // is taken for the other.
    CHECK(lost == (file == "nyc_jfk" || file == "bj_huairou" ? 1 : 0));
  }
  CHECK(planted_in_all > 4'500);
  // After a gap of two hours, and the one that is mistaken for another.
  CHECK(missed == 2);
}

TEST_CASE("spikes of 8 to 40 degrees by the minute are found, and nothing is lost") {
  const auto folder = weather_folder();
  if (!folder) return;
  const Readings sound = spring_by_the_minute(*folder, "ie_oak_park", 1, 3);
  const Planted planted = with_spikes(sound, {40, 8'000, 40'000}, 5);
  for (const bool in_disorder : {false, true}) {
    CAPTURE(in_disorder);
    Watched place(Channel::kAirTemperature);
    run_alone(place, in_disorder ? shuffled(planted.said, 9) : in_order(planted.said));
    CHECK(planted.faults.size() > 900);
    CHECK(place.count(Doubt::kJump) == planted.faults.size());
    CHECK((place.believed == planted.sound));
  }
}

TEST_CASE("spikes of humidity are found by the minute and by the hour") {
  const auto folder = weather_folder();
  if (!folder) return;
  const Readings hourly = readings_of(*folder, "ie_casement", 2);
  const Planted by_hour = with_spikes(hourly, {20, 60'000, 90'000}, 5);
  Watched hours(Channel::kHumidity);
  run_alone(hours, in_order(by_hour.said));
  CHECK((hours.believed == by_hour.sound));

  const Readings fine = spring_by_the_minute(*folder, "ie_casement", 2, 3);
  const Planted by_minute = with_spikes(fine, {40, 25'000, 90'000}, 5);
  Watched minutes(Channel::kHumidity);
  run_alone(minutes, in_order(by_minute.said));
  CHECK((minutes.believed == by_minute.sound));
}

TEST_CASE("every stuck hour by the minute is found while another place moves") {
  const auto folder = weather_folder();
  if (!folder) return;
  const Readings sound = spring_by_the_minute(*folder, "ie_oak_park", 1, 3);
  const std::array others{neighbour_of(sound, 7),
                          spring_by_the_minute(*folder, "ie_casement", 1, 4)};
  for (const Readings& other : others) {
    const Planted planted = with_stuck_hours(sound, other);
    CHECK(planted.faults.size() >= 5 * 60);
    Watched place(Channel::kAirTemperature);
    Watched elsewhere(Channel::kAirTemperature);
    run_both(place, in_order(planted.said), elsewhere, other);
    CHECK(place.count(Doubt::kStuck) == planted.faults.size());
    CHECK((place.believed == planted.sound));
    CHECK((elsewhere.believed == other));
  }
}

TEST_CASE("a judge killed anywhere in weather full of faults goes on to the letter") {
  const auto folder = weather_folder();
  if (!folder) return;
  const Readings sound = spring_by_the_minute(*folder, "ie_oak_park", 1, 3);
  const Readings other = neighbour_of(sound, 7);
  Readings said = with_stuck_hours(sound, other).said;
  for (const auto& [time, value] : with_spikes(said, {25, 3'000, 40'000}, 6).said)
    said[time] = value;
  struct Garden {
    Watched place{Channel::kAirTemperature};
    Watched elsewhere{Channel::kAirTemperature};
  };
  Garden lives;
  Garden dies;
  std::mt19937 random(11);
  std::size_t differences = 0;
  for (const auto& [time, value] : shuffled(said, 4)) {
    std::array<std::string, 2> told;
    std::size_t i = 0;
    for (Garden* garden : {&lives, &dies}) {
      if (garden == &dies && random() % 40 == 0) {
        garden->place.restore(time - Judge::kMemory);
        garden->elsewhere.restore(time - Judge::kMemory);
      }
      const std::array<const Judge*, 1> of_place{garden->place.judge()};
      const std::array<const Judge*, 1> of_other{garden->elsewhere.judge()};
      told[i] = garden->place.take(time, value, of_other);
      told[i++] += garden->elsewhere.take(time, other.at(time), of_place);
    }
    if (told[0] != told[1]) ++differences;
  }
  CHECK(differences == 0);
  CHECK(lives.place.count(Doubt::kJump) > 500);
  CHECK(lives.place.count(Doubt::kStuck) > 60);
}
