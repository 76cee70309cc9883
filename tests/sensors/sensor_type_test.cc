#include "sensors/sensor_type.h"

#include <doctest/doctest.h>

namespace rimeward {
namespace {

TEST_CASE("a type is found by its name and by no other") {
  const SensorType* probe = find_sensor_type("ds18b20");
  REQUIRE(probe != nullptr);
  CHECK(probe->name == "ds18b20");
  CHECK(find_sensor_type("ds18b2") == nullptr);
  CHECK(find_sensor_type("") == nullptr);
}

TEST_CASE("each type's ranges are those of its data sheet") {
  // Maxim DS18B20: -55 to 125. Aosong DHT22: -40 to 80, 0 to 100 %. Sensirion SHT4x,
  // version 6: -40 to 125, 0 to 100 %. Bosch BST-BME280-DS002-15: -40 to 85, 0 to 100 %,
  // 300 to 1100 hPa. SHT3x: as the SHT4x, from memory.
  struct Row {
    const char* name;
    ValueRange temperature;
    bool has_humidity;
    bool has_pressure;
  };
  constexpr Row kRows[]{
      {"ds18b20", {-55, 125}, false, false}, {"dht22", {-40, 80}, true, false},
      {"am2302", {-40, 80}, true, false},    {"sht3x", {-40, 125}, true, false},
      {"sht4x", {-40, 125}, true, false},    {"bme280", {-40, 85}, true, true}};
  CHECK(all_sensor_types().size() == std::size(kRows));
  for (const Row& row : kRows) {
    CAPTURE(row.name);
    const SensorType* type = find_sensor_type(row.name);
    REQUIRE(type != nullptr);
    CHECK(type->temperature.lowest == row.temperature.lowest);
    CHECK(type->temperature.highest == row.temperature.highest);
    REQUIRE(type->humidity.has_value() == row.has_humidity);
    if (type->humidity) CHECK(type->humidity->lowest == 0);
    if (type->humidity) CHECK(type->humidity->highest == 100);
    REQUIRE(type->pressure.has_value() == row.has_pressure);
    if (type->pressure) CHECK(type->pressure->lowest == 300);
    if (type->pressure) CHECK(type->pressure->highest == 1100);
  }
}

TEST_CASE("each type's accuracy is its data sheet's near the freezing point") {
  // Maxim DS18B20: 0.5 from -10 to 85. Aosong DHT22: 0.5. From memory: SHT3x and SHT4x
  // 0.2, BME280 1.25 from -20 to 0.
  CHECK(find_sensor_type("ds18b20")->accuracy == 0.5);
  CHECK(find_sensor_type("dht22")->accuracy == 0.5);
  CHECK(find_sensor_type("sht3x")->accuracy == 0.2);
  CHECK(find_sensor_type("sht4x")->accuracy == 0.2);
  CHECK(find_sensor_type("bme280")->accuracy == 1.25);
}

}  // namespace
}  // namespace rimeward
