// bench-pieces: what the daemon's pieces cost, each beside a yardstick: the least that
// anything which does as much must do. Twenty sensors, a reading a minute. Google
// Benchmark's options apply; tools/bench/pieces prints the ratios.

#include <array>
#include <chrono>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <filesystem>
#include <stdexcept>
#include <string>
#include <vector>

#include <benchmark/benchmark.h>
#include <fmt/format.h>
#include <nlohmann/json.hpp>
#include <sqlite3.h>
#include <zlib.h>

#include "daemon/app.h"
#include "daemon/climate/outlook.h"
#include "daemon/climate/prior.h"
#include "daemon/store/packed_day.h"
#include "daemon/store/store.h"
#include "sensors/decoders.h"
#include "sensors/iso_time.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using benchmark::DoNotOptimize;
using benchmark::State;

constexpr Instant kBegin = std::chrono::sys_days{std::chrono::year{2026} / 4 / 1};
constexpr int kSensors = 20;
constexpr int kMinutesADay = 1440;
constexpr Position kHochfeld{.latitude = 48.41, .longitude = 9.52};

// A folder of its own on the disk, for as long as it lives.
class Folder {
 public:
  Folder() : path_(std::filesystem::temp_directory_path() / "rimeward-XXXXXX") {
    std::string name = path_.string();
    if (mkdtemp(name.data()) == nullptr) throw std::runtime_error("no folder for it");
    path_ = name;
  }
  ~Folder() { std::filesystem::remove_all(path_); }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

// Hundredths, as a cheap sensor has them: a day's wave with some noise, by the minimal
// standard generator (Park and Miller, Comm. ACM 31, 1988, 1192-1201).
Milli value_at(int minute, int sensor) {
  const double day = std::sin(minute * 6.2832 / kMinutesADay + sensor);
  const auto mixed = static_cast<std::uint64_t>(minute * kSensors + sensor + 1) * 48'271 %
                     2'147'483'647 * 48'271 % 2'147'483'647;
  const int noise = static_cast<int>(mixed % 7) - 3;
  return std::llround(1000 + 600 * day + noise) * 10;
}

// A quarter of the sensors are of the air, with two channels; the others have one.
std::string payload_at(int minute, int sensor) {
  constexpr std::array kKeys{"temperature", "soil_temperature", "soil_moisture", "light"};
  std::string text =
      fmt::format(R"({{"time":"{}","{}":{:.2f})", format_utc(kBegin + minute * 1min),
                  kKeys.at(static_cast<std::size_t>(sensor % 4)),
                  from_milli(value_at(minute, sensor)));
  if (sensor % 4 == 0) text += R"(,"humidity":71.5)";
  return text + "}";
}

Garden garden_of_twenty() {
  Garden garden;
  garden.position = kHochfeld;
  garden.time_zone = "Europe/Berlin";
  for (int i = 0; i < kSensors; ++i) {
    if (i % 4 == 0) {
      Place place;
      place.id = place.name = fmt::format("place-{}", i / 4);
      place.keep_above = Celsius{1.0};
      garden.places.push_back(place);
    }
    Sensor sensor;
    sensor.id = fmt::format("probe-{}", i);
    sensor.place = garden.places.back().id;
    sensor.topic = "garden/" + sensor.id;
    sensor.format = "json";
    garden.sensors.push_back(sensor);
  }
  return garden;
}

// --- a payload

void decode_payload(State& state) {
  const std::string text = payload_at(700, 3);
  const PayloadSpec spec;
  const Facts facts;
  for (auto _ : state)
    DoNotOptimize(decode_json({text}, spec, facts));
}
BENCHMARK(decode_payload);

void decode_payload_yardstick(State& state) {  // parsed, and nothing looked up
  const std::string text = payload_at(700, 3);
  for (auto _ : state)
    DoNotOptimize(nlohmann::json::parse(text));
}
BENCHMARK(decode_payload_yardstick);

// --- a turn: decoded, dated, judged, believed, and all that falls due by time

std::vector<Arrival> arrivals_of(const Garden& garden, int minutes) {
  std::vector<Arrival> all;
  for (int minute = 0; minute < minutes; ++minute) {
    for (int sensor = 0; sensor < kSensors; ++sensor) {
      Arrival& arrival = all.emplace_back();
      arrival.sequence = all.size();
      arrival.at = kBegin + minute * 1min;
      arrival.topic = garden.sensors[static_cast<std::size_t>(sensor)].topic;
      arrival.payload = payload_at(minute, sensor);
      arrival.payload_bytes = arrival.payload.size();
    }
  }
  return all;
}

void turn_of_arrival(State& state) {
  const Garden garden = garden_of_twenty();
  const Zone zone = Zone::named(garden.time_zone).value();
  const std::vector<Arrival> arrivals = arrivals_of(garden, 3 * kMinutesADay);
  Store store = Store::in_memory();
  App app(garden, zone, store, {.clock = ClockSource::kReadings});
  std::size_t next = 0;
  for (auto _ : state) {
    const Arrival& arrival = arrivals.at(next++);
    app.turn(arrival, app.time_told_by(arrival));
    if (!app.wants_commit()) continue;
    state.PauseTiming();
    app.commit();
    state.ResumeTiming();
  }
}
BENCHMARK(turn_of_arrival)->Iterations(3 * kMinutesADay * kSensors);

void turn_of_arrival_yardstick(State& state) {  // decoded alone
  decode_payload(state);
}
BENCHMARK(turn_of_arrival_yardstick);

// --- commits, to a file on the disk

Changes minutes_of(int from, int to) {
  Changes changes;
  for (int minute = from; minute < to; ++minute) {
    for (int sensor = 0; sensor < kSensors; ++sensor) {
      changes.readings.push_back(
          {kBegin + minute * 1min, sensor + 1, value_at(minute, sensor)});
    }
  }
  changes.now = kBegin + to * 1min;
  return changes;
}

// A store in which twenty series are known.
class DiskStore {
 public:
  DiskStore() {
    store_.set_days(DayGrid(zone_, 9h));
    Changes changes;
    changes.now = kBegin;
    for (int i = 0; i < kSensors; ++i) {
      changes.series.push_back({.id = i + 1,
                                .sensor = fmt::format("probe-{}", i),
                                .place = fmt::format("place-{}", i / 4),
                                .channel = Channel::kAirTemperature});
    }
    store_.commit(changes);
  }
  Store& operator*() { return store_; }

