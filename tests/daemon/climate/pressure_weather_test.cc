// What the air pressure is worth to the outlook, on open records that have it. Nothing is
// believed of the pressure before a place has shown it, so nothing was fitted to these
// records but the choice of its two features and their units.

#include <array>
#include <cmath>
#include <filesystem>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include <doctest/doctest.h>

#include "daemon/climate/outlook.h"
#include "tests/daemon/climate/outlook_replay.h"
#include "tests/support/shared_folder.h"

namespace rimeward {
namespace {

std::vector<Row> readings_with_pressure(const std::filesystem::path& path) {
  std::map<Instant, double> pressures;
  for (auto& row : read_table(path)) {
    if (row["pressure"].empty()) continue;
    pressures[instant_from(row["time"])] = number_from(row["pressure"]);
  }
  auto readings = read_readings(path);
  for (Row& row : readings) {
    const auto found = pressures.find(row.at);
    if (found != pressures.end()) row.pressure = found->second;
  }
  return readings;
}

// Mean absolute errors by moment.
std::array<double, kMoments.size()> errors_of(const std::vector<Came>& all) {
  std::array<double, kMoments.size()> sums{};
  std::array<double, kMoments.size()> nights{};
  for (const auto& [outlook, low] : all) {
    sums.at(index_of(outlook.moment)) += std::abs((outlook.low - low).degrees);
    nights.at(index_of(outlook.moment)) += 1.0;
  }
  for (std::size_t i = 0; i < sums.size(); ++i)
    sums.at(i) /= nights.at(i);
  return sums;
}

}  // namespace

TEST_CASE("with the pressure the outlook errs 2 % less before dark, and less after it") {
  const auto shared = shared_folder();
  if (!shared) {
    MESSAGE("skipped: no folder of real weather, see tests/support/shared_folder.h");
    return;
  }
  const std::array<std::pair<const char*, Position>, 6> sites{
      {{"nyc_jfk", {40.6398, -73.7789}},
       {"nyc_ewr", {40.6925, -74.1687}},
       {"ie_oak_park", {52.861, -6.915}},
       {"ie_dunsany", {53.516, -6.66}},
       {"ie_markree", {54.175, -8.456}},
       {"ie_casement", {53.306, -6.439}}}};
  std::array<double, kMoments.size()> gains{};
  for (const auto& [name, position] : sites) {
    CAPTURE(name);
    const auto with =
        readings_with_pressure(*shared / "data" / (std::string{name} + ".csv"));
    auto without = with;
    for (Row& row : without)
      row.pressure.reset();
    const NightOutlook engine(position, open_air_prior());
    const auto better = errors_of(verified(replay(engine, with)));
    const auto plain = errors_of(verified(replay(engine, without)));
    for (std::size_t i = 0; i < gains.size(); ++i) {
      CHECK(better.at(i) < 1.005 * plain.at(i));
      gains.at(i) +=
          (1.0 - better.at(i) / plain.at(i)) / static_cast<double>(sites.size());
    }
  }
  const auto gain = [&gains](Moment moment) { return gains.at(index_of(moment)); };
  CHECK(gain(Moment::kAfternoon) > 0.02);
  CHECK(gain(Moment::kDusk) > 0.02);
  CHECK(gain(Moment::kDark) > 0.005);
  CHECK(gain(Moment::kLate) > 0.005);
}

}  // namespace rimeward
