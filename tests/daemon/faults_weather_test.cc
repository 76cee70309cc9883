// Real weather with every kind of fault planted in a copy, through the whole App: what is
// left is what the sound readings alone would have left, and every fault is counted.

#include <algorithm>
#include <map>
#include <random>
#include <set>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "daemon/app.h"
#include "tests/support/hochfeld.h"
#include "tests/support/shared_folder.h"
#include "tools/recorded.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

constexpr int kDays = 16;
const Instant kFrom = at("2017-04-10T00:00:00Z");

// Hourly weather by the minute: straight between the hours, with a sensor's own noise.
class Weather {
 public:
  Weather(const std::filesystem::path& file, unsigned seed) : random_(seed) {
    auto recorded = RecordedFile::open(file);
    REQUIRE(recorded);
    while (true) {
      const auto reading = recorded->next();
      REQUIRE(reading);
      if (!*reading) break;
      if ((*reading)->time < kFrom - 1h) continue;
      if ((*reading)->time > kFrom + kDays * 24h + 1h) break;
      hours_[(*reading)->time] = {std::stod((*reading)->temperature),
                                  std::stod((*reading)->humidity)};
    }
  }

  std::pair<double, double> at(Instant time) {
    const auto after = hours_.lower_bound(time);
    REQUIRE(after != hours_.begin());
    REQUIRE(after != hours_.end());
    const auto before = std::prev(after);
    const double part = std::chrono::duration<double>(time - before->first) /
                        std::chrono::duration<double>(after->first - before->first);
    const auto between = [part](double a, double b) { return a + part * (b - a); };
    const double noise = static_cast<double>(random_() % 5) / 50.0 - 0.04;
    return {between(before->second.first, after->second.first) + noise,
            between(before->second.second, after->second.second)};
  }

 private:
  std::mt19937 random_;
  std::map<Instant, std::pair<double, double>> hours_;
};

// A message of one place at one minute; told: the time that it tells of itself.
struct Said {
  std::size_t place;
  Instant measured;
  Instant arrives;
  Instant told;
  double air;
  double humidity;
  bool air_is_lost = false;  // to a fault
  bool is_lost = false;
};

const char* const kPlaces[] = {"north-frame", "yard"};

std::vector<Said> sound_stream(const std::filesystem::path& folder) {
  Weather weathers[] = {Weather(folder / "ie_oak_park.csv", 1),
                        Weather(folder / "ie_casement.csv", 2)};
  std::vector<Said> stream;
  for (Instant time = kFrom; time < kFrom + kDays * 24h; time += 1min) {
    for (std::size_t place = 0; place < 2; ++place) {
      const auto [air, humidity] = weathers[place].at(time);
      stream.push_back({place, time, time + 2s, time, air, humidity});
    }
  }
  return stream;
}

// With the temperature left out, what a reading comes to whose temperature is lost.
Arrival arrival_of(const Said& said, bool with_air = true) {
  const std::string air =
      with_air ? fmt::format(R"("temperature":{:.2f},)", said.air) : "";
  Arrival arrival;
  arrival.at = said.arrives;
  arrival.topic = fmt::format("garden/{}/climate", kPlaces[said.place]);
  arrival.payload = fmt::format(R"({{"time":"{}",{}"humidity":{:.1f}}})",
                                format_utc(said.told), air, said.humidity);
  arrival.payload_bytes = arrival.payload.size();
  return arrival;
}

// What was planted, by reason: how often it must be counted.
using Planted = std::map<Doubt, std::int64_t>;

// The frame's message at a minute since kFrom.
Said& frame_at(std::vector<Said>& stream, int minute) {
  return stream.at(static_cast<std::size_t>(minute) * 2);
}

constexpr int day(int number, int hour) {
  return (number * 24 + hour) * 60;
}

// Values in the place of true ones, an hour or two apart through three days.
void plant_values(std::vector<Said>& stream, Planted& planted) {
  for (int i = 0; i < 60; ++i) {
    Said& said = frame_at(stream, day(1, 0) + i * 71);
    said.air_is_lost = true;
    if (i % 3 == 0) {
      said.air += i % 2 == 0 ? 10.0 + i / 2.0 : -10.0 - i / 2.0;
      ++planted[Doubt::kJump];
    } else {
      said.air = i % 3 == 1 ? 85.0 : -127.0;
      ++planted[i % 3 == 1 ? Doubt::kPowerOn : Doubt::kNotConnected];
    }
  }
}

// In the hour of three days in which the yard moves most, the frame's probe stands still.
void plant_stuck_hour(std::vector<Said>& stream, Planted& planted) {
  const auto yard_at = [&](int minute) { return (&frame_at(stream, minute))[1].air; };
  int best = 0;
  double most = 0;
  for (int minute = day(5, 0); minute < day(8, 0); minute += 60) {
    const double moved = std::abs(yard_at(minute) - yard_at(minute + 60));
    if (moved <= most) continue;
    most = moved;
    best = minute;
  }
  REQUIRE(most > 2.2);
  const double stuck = frame_at(stream, best).air;
  for (int minute = best + 1; minute <= best + 60; ++minute) {
    frame_at(stream, minute).air = stuck;
    frame_at(stream, minute).air_is_lost = true;
    ++planted[Doubt::kStuck];
  }
}