 private:
  Folder folder_;
  Zone zone_ = Zone::named("Europe/Berlin").value();
  Store store_ = Store::open(folder_.path() / "garden.db", Store::Access::kReadWrite);
};

// The same rows put into the same kind of table, with the same promise: a log ahead, and
// on the disk at each commit.
class BareTable {
 public:
  BareTable() {
    if (sqlite3_open((folder_.path() / "bare.db").c_str(), &database_) != SQLITE_OK) {
      throw std::runtime_error("cannot open the bare table");
    }
    run("PRAGMA journal_mode = WAL");
    run("PRAGMA synchronous = FULL");
    run("CREATE TABLE recent (time INTEGER, series INTEGER, value_milli INTEGER, "
        "PRIMARY KEY (time, series)) WITHOUT ROWID");
    sqlite3_prepare_v2(database_, "INSERT INTO recent VALUES (?, ?, ?)", -1, &insert_,
                       nullptr);
  }
  ~BareTable() {
    sqlite3_finalize(insert_);
    sqlite3_close(database_);
  }
  BareTable(const BareTable&) = delete;
  BareTable& operator=(const BareTable&) = delete;

  void put(const std::vector<ReadingRow>& rows) {
    run("BEGIN");
    for (const ReadingRow& row : rows) {
      sqlite3_bind_int64(insert_, 1, row.time.time_since_epoch().count());
      sqlite3_bind_int64(insert_, 2, row.series);
      sqlite3_bind_int64(insert_, 3, row.value);
      if (sqlite3_step(insert_) != SQLITE_DONE) throw std::runtime_error("not inserted");
      sqlite3_reset(insert_);
    }
    run("COMMIT");
  }

 private:
  void run(const char* sql) {
    if (sqlite3_exec(database_, sql, nullptr, nullptr, nullptr) != SQLITE_OK) {
      throw std::runtime_error(sqlite3_errmsg(database_));
    }
  }

