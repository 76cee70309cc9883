#!/usr/bin/env python3
"""Writes outlook_readings.csv and outlook_expected.csv beside itself.

usage: make_outlook_data.py FOLDER

The readings are invented, by formula: a spring of the Hochfeld school garden, with all
that readings suffer (lost hours, a dead humidity sensor, a change of rhythm, an outage),
and a winter month of a garden in the southern and western hemisphere. The outlooks are
those of the executable specification of the night-low outlook, `tmin_ref.py` and
`sun.py` in FOLDER, with its `prior.json` for the first garden and `prior_covered.json` for
the second. Only needed again when the specification changes.
"""
import csv
import datetime
import json
import math
import pathlib
import sys

HERE = pathlib.Path(__file__).parent
EPOCH = datetime.datetime(1970, 1, 1)


class Noise:
    """A repeatable source of numbers from -1 to 1 (the multiplier of Park & Miller 1988)."""

    def __init__(self, seed):
        self.state = seed

    def __call__(self):
        self.state = self.state * 48271 % 2147483647
        return self.state / 1073741823.5 - 1.0


def weather(hour, longitude, noise):
    """Air in degrees C and humidity in percent, `hour` hours after the series began."""
    day = hour / 24
    clear = 0.5 + 0.5 * math.sin(day * 0.9) * math.cos(day * 0.31)
    sun_hour = (hour + longitude / 15) % 24
    wave = math.cos((sun_hour - 14.5) / 24 * 2 * math.pi)
    air = 4 + 0.09 * day + 4 * math.sin(day * 0.37) + (1.5 + 6 * clear) * wave + 0.4 * noise()
    dew = 0.5 + 0.06 * day + 3 * math.sin(day * 0.37 - 0.8) - 3 * clear + 0.3 * noise()
    a, b = 17.625, 243.04
    humidity = 100 * math.exp(a * dew / (b + dew) - a * air / (b + air))
    return air, min(humidity, 100.6)


def lost(step, hour):
    """Whether the Hochfeld reading of that hour never came."""
    day, clock = divmod(hour, 24)
    if 0 < step % 53 <= 2:  # two readings lost now and then
        return True
    if day == 11 and 1 < clock < 4:  # a hole of 3 h: a low to remember, not to learn from
        return True
    if day == 17 and 0 < clock < 6:  # a night with neither
        return True
    return 26.4 < hour / 24 < 27.9  # an outage


def hochfeld():
    noise = Noise(20240301)
    hour, step = 0.0, 0
    while hour < 62 * 24:
        air, humidity = weather(hour, 9.52, noise)
        if not lost(step, hour):
            dead = 20 <= hour / 24 < 23.5 or step % 19 == 0
            dead = dead or 33 * 24 + 18 <= hour < 33 * 24 + 22  # three hours old at dark
            yield hour, air, None if dead else humidity
        hour += 2 / 3 if 36 <= hour / 24 < 46 else 1
        step += 1


def south():
    noise = Noise(20230620)
    for hour in range(26 * 24):
        air, humidity = weather(hour, -70.66, noise)
        yield float(hour), air + 3, humidity


SERIES = [
    ('hochfeld', datetime.datetime(2024, 3, 1), 48.41, 9.52, 'prior.json', hochfeld),
    ('south', datetime.datetime(2023, 6, 20), -33.45, -70.66, 'prior_covered.json', south),
]


def main(folder):
    sys.path.insert(0, str(folder))
    import tmin_ref
    readings, expected = [], []
    for name, start, latitude, longitude, prior, make in SERIES:
        site = tmin_ref.Site(latitude, longitude, json.loads((folder / prior).read_text()))
        for hour, air, humidity in make():
            at = start + datetime.timedelta(seconds=round(hour * 3600))
            air = round(air, 2)
            humidity = None if humidity is None else round(humidity, 1)
            readings.append([name, at.strftime('%Y-%m-%dT%H:%M:%SZ'), air,
                             '' if humidity is None else humidity])
            site.push((at - EPOCH).total_seconds() / 3600, air, humidity)
        site.advance(site.t[-1] + 1e-6)
        for r in site.log:
            expected.append([name, r['day'], r['k'], f"{r['ti']:.6f}", r['T0'], r['rm'],
                             ' '.join(f'{v:.7f}' for v in r['x']), f"{r['f']:.6f}",
                             f"{r['lo']:.6f}", f"{r['hi']:.6f}", f"{r['p']:.7f}",
                             f"{r['lev']:.7f}", r['y']])
    with open(HERE / 'outlook_readings.csv', 'w', newline='') as out:
        csv.writer(out, lineterminator='\n').writerows(
            [['series', 'time', 'temperature', 'humidity']] + readings)
    with open(HERE / 'outlook_expected.csv', 'w', newline='') as out:
        csv.writer(out, lineterminator='\n').writerows(
            [['series', 'day', 'slot', 'issue_h_utc', 'T0', 'runmin', 'x', 'forecast',
              'lo10', 'hi90', 'p_le_0', 'leverage', 'observed']] + expected)


if __name__ == '__main__':
    if len(sys.argv) != 2 or sys.argv[1] == '--help':
        sys.exit(__doc__)
    main(pathlib.Path(sys.argv[1]))
