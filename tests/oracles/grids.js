// Writes what the reference libraries say of moist air and of the sun, over wide grids, as
// comma-separated files for tests/daemon/climate/oracle_test.cc. Usage: node grids.js FOLDER

import {writeFileSync} from 'node:fs';
import {join} from 'node:path';

import psychrolib from 'psychrolib';
import {getTimes} from 'suncalc';

const MILLISECONDS_IN_DAY = 86_400_000;

function range(from, to, step) {
  const values = [];
  for (let value = from; value <= to; value += step) values.push(value);
  return values;
}

// Below 0.01 degrees C the library's saturation is over ice, and so is its humidity: the
// column is called `saturated_share`, not humidity.
function moistAir() {
  psychrolib.SetUnitSystem(psychrolib.SI);
  const rows = ['air_c,saturated_share,pressure_pa,saturation_pa,vapour_pa,' +
                'dew_or_frost_c,wet_bulb_c,deficit_pa,absolute_g_m3'];
  for (const air of range(-30, 50, 1)) {
    for (const percent of [1, ...range(5, 100, 5)]) {
      for (const pressure of [70_000, 95_000, 101_325, 105_000]) {
        const share = percent / 100;
        const vapour = psychrolib.GetVapPresFromRelHum(air, share);
        const ratio = psychrolib.GetHumRatioFromRelHum(air, share, pressure);
        rows.push([
          air, share, pressure, psychrolib.GetSatVapPres(air), vapour,
          psychrolib.GetTDewPointFromVapPres(air, vapour),
          psychrolib.GetTWetBulbFromRelHum(air, share, pressure),
          psychrolib.GetVaporPressureDeficit(air, ratio, pressure),
          1000 * ratio / psychrolib.GetMoistAirVolume(air, ratio, pressure),
        ].join());
      }
    }
  }
  return rows;
}

// Seconds since 1970; empty where the sun does not pass that height on that day.
function seconds(time) {
  const milliseconds = time ? time.valueOf() : NaN;
  return Number.isNaN(milliseconds) ? '' : milliseconds / 1000;
}

function sun() {
  const rows = ['solar_day,latitude,longitude,noon,sunrise,sunset,civil_dawn,civil_dusk,' +
                'nautical_dawn,nautical_dusk,astronomical_dawn,astronomical_dusk'];
  const newYear = Date.UTC(2024, 0, 1) / MILLISECONDS_IN_DAY;
  for (const day of range(newYear, newYear + 365, 5)) {
    for (const latitude of range(-70, 70, 10)) {
      for (const longitude of [-122.4, 9.52, 151.2]) {
        // Noon of the date, which the library reckons as that date's whole solar day.
        const noon = new Date((day + 0.5) * MILLISECONDS_IN_DAY);
        const times = getTimes(noon, latitude, longitude);
        rows.push([
          day, latitude, longitude, seconds(times.solarNoon), seconds(times.sunrise),
          seconds(times.sunset), seconds(times.dawn), seconds(times.dusk),
          seconds(times.nauticalDawn), seconds(times.nauticalDusk),
          seconds(times.nightEnd), seconds(times.night),
        ].join());
      }
    }
  }
  return rows;
}

const folder = process.argv[2];
if (!folder) {
  console.error('usage: node grids.js FOLDER');
  process.exit(2);
}
writeFileSync(join(folder, 'moist_air.csv'), moistAir().join('\n') + '\n');
writeFileSync(join(folder, 'sun.csv'), sun().join('\n') + '\n');