  Folder folder_;
  sqlite3* database_ = nullptr;
  sqlite3_stmt* insert_ = nullptr;
};

void commit_of_minute(State& state) {
  DiskStore store;
  int minute = 0;
  for (auto _ : state) {
    state.PauseTiming();
    const Changes changes = minutes_of(minute, minute + 1);
    ++minute;
    state.ResumeTiming();
    (*store).commit(changes);
  }
}
BENCHMARK(commit_of_minute);

void commit_of_minute_yardstick(State& state) {  // the rows alone
  BareTable table;
  int minute = 0;
  for (auto _ : state) {
    state.PauseTiming();
    const Changes changes = minutes_of(minute, minute + 1);
    ++minute;
    state.ResumeTiming();
    table.put(changes.readings);
  }
}
BENCHMARK(commit_of_minute_yardstick);

// --- a day, an hour at a time, with its hourly and daily summaries

void day_with_summaries(State& state) {
  DiskStore store;
  int minute = 0;
  for (auto _ : state) {
    for (int hour = 0; hour < 24; ++hour, minute += 60)
      (*store).commit(minutes_of(minute, minute + 60));
  }
}
BENCHMARK(day_with_summaries)->Unit(benchmark::kMillisecond);

void day_with_summaries_yardstick(State& state) {  // the rows alone
  BareTable table;
  int minute = 0;
  for (auto _ : state) {
    for (int hour = 0; hour < 24; ++hour, minute += 60)
      table.put(minutes_of(minute, minute + 60).readings);
  }
}
BENCHMARK(day_with_summaries_yardstick)->Unit(benchmark::kMillisecond);

// --- a day of a series as bytes

std::vector<DayReading> day_of_series() {
  std::vector<DayReading> day;
  for (int minute = 0; minute < kMinutesADay; ++minute)
    day.push_back({minute * 60 + 14, value_at(minute, 3)});
  return day;
}

std::vector<Bytef> compressed(const std::vector<DayReading>& day) {
  const uLong size = day.size() * sizeof(DayReading);
  std::vector<Bytef> bytes(compressBound(size));
  uLongf used = bytes.size();
  // NOLINTNEXTLINE(cppcoreguidelines-pro-type-reinterpret-cast)
  const auto* from = reinterpret_cast<const Bytef*>(day.data());
  if (compress(bytes.data(), &used, from, size) != Z_OK) std::abort();
  bytes.resize(used);
  return bytes;
}

void pack_day(State& state) {
  const auto day = day_of_series();
  for (auto _ : state)
    DoNotOptimize(packed(day));
  state.counters["bytes_a_value"] =
      static_cast<double>(packed(day).size()) / static_cast<double>(day.size());
}
BENCHMARK(pack_day);

void pack_day_yardstick(State& state) {  // the same readings by zlib as they are
  const auto day = day_of_series();
  for (auto _ : state)
    DoNotOptimize(compressed(day));
  state.counters["bytes_a_value"] =
      static_cast<double>(compressed(day).size()) / static_cast<double>(day.size());
}
BENCHMARK(pack_day_yardstick);

void unpack_day(State& state) {
  const std::string bytes = packed(day_of_series());
  for (auto _ : state)
    DoNotOptimize(unpacked(bytes));
}
BENCHMARK(unpack_day);

void unpack_day_yardstick(State& state) {
  auto day = day_of_series();
  const auto bytes = compressed(day);
  for (auto _ : state) {
    uLongf size = day.size() * sizeof(DayReading);
    // NOLINTNEXTLINE(cppcoreguidelines-pro-type-reinterpret-cast)
    auto* into = reinterpret_cast<Bytef*>(day.data());
    DoNotOptimize(uncompress(into, &size, bytes.data(), bytes.size()));
  }
}
BENCHMARK(unpack_day_yardstick);

// --- a night's outlook, from two days of a reading a minute

Recents two_days() {
  Recents recents;
  for (int minute = 0; minute < 2 * kMinutesADay + 720; ++minute) {
    const Instant at = kBegin + minute * 1min;
    recents.air.insert(at, from_milli(value_at(minute, 0)));
    recents.humidity.insert(at, 70.0);
  }
  return recents;
}

void outlook_of_night(State& state) {
  const Recents recents = two_days();
  NightOutlook engine(kHochfeld, open_air_prior());
  engine.start(kBegin);
  // The second evening: the night before is known then.
  while (engine.next_due() && *engine.next_due() < SunTime{kBegin} + 42h)
    (void)engine.run_next(recents);
  for (auto _ : state) {
    NightOutlook one = engine;
    DoNotOptimize(one.run_next(recents));
  }
}
BENCHMARK(outlook_of_night);

void outlook_of_night_yardstick(State& state) {  // its readings looked at once
  const Recents recents = two_days();
  for (auto _ : state) {
    double sum = 0;
    for (const TimedValue& one : recents.air.values())
      sum += one.value;
    for (const TimedValue& one : recents.humidity.values())
      sum += one.value;
    DoNotOptimize(sum);
  }
}
BENCHMARK(outlook_of_night_yardstick);

}  // namespace
}  // namespace rimeward

BENCHMARK_MAIN();
