#include "sensors/sensor_type.h"

#include <algorithm>
#include <array>

namespace rimeward {
namespace {

constexpr ValueRange kAnyHumidity{0, 100};

// DS18B20: Maxim data sheet. DHT22, also sold as AM2302: Aosong data sheet. SHT4x:
// Sensirion data sheet version 6 (2023). BME280: Bosch data sheet BST-BME280-DS002-15
// (2018). The range of the SHT3x and the accuracies of SHT3x, SHT4x and BME280 are from
// memory of their data sheets; that of the BME280 is the one below the freezing point.
constexpr std::array kTypes{
    SensorType{.name = "ds18b20", .temperature = {-55, 125}, .accuracy = 0.5},
    SensorType{.name = "dht22",
               .temperature = {-40, 80},
               .humidity = kAnyHumidity,
               .accuracy = 0.5},
    SensorType{.name = "am2302",
               .temperature = {-40, 80},
               .humidity = kAnyHumidity,
               .accuracy = 0.5},
    SensorType{.name = "sht3x",
               .temperature = {-40, 125},
               .humidity = kAnyHumidity,
               .accuracy = 0.2},
    SensorType{.name = "sht4x",
               .temperature = {-40, 125},
               .humidity = kAnyHumidity,
               .accuracy = 0.2},
    SensorType{.name = "bme280",
               .temperature = {-40, 85},
               .humidity = kAnyHumidity,
               .pressure = ValueRange{300, 1100},
               .accuracy = 1.25},
};

}  // namespace

std::span<const SensorType> all_sensor_types() {
  return kTypes;
}

const SensorType* find_sensor_type(std::string_view name) {
  const auto found = std::ranges::find(kTypes, name, &SensorType::name);
  return found == kTypes.end() ? nullptr : &*found;
}

}  // namespace rimeward