void plant_silent_night(std::vector<Said>& stream) {
  const Instant from = frame_at(stream, day(9, 18)).measured;
  std::erase_if(stream, [from](const Said& said) {
    return said.place == 0 && said.measured >= from && said.measured < from + 12h;
  });
}

// The frame's clock goes two hours ahead for twenty minutes of a late morning. From the
// fourth message on it is known to be wrong, and what comes is dated as it arrives.
void plant_clock_step(std::vector<Said>& stream, Planted& planted) {
  for (int i = 0; i < 20; ++i) {
    Said& said = frame_at(stream, day(4, 10) + i);
    said.told = said.measured + 2h;
    said.is_lost = i < 3;
    // Of the first both channels are doubted, of the others the message is counted.
    planted[Doubt::kFuture] += i < 3 ? 2 : 1;
  }
}

// Some come again, and an hour's come in disorder.
std::vector<Said> disordered(std::vector<Said> stream, Planted& planted) {
  const Instant from = kFrom + 12 * 24h + 9h;
  const auto in_hour = [&](const Said& said) {
    return said.place == 1 && said.measured >= from && said.measured < from + 1h;
  };
  std::vector<Said> all;
  for (std::size_t i = 0; i < stream.size(); ++i) {
    all.push_back(stream[i]);
    const bool repeats = stream[i].place == 1 && i % 511 == 1 && !in_hour(stream[i]);
    if (!repeats) continue;
    Said again = stream[i];
    again.arrives += 20s;
    all.push_back(again);
    planted[Doubt::kRepeat] += 2;  // temperature and humidity
  }
  std::mt19937 random(17);
  std::vector<Said> hour;
  std::ranges::copy_if(all, std::back_inserter(hour), in_hour);
  std::ranges::shuffle(hour, random);
  auto next = hour.begin();
  for (Said& said : all) {
    if (!in_hour(said)) continue;
    const Instant arrives = from + 1h + std::distance(hour.begin(), next) * 1s;
    said = *next++;
    said.arrives = arrives;
  }
  std::ranges::stable_sort(all, {}, &Said::arrives);
  Instant newest;
  for (const Said& said : all) {
    if (said.place != 1) continue;
    if (said.measured < newest) planted[Doubt::kOutOfOrder] += 2;
    newest = std::max(newest, said.measured);
  }
  return all;
}

// What a run leaves: readings, outlooks, nights and the highs and lows of the days.
std::string outcome(const Store& store) {
  std::string text;
  store.each_reading(Instant{}, Instant::max(), [&](const ReadingRow& row) {
    text += fmt::format("{} {} {}\n", format_utc(row.time), row.series, row.value);
  });
  const auto first = std::chrono::floor<std::chrono::days>(kFrom);
  const auto last = first + std::chrono::days{kDays};
  for (const char* place : kPlaces) {
    for (const OutlookRow& row : store.outlooks(place, first, last)) {
      text += fmt::format("{} {} {} {}\n", place, row.moment, row.low.degrees,
                          row.spread_above);
    }
    for (const NightRow& row : store.nights(place, first, last))
      text += fmt::format("{} {}\n", place, row.low ? row.low->degrees : -99.0);
  }
  for (const DayRow& row : store.days(first, last, DayGrid(berlin(), 9h))) {
    text += fmt::format("{} {} {} {}\n", row.series, row.extremes.low, row.extremes.high,
                        row.extremes.count);
  }
  return text;
}

void run(App& app, const std::vector<Said>& stream, bool as_it_was) {
  int count = 0;
  for (const Said& said : stream) {
    app.turn(arrival_of(said, as_it_was || !said.air_is_lost), said.arrives);
    if (++count % 97 == 0) app.commit();
  }
  app.turn(Stop{}, stream.back().arrives);
  app.commit();
}

}  // namespace

TEST_CASE("planted faults change nothing but what they destroy, and each is counted") {
  const auto shared = shared_folder();
  if (!shared) {
    MESSAGE("no shared folder: real weather is not tried");
    return;
  }
  Planted planted;
  std::vector<Said> stream = sound_stream(*shared / "data");
  plant_values(stream, planted);
  plant_stuck_hour(stream, planted);
  plant_clock_step(stream, planted);
  plant_silent_night(stream);
  stream = disordered(std::move(stream), planted);

  const Garden garden = hochfeld();
  const Zone zone = berlin();
  Store faulty = Store::in_memory();
  App app(garden, zone, faulty, {});
  run(app, stream, true);

  // What survives, said at once, in order and with the clock right.
  std::vector<Said> sound;
  std::set<std::pair<std::size_t, Instant>> seen;
  for (Said said : stream) {
    if (said.is_lost || !seen.insert({said.place, said.measured}).second) continue;
    if (said.told != said.measured) said.told = said.arrives;
    sound.push_back(said);
  }
  std::ranges::stable_sort(sound, {}, &Said::told);
  for (Said& said : sound)
    said.arrives = std::max(said.told, said.measured) + 2s;
  Store clean = Store::in_memory();
  App reference(garden, zone, clean, {});
  run(reference, sound, false);

  std::map<Doubt, std::int64_t> counted;
  for (const TallyRow& row : faulty.tallies())
    counted[row.doubt] += row.count;
  for (const auto& [doubt, number] : planted) {
    CAPTURE(traits(doubt).name);
    CHECK(counted[doubt] == number);
  }
  CHECK(clean.tallies().empty());
  const bool same = outcome(faulty) == outcome(clean);
  CHECK(same);
}
