#include "tests/support/sample_store.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/climate/moment.h"
#include "daemon/climate/sun.h"
#include "daemon/crops.h"
#include "daemon/settings.h"
#include "sensors/iso_time.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::days;
using std::chrono::sys_days;

constexpr std::string_view kSettings = R"(
[garden]
name = "Hochfeld school garden"
latitude = 48.41
longitude = 9.52
time_zone = "Europe/Berlin"
[broker]
listen = ["garden/#"]
[[place]]
id = "glasshouse"
name = "Glasshouse"
kind = "greenhouse"
keep_above = 5.0
[[place]]
id = "north-frame"
name = "North frame"
kind = "frame"
keep_above = 1.0
fleece_layers = 2
[[place]]
id = "south-frame"
name = "South frame"
kind = "frame"
keep_above = 1.0
fleece_layers = 2
[[place]]
id = "pea-bed"
name = "Pea bed"
kind = "bed"
[[place]]
id = "yard"
name = "Yard"
kind = "outdoors"
[[sensor]]
id = "glass-probe"
place = "glasshouse"
topic = "garden/glasshouse/climate"
[[sensor]]
id = "north-probe"
place = "north-frame"
topic = "garden/north-frame/climate"
[[sensor]]
id = "south-probe"
place = "south-frame"
topic = "garden/south-frame/climate"
[[sensor]]
id = "pea-probe"
place = "pea-bed"
topic = "garden/pea-bed/climate"
[[sensor]]
id = "yard-probe"
place = "yard"
topic = "garden/yard/climate"
[[sensor]]
id = "bench-probe"
place = "glasshouse"
topic = "garden/glasshouse/bench"
format = "json"
[[sensor]]
id = "bed-probe"
place = "pea-bed"
topic = "garden/pea-bed/bed"
[[sensor]]
id = "soil-probe"
place = "yard"
topic = "garden/yard/soil"
format = "number"
channel = "soil_temperature"
)";

// Invented, so that what tests show does not change with the crop table.
constexpr std::string_view kCrops = R"(
[[crop]]
id = "chilli"
plural = "chillies"
tenderness = "tender"
base = 10.0
keep_above = 10.0
stages = [
  { name = "emergence", heat_sum = 95, base = 10.0 },
  { name = "transplanting", heat_sum = 450, base = 10.0, upper = 30.0 },
]
[[crop]]
id = "lettuce"
tenderness = "half-hardy"
base = 4.0
stages = [{ name = "emergence", heat_sum = 71, base = 3.5 }]
[[crop]]
id = "spinach"
plural = "spinach"
tenderness = "hardy"
base = 2.0
)";

constexpr sys_days kFirstDay{std::chrono::year{2026} / 4 / 4};
// Invented: a clear spring day by the UTC hour, and how each day differs from it.
constexpr std::array<double, 24> kHours{4.0,  3.6,  3.2,  2.8,  2.4,  2.6,  4.0,  6.0,
                                        8.2,  10.1, 11.8, 13.0, 13.9, 14.2, 13.8, 12.9,
                                        11.4, 9.8,  8.4,  7.4,  6.5,  5.7,  5.0,  4.5};
constexpr std::array<double, 10> kDays{0.0,  1.2, -0.8, 2.4,  3.1,
                                       -1.5, 0.6, -2.2, -0.5, -2.0};
// Forecast less what came, in the order of the nights.
constexpr std::array<double, 8> kErrors{0.8, -1.1, 0.4, 1.9, -0.6, 0.9, 2.3, -0.3};

struct Make {
  std::string_view place;
  std::string_view sensor;
  double factor;  // of the open air's temperature
  double above;   // added to it
  bool humidity;
};

constexpr std::array<Make, 5> kMakes{{{"glasshouse", "glass-probe", 1.5, 6.0, true},
                                      {"north-frame", "north-probe", 1.3, -2.0, true},
                                      {"south-frame", "south-probe", 1.3, -1.0, false},
                                      {"pea-bed", "pea-probe", 1.0, 0.3, true},
                                      {"yard", "yard-probe", 1.0, 0.0, true}}};

double open_air(Instant at) {
  const auto minutes =
      std::chrono::duration_cast<std::chrono::minutes>(at - kFirstDay).count();
  const auto hour = static_cast<std::size_t>(minutes / 60);
  const double part = static_cast<double>(minutes % 60) / 60;
  const auto value = [](std::size_t h) { return kHours[h % 24] + kDays.at(h / 24); };
  return value(hour) * (1 - part) + value(hour + 1) * part;
}

Milli air_of(const Make& make, Instant at) {
  return to_milli(std::round((open_air(at) * make.factor + make.above) * 10) / 10);
}

