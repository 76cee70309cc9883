#!/usr/bin/env python3
"""Recorded weather through a real broker into the running daemon: what is stored equals
what was sent, highs and lows equal those computed from the file, and outlooks and notices
equal those of a rehearsal of the same file.

Runs on the repository's own small record, and on a year of a real station where the
folder of weather records is there.
"""
import csv
import datetime
import json
import zoneinfo

import support

PLACE = ['--place', 'station']


def highs_and_lows(file, zone_name, first, last):
    """By the maximum-minimum thermometer read at 09:00 local time, as DATE -> (low, high).

    The low of a date is of the 24 hours that end at its 09:00, the high of those that
    begin there: independent of the program, from the file alone.
    """
    zone = zoneinfo.ZoneInfo(zone_name)
    lows, highs = {}, {}
    with open(file) as stream:
        for line in csv.DictReader(stream):
            value = support.thousandths(line['temperature'])
            at = datetime.datetime.fromisoformat(line['time'].replace('Z', '+00:00'))
            local = at.astimezone(zone)
            began = local.date() - datetime.timedelta(days=local.hour < 9)
            highs.setdefault(began, []).append((-value, support.unix_seconds(line['time'])))
            ended = began + datetime.timedelta(days=1)
            lows.setdefault(ended, []).append((value, support.unix_seconds(line['time'])))
    result = []
    date = first
    while date <= last:
        low = min(lows.get(date, [(None, None)]))
        high = min(highs.get(date, [(None, None)]))
        result.append((date.isoformat(), low[0], low[1],
                       -high[0] if high[0] is not None else None, high[1]))
        date += datetime.timedelta(days=1)
    return result


def week_rows(text):
    def number(word):
        return support.thousandths(word) if word else None

    def time(word):
        return support.unix_seconds(word) if word else None

    return [(row['date'], number(row['low']), time(row['low_at']), number(row['high']),
             time(row['high_at'])) for row in csv.DictReader(text.splitlines())]


def told(notices):
    """A notice as far as live and rehearsed must agree: what a route's answer adds is out."""
    keep = ('id', 'revision', 'kind', 'subject', 'place', 'title', 'body', 'raised_at',
            'spoke_at', 'deadline', 'ends_at', 'closed_at', 'layers')
    return sorted(({key: notice.get(key) for key in keep} for notice in notices),
                  key=lambda notice: notice['id'])


def outlooks_live(store):
    moments = ['afternoon', 'dusk', 'dark', 'late']
    query = ('SELECT night, moment, issued_at, low_celsius, low10_celsius, low90_celsius '
             'FROM outlook ORDER BY issued_at')
    day = datetime.date(1970, 1, 1)
    return [((day + datetime.timedelta(days=night)).isoformat(), moments[moment], issued_at,
             *(f'{value:.3f}'.replace('-0.000', '0.000') for value in lows))
            for night, moment, issued_at, *lows in support.rows(store, query)]


def outlooks_rehearsed(file):
    with open(file) as stream:
        return [(row['night'], row['issue'], support.unix_seconds(row['issued_at']),
                 row['low'], row['low10'], row['low90']) for row in csv.DictReader(stream)]


def play(programs, data, position, zone, clock_changes):
    with support.scratch() as (folder, started):
        broker = support.Broker(folder)
        started.append(broker)
        broker.start()
        config = support.write_garden(folder, broker.address, position, zone)
        store = folder / 'garden.db'
        daemon = support.Daemon(programs, config, '--clock', 'readings')
        started.append(daemon)
        daemon.start()
        daemon.wait_for('connected')
        sent = support.read_readings(data)
        support.run(programs / 'rimeward-play', '--broker', broker.address, '--recorded',
                    str(data), '--topic', 'garden/station/climate')
        support.wait_until(lambda: support.reading_count(store) == len(sent),
                           f'{len(sent)} readings stored')
        daemon.stop()
        support.equal(support.stored_readings(store), sent, 'rows stored and readings sent')

        rimeward = [programs / 'rimeward', '--config', config]
        for clock_change in clock_changes:
            first = clock_change - datetime.timedelta(days=20)
            last = clock_change + datetime.timedelta(days=20)
            week = support.run(*rimeward, 'week', '--from', first.isoformat(), '--to',
                               last.isoformat(), '--csv')
            expected = highs_and_lows(data, zone, first, last)
            support.check(sum(row[1] is not None for row in expected) >= 30,
                          '30 dates with a low')
            support.equal(week_rows(week), expected, 'highs and lows')

        nights = folder / 'nights.csv'
        rehearsal = json.loads(support.run(*rimeward, 'rehearse', str(data), *PLACE,
                                           '--nights', nights, '--json'))
        live = json.loads(support.run(*rimeward, 'notices', '--all', '--json'))
        support.equal(outlooks_live(store), outlooks_rehearsed(nights), 'outlooks')
        support.equal(told(live['open'] + live['closed']), told(rehearsal['notices']),
                      'notices')
        kinds = [notice['kind'] for notice in rehearsal['notices']]
        support.check('cover' in kinds, 'a cover notice was raised')
        print(f'{data.name}: {len(sent)} readings, {len(outlooks_live(store))} outlooks, '
              f'{len(kinds)} notices ({kinds.count("cover")} cover, '
              f'{kinds.count("danger")} danger): stored, summarised, live = rehearsed')


def main():
    programs = support.arguments().programs
    play(programs, support.ROOT / 'tests/data/live_readings.csv', (48.41, 9.52),
         'Europe/Berlin', [datetime.date(2026, 3, 29)])
    shared = support.shared_folder()
    if not shared:
        print('the real station is left out: no folder of weather records here')
        return
    play(programs, shared / 'data/ie_oak_park.csv', (52.861, -6.915), 'Europe/Dublin',
         [datetime.date(2017, 3, 26), datetime.date(2017, 10, 29)])


if __name__ == '__main__':
    main()
