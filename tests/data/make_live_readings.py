#!/usr/bin/env python3
"""Writes live_readings.csv beside itself: an invented spring of the Hochfeld school garden,
a reading each half hour from 1 March to 30 April 2026, over the change of the clocks on 29
March, with frosts of its own. By formula alone, so that it can be made again."""
import csv
import datetime
import math
import pathlib

START = datetime.datetime(2026, 3, 1)


def reading(hours):
    """Air in degrees C, humidity in percent, `hours` after the start."""
    day = hours / 24
    clear = 0.5 + 0.5 * math.sin(day * 0.83 + 1.1) * math.cos(day * 0.29)
    wave = math.cos((hours % 24 + 9.52 / 15 - 14.6) / 24 * 2 * math.pi)
    air = (3.2 + 0.11 * day + 2.6 * math.sin(day * 0.41) + (1.4 + 5.2 * clear) * wave
           + 0.3 * math.sin(hours * 2.7))
    spread = max(0.3, 3.5 + 3.2 * wave * clear)
    humidity = 100 * math.exp(-spread / 15.5)
    return air, humidity


def main():
    with open(pathlib.Path(__file__).parent / 'live_readings.csv', 'w') as stream:
        out = csv.writer(stream, lineterminator='\n')
        out.writerow(['time', 'temperature', 'humidity'])
        for step in range(61 * 48):
            at = START + datetime.timedelta(minutes=30 * step)
            air, humidity = reading(step / 2)
            out.writerow([at.isoformat() + 'Z', f'{air:.2f}', f'{humidity:.1f}'])


if __name__ == '__main__':
    main()