bool is_lost(const Make& make, Instant at) {
  if (make.place == "pea-bed") return at > sample_evening() - 3h - 40min;
  return make.place == "yard" && at >= kFirstDay + days{2} + 20h &&
         at < kFirstDay + days{4} + 8h;
}

void add_reading(Changes& changes, std::size_t index, Instant at) {
  const Make& make = kMakes.at(index);
  if (is_lost(make, at)) return;
  const auto air = static_cast<SeriesId>(2 * index + 1);
  changes.readings.push_back({at, air, air_of(make, at)});
  if (!make.humidity) return;
  const double humidity = std::clamp(95 - 3 * open_air(at), 30.0, 100.0);
  changes.readings.push_back({at, air + 1, to_milli(std::round(humidity))});
}

void add_readings(Changes& changes, Instant now) {
  for (std::size_t i = 0; i < kMakes.size(); ++i) {
    const std::string place(kMakes.at(i).place);
    const std::string sensor(kMakes.at(i).sensor);
    const auto id = static_cast<SeriesId>(2 * i + 1);
    changes.series.push_back({id, sensor, place, Channel::kAirTemperature});
    changes.series.push_back({id + 1, sensor, place, Channel::kHumidity});
    // Every hour; in the last two, every ten minutes.
    for (Instant at = kFirstDay; at < now - 2h; at += 1h)
      add_reading(changes, i, at);
    for (Instant at = now - 2h; at <= now - 1min; at += 10min) {
      add_reading(changes, i, at);
    }
  }
}

Instant second_of(SunTime at) {
  return std::chrono::floor<std::chrono::seconds>(at);
}

OutlookRow outlook_for(const Make& make, sys_days night, Moment moment, double low) {
  const Position position = sample_garden().position;
  const std::int64_t evening = night.time_since_epoch().count() - 1;
  const SunEvents sun = sun_events(evening, position).value();
  const SunTime issued = moment == Moment::kAfternoon ? SunTime(sun.noon + 3h)
                         : moment == Moment::kDusk    ? SunTime(sun.sunset - 1h)
                                                      : SunTime(sun.sunset + 2h);
  OutlookRow row;
  row.place = make.place;
  row.night = night;
  row.moment = static_cast<int>(moment);
  row.issued_at = second_of(issued);
  row.sunset = second_of(sun.sunset);
  row.sunrise = second_of(sun_events(evening + 1, position).value().sunrise);
  row.low = Celsius{low};
  row.spread_below = moment == Moment::kDark ? 1.0 : 1.4;
  row.spread_above = moment == Moment::kDark ? 1.1 : 1.6;
  row.low10 = Celsius{low - 1.2816 * row.spread_below};
  row.low90 = Celsius{low + 1.2816 * row.spread_above};
  row.humidity_known = make.humidity;
  row.air = Celsius{from_milli(air_of(make, row.issued_at))};
  return row;
}

// The yard has an outlook on its last three nights only.
void add_past_nights(Changes& changes) {
  for (std::size_t n = 0; n < kErrors.size(); ++n) {
    const sys_days night = kFirstDay + days{1 + static_cast<int>(n)};
    for (const Make& make : kMakes) {
      const Instant low_at = night + 4h;
      const Celsius low{from_milli(air_of(make, low_at))};
      changes.nights.push_back({std::string(make.place), night, low, low_at});
      if (make.place == "yard" && n + 3 < kErrors.size()) continue;
      changes.outlooks.push_back(
          outlook_for(make, night, Moment::kDusk, low.degrees + kErrors.at(n)));
    }
  }
}

void add_tonight(Changes& changes, Instant now) {
  const sys_days night = kFirstDay + days{9};
  constexpr std::array moments{Moment::kAfternoon, Moment::kDusk, Moment::kDark};
  constexpr std::array errors{0.9, 0.6, 0.2};
  for (const Make& make : kMakes) {
    if (make.place == "pea-bed") continue;
    const double low = from_milli(air_of(make, night + 4h));
    for (std::size_t i = 0; i < moments.size(); ++i) {
      const OutlookRow row = outlook_for(make, night, moments.at(i), low + errors.at(i));
      if (row.issued_at <= now) changes.outlooks.push_back(row);
    }
  }
}

NoticeRow notice(NoticeId id, std::string kind, std::string place, NoticeState state,
                 Instant raised_at) {
  NoticeRow row;
  row.id = id;
  row.kind = std::move(kind);
  row.subject = row.place = std::move(place);
  row.state = state;
  row.raised_at = row.spoke_at = raised_at;
  return row;
}

void add_notices(Changes& changes) {
  const Instant evening = sample_evening();
  NoticeRow done =
      notice(1, "cover", "north-frame", NoticeState::kDone, evening - days{3} - 2h);
  done.title = "Fleece the north frame tonight";
  done.closed_at = evening - days{3} - 20min;
  NoticeRow lapsed =
      notice(2, "cover", "glasshouse", NoticeState::kLapsed, evening - days{3} - 2h);
  lapsed.title = "Fleece the glasshouse tonight";
  lapsed.closed_at = evening - days{3} + 12h;
  NoticeRow overtaken =
      notice(3, "danger", "south-frame", NoticeState::kOvertaken, evening - days{1} + 6h);
  overtaken.title = "Cover the south frame now";
  overtaken.closed_at = evening - days{1} + 7h;
  NoticeRow cover =
      notice(4, "cover", "north-frame", NoticeState::kDelivered, evening - 2h - 4min);
  cover.title = "Fleece the north frame tonight";
  cover.body =
      "2 layers, on while it still holds the day's warmth. Low -0.6 °C expected, 8 "
      "nights in 10 from -2.4 °C to 1.5 °C; odds 82 % of going below 1.0 °C. Outlook at "
      "16:23; a forecast, not a promise.";
  cover.deadline = evening + 55min;
  cover.ends_at = evening + 12h;
  cover.layers = 2;
  NoticeRow silent = notice(5, "silent", "pea-bed", NoticeState::kRaised, evening - 3h);
  silent.subject = "pea-probe";
  silent.title = "The sensor in the pea bed is silent";
  silent.body = "pea-probe was last heard at 15:00 on Sun 2026-04-12.";
  for (const NoticeRow& row : {done, lapsed, overtaken, cover, silent}) {
    changes.notices[row.id] = row;
  }
}

// --- what is known of the sensors

constexpr SeriesId kGlassBattery = 11;
constexpr SeriesId kNorthBattery = 12;
constexpr SeriesId kBench = 13;

void add_batteries(Changes& changes, Instant now) {
  changes.series.push_back(
      {kGlassBattery, "glass-probe", "glasshouse", Channel::kBatteryPercent});
  changes.series.push_back(
      {kNorthBattery, "north-probe", "north-frame", Channel::kBatteryVoltage});
  changes.readings.push_back({now - 10min, kGlassBattery, to_milli(84)});
  changes.readings.push_back({now - 10min, kNorthBattery, to_milli(2.31)});
}

void doubt(Changes& changes, Instant at, double value, Doubt why, std::string reason) {
  constexpr SeriesId glass_air = 1;
  changes.doubtful.push_back({at, glass_air, value, why, std::move(reason)});
  changes.tallies.push_back({"glass-probe", Channel::kAirTemperature, why, 1, at, at});
}

// The glasshouse's probe lost touch around noon; the pea bed's second one says what could
// be two things; the yard's second one was never heard.
void add_doubts(Changes& changes) {
  const Instant noon = sample_evening() - 6h;
  for (int n = 0; n < 5; ++n) {
    doubt(changes, noon + n * 3min, -196.6, Doubt::kRange,
          "outside -60 to 70 °C, what any garden can have");
  }
  doubt(changes, noon + 30min, 41.5, Doubt::kJump,
        "18.1 °C above both its neighbours in time");
  changes.tallies.push_back(
      {"glass-probe", std::nullopt, Doubt::kRetained, 2, noon - days{5}, noon - days{1}});
  changes.tallies.push_back({"yard-probe", Channel::kHumidity, Doubt::kSameSecond, 2,
                             noon - days{7}, noon - days{6}});
  changes.tallies.push_back({"bed-probe", std::nullopt, Doubt::kUnreadable, 210,
                             noon - days{2}, sample_evening() - 5min});
  changes.facts[{"bed-probe", "format?"}] = {"bed-probe", "format?", "number, bthome"};
  for (const Make& make : kMakes) {
    const std::string sensor(make.sensor);
    changes.facts[{sensor, "format"}] = {sensor, "format", "json"};
  }
}

// The bench's probe is in ice water.
void add_check(Changes& changes) {
  changes.series.push_back(
      {kBench, "bench-probe", "glasshouse", Channel::kAirTemperature});
  changes.readings.push_back({sample_evening() - 40min, kBench, to_milli(19.5)});
  changes.readings.push_back({sample_evening() - 50min, kBench, to_milli(19.6)});
  changes.readings.push_back({sample_evening() - 60min, kBench, to_milli(19.8)});
  changes.doubtful.push_back({sample_evening() - 4min, kBench, 0.43, Doubt::kCalibration,
                              "measured during a calibration"});
  const Instant until = sample_evening() + 90min;
  changes.marks["checking_until:bench-probe"] = until.time_since_epoch().count();
}

void add_corrections(Changes& changes) {
  const Instant tenth = sample_evening() - days{2};
  CorrectionRow before{.id = 1,
                       .sensor = "north-probe",
                       .channel = Channel::kAirTemperature,
                       .since = sample_evening() - days{41},
                       .until = tenth,
                       .gain = 1,
                       .offset = -0.2,
                       .uncertainty = 0.31,
                       .method = "ice",
                       .points = "[[0.2,0.0]]"};
  CorrectionRow now = before;
  now.id = 2;
  now.since = tenth;
  now.until.reset();
  now.offset = -0.43;
  now.uncertainty = 0.12;
  now.points = "[[0.43,0.0]]";
  changes.corrections[1] = before;
  changes.corrections[2] = now;
  changes.corrections[3] = {.id = 3,
                            .sensor = "yard-probe",
                            .channel = Channel::kHumidity,
                            .since = tenth - days{14},
                            .until = {},
                            .gain = 0.962,
                            .offset = -1.56,
                            .uncertainty = 1.4,
                            .method = "salt magnesium-chloride, sodium-chloride",
                            .points = "[[36.0,33.07],[80.1,75.48]]"};
}

void keep_batch(Changes& changes, const BatchRow& row, const std::string& place) {
  changes.batches[row.id] = row;
  const Instant since = sample_zone().at(row.sown, 0min);
  changes.stays.push_back({row.id, since, place});
}

// Of the chillies' first days there are no readings; the spinach is finished.
void add_batches(Changes& changes) {
  keep_batch(changes,
             {.id = "chillies",
              .crop = "chilli",
              .sown = kFirstDay - days{2},
              .count = 24,
              .next_place = "north-frame"},
             "glasshouse");
  keep_batch(changes,
             {.id = "little-gems", .crop = "lettuce", .sown = kFirstDay + days{1}},
             "south-frame");
  keep_batch(changes,
             {.id = "spinach",
              .crop = "spinach",
              .sown = kFirstDay,
              .finished = kFirstDay + days{6}},
             "north-frame");
}

void hear(Changes& changes, std::string topic, std::string payload) {
  const HeardRow row{.topic = topic,
                     .first_at = sample_evening() - days{1},
                     .last_at = sample_evening() - 8min,
                     .count = 140,
                     .payload = std::move(payload)};
  changes.heard[topic] = row;
}

void add_heard(Changes& changes) {
  hear(changes, "garden/pea-bed/soil", R"({"soil_temperature":9.4,"soil_moisture":31})");
  hear(changes, "garden/yard/humidity", "81");
  hear(changes, "garden/shed/7", "9.4");
  hear(changes, "garden/north-frame/board",
       R"({"probes":{"leaf":{"temp":3.5,"other":12.25}}})");
  hear(changes, "garden/door", "open\x1b[2J");
  const std::string device = "garden/5/frame-probe/";
  hear(changes, device + "$state", "ready");
  hear(changes, device + "$description",
       R"({"homie":"5.0","version":1,"nodes":{"climate":{"properties":{)"
       R"("temperature":{"datatype":"float","unit":"°C"},)"
       R"("humidity":{"datatype":"float","unit":"%"}}}}})");
  hear(changes, device + "climate/temperature", "3.4");
  hear(changes, device + "climate/humidity", "81");
}

}  // namespace

Instant sample_evening() {
  return parse_instant("2026-04-12T16:40:00Z").value();
}

Garden sample_garden() {
  SettingsOutcome outcome = read_garden_text(kSettings, "sample.toml");
  if (!outcome) throw std::logic_error(outcome.error().front());
  auto crops = read_crops_text({"", "none"}, CropsText{kCrops, "sample_crops.toml"});
  if (!crops) throw std::logic_error(crops.error().front());
  outcome->crops = *std::move(crops);
  return *outcome;
}

Zone sample_zone() {
  return Zone::named("Europe/Berlin").value();
}

Store sample_store(Instant now) {
  Store store = Store::in_memory();
  store.set_days(DayGrid(sample_zone(), 9h));
  Changes changes;
  changes.now = now;
  add_readings(changes, now);
  add_past_nights(changes);
  add_tonight(changes, now);
  add_notices(changes);
  add_batteries(changes, now);
  add_doubts(changes);
  add_check(changes);
  add_corrections(changes);
  add_heard(changes);
  add_batches(changes);
  changes.covers.push_back({"south-frame", sample_evening() - 1h, 2});
  changes.marks["now"] = now.time_since_epoch().count();
  changes.marks["clock_readings"] = 0;
  store.commit(changes);
  return store;
}

}  // namespace rimeward
