#!/usr/bin/env python3
"""A year in minutes: twenty sensors, a reading a minute, through a real broker into the
running daemon, whose clock goes by the readings. Faults are sprinkled over it, the daemon is
killed, stopped, reloaded, the broker restarted, the gardener covers, uncovers and waters.
In the end every count is right, the store whole and small, and the memory flat.

Fifteen days if nothing else is said; `--days 365` or RIMEWARD_YEAR_DAYS=365 is the year. The
seed is printed; RIMEWARD_SEED repeats a run.
"""
import argparse
import array
import collections
import json
import os
import pathlib
import random
import signal
import statistics
import subprocess
import time

import publishing
import simulated
import support

WEEK = 7 * simulated.DAY
LAST_DAYS = 3
# Of messages on their way. The broker keeps 100,000 for a daemon that is away.
AHEAD = 40_000
# What a place's readings come to is judged by the last days, and kept in memory until it is
# over: a few weeks in, little is left to grow. Sums are made anew over all hours since a place
# was watered, here half a year at most, and at this speed what that took is not given back
# before the next ones: a sixth. Where all places were read from the oldest on, it was a third.
SETTLED = 2  # weeks
FEWEST = 8   # weeks after that to judge by
MOST_GROWTH = 1.25
MOST_BYTES = 2.0  # a value, when at least LONG days of a reading a minute are in the store
LONG = 60
A_MINUTE = 70  # seconds: once in each the daemon gives back what memory it has no use for


def arguments():
    parser = argparse.ArgumentParser(description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument('--programs', type=pathlib.Path, required=True)
    parser.add_argument('--days', type=int,
                        default=int(os.environ.get('RIMEWARD_YEAR_DAYS', 15)))
    parser.add_argument('--every', type=int, default=1, help='minutes between two readings')
    parser.add_argument('--report', type=pathlib.Path, help='figures, as JSON, into this file')
    chosen = parser.parse_args()
    chosen.programs = chosen.programs.resolve()
    return chosen


class Garden:
    """The daemon, its broker and its publisher, and what was done to them."""

    def __init__(self, folder, started, programs, seed, gardens=1, **stream):
        self.folder = folder
        self.programs = programs
        self.store = folder / 'garden.db'
        self.config = folder / 'garden.toml'
        self.broker = support.Broker(folder)
        started.append(self.broker)
        self.broker.start()
        self.config.write_text(simulated.garden_text(folder, self.broker.address,
                                                     gardens=gardens))
        self.daemon = support.Daemon(programs, self.config, '--clock', 'readings')
        started.append(self.daemon)
        self.books = simulated.Books()
        self.chance = random.Random(seed + 1)
        self.resident, self.most = [], []
        self.done = {'kill': 0, 'stop': 0, 'reload': 0, 'broker': 0, 'actions': 0}
        self.start()
        self.stream = simulated.Stream(publishing.Publisher(self.broker.port), self.books,
                                       seed=seed, gardens=gardens, **stream)

    def start(self):
        before = self.connections()
        self.daemon.start()
        self.daemon.wait_for('connected', count=before + 1)

    def connections(self):
        file = self.daemon.log_file
        return file.read_text().count('connected, listening') if file.exists() else 0

    def wait_for_daemon(self, most_ahead):
        support.wait_until(
            lambda: self.stream.publisher.sent - support.spooled(self.store) <= most_ahead,
            'the daemon has caught up', patience=120)

    def wait_for_packing(self):
        """Days are packed one after the other, beside the work and more slowly than they
        come here; the last are not over yet by the garden's clock, which now stands."""
        def to_pack():
            return self.rimeward('store')['days_to_pack']
        support.wait_until(lambda: to_pack() <= LAST_DAYS, 'the days are packed', patience=900)
        before = None
        while before != (left := to_pack()):
            before = left
            time.sleep(3)

    def send_until(self, minute):
        step = max(1, AHEAD // 4 // len(self.stream.sensors)) * self.stream.every
        while self.stream.minute < minute:
            self.stream.send_until(min(minute, self.stream.minute + step))
            self.wait_for_daemon(AHEAD)
        self.stream.publisher.finish()

    def week(self, minute):
        """One more, with something happening in the midst of it and at its end."""
        middle = self.stream.minute + self.chance.randint(WEEK // 4, WEEK * 3 // 4)
        if middle < minute:
            self.send_until(middle)
            # With messages on their way.
            if self.chance.random() < 0.3:
                self.daemon.kill()
                self.start()
                self.done['kill'] += 1
            self.act()
        self.send_until(minute)
        if self.chance.random() < 0.15:
            self.restart_broker()
        self.wait_for_daemon(0)
        resident, most = support.memory_of(self.daemon.process)
        self.resident.append(resident)
        self.most.append(most)

    # A topic may say 20,000 things at once; a service that starts counts anew.
    def between_weeks(self):
        if self.chance.random() < 0.2:
            self.daemon.stop()
            self.start()
            self.done['stop'] += 1
        else:
            self.reload()

    def reload(self):
        before = self.connections()
        self.daemon.process.send_signal(signal.SIGHUP)
        self.daemon.wait_for('connected', count=before + 1)
        self.done['reload'] += 1

    def restart_broker(self):
        before = self.connections()
        self.stream.publisher.close()
        self.broker.stop()
        self.broker.start()
        sent = self.stream.publisher.sent
        self.stream.publisher = publishing.Publisher(self.broker.port)
        self.stream.publisher.sent = sent
        self.daemon.wait_for('connected', count=before + 1)
        self.done['broker'] += 1

    def act(self):
        place = self.chance.choice(simulated.PLACES)
        if self.chance.random() < 0.5:
            words = ['cover', place, str(self.chance.randint(0, 2))]
            self.books.covers[place] += 1
        else:
            words = ['water', place]
            self.books.waterings[place] += 1
        support.run(self.programs / 'rimeward', '--config', self.config, *words)
        self.done['actions'] += 1

    def rimeward(self, *words):
        return json.loads(support.run(self.programs / 'rimeward', '--config', self.config,
                                      *words, '--json'))


# --- what the store holds

def exported(garden):
    """All of it, by sensor and channel, as `simulated.entry`."""
    command = [garden.programs / 'rimeward', '--config', garden.config, 'export']
    found = collections.defaultdict(lambda: array.array('q'))
    days = {}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as export:
        next(export.stdout)
        for line in export.stdout:
            stamp, sensor, _, channel, value = line.split(',')
            day = stamp[:10]
            if day not in days:
                days[day] = support.unix_seconds(f'{day}T00:00:00Z')
            second = (days[day] + 3600 * int(stamp[11:13]) + 60 * int(stamp[14:16]) +
                      int(stamp[17:19]))
            found[sensor, channel].append(
                simulated.entry(second, round(float(value) * 1000)))
    support.equal(export.returncode, 0, f'exit status of {command}')
    return found


def check_readings(garden):
    found = exported(garden)
    support.equal(found.keys() - garden.books.readings.keys(), set(), 'series never sent')
    for (sensor, channel), sent in garden.books.readings.items():
        expected = array.array('q', sorted(sent))
        got = found[sensor, channel]
        if got == expected:
            continue
        missing = sorted(set(expected) - set(got))[:5]
        too_much = sorted(set(got) - set(expected))[:5]
        raise AssertionError(
            f'{channel} of {sensor}: {len(got)} readings stored, {len(expected)} '
            f'expected; missing: {list(map(simulated.reading, missing))}; too much: '
            f'{list(map(simulated.reading, too_much))}')


def check_doubts(garden):
    names = {number: name for number, name in enumerate(
        ['', 'temperature', 'humidity', 'soil_temperature', 'soil_moisture', 'light'])}
    rows = support.rows(garden.store, 'SELECT sensor, channel, time, doubt FROM doubtful '
                                      'JOIN series ON series.id = doubtful.series')
    got = sorted((sensor, names.get(channel, channel), second, doubt)
                 for sensor, channel, second, doubt in rows)
    support.equal(got, sorted(garden.books.doubtful.elements()), 'doubtful readings')
    tallies = support.rows(garden.store, 'SELECT sensor, doubt, sum(count) FROM tally '
                                         'GROUP BY sensor, doubt')
    tallies = {(sensor, doubt): count for sensor, doubt, count in tallies}
    for key, count in garden.books.tallies.items():
        # What the broker kept comes again with each connection, and counts as said before.
        # A broker that was restarted sends again what it had been told was taken, more than
        # a daemon remembers: then nonsense may count twice, as no reading does.
        is_exact = key[1] == simulated.UNREADABLE and not garden.done['broker']
        counted = tallies.get(key, 0)
        support.check(counted == count if is_exact else counted >= count,
                      f'of {key} {counted} counted, {count} sent')


def check_actions(garden):
    for table, told in (('cover', garden.books.covers), ('watering', garden.books.waterings)):
        rows = support.rows(garden.store, f'SELECT place, count(*) FROM {table} GROUP BY 1')
        support.equal(dict(rows), dict(told), f'rows of {table}')


def check_memory(garden):
    """The last quarter beside the first, and how much there is of it, in MB."""
    settled = garden.resident[SETTLED:] or garden.resident
    quarter = max(1, len(settled) // 4)
    first = statistics.median(settled[:quarter])
    last = statistics.median(settled[-quarter:])
    support.check(len(settled) < FEWEST or last <= first * MOST_GROWTH,
                  f'memory grew from {first} to {last} kB: {garden.resident}')
    return first / 1000, last / 1000, max(garden.most) / 1000


def started_anew(garden, rest):
    """Seconds until it listens again, and MB resident after `rest` seconds."""
    begun = time.monotonic()
    garden.start()
    taken = time.monotonic() - begun
    time.sleep(rest)
    resident = support.memory_of(garden.daemon.process)[0] / 1000
    garden.daemon.stop()
    return taken, resident


def check_all(garden, days, every):
    count = garden.books.count()
    size = garden.rimeward('store', '--check')
    support.equal((size['is_whole'], size['faults']), (True, []), 'the store is whole')
    support.equal(size['readings'], count, 'readings that the store says it holds')
    check_readings(garden)
    check_doubts(garden)
    check_actions(garden)
    first, last, most = check_memory(garden)
    # At this speed days come faster than they are packed where the machine has other things
    # to do; what that made free is for the days to come.
    used = size['file_bytes'] - size['free_bytes'] + size['log_bytes']
    bytes_a_value = used / count
    if days >= LONG and every == 1:
        support.check(bytes_a_value <= MOST_BYTES, f'{bytes_a_value:.2f} bytes a value: {size}')
    return {'days': days, 'messages': garden.stream.publisher.sent, 'readings': count,
            'doubtful': sum(garden.books.doubtful.values()),
            'faults': dict(garden.stream.sprinkled), 'done': garden.done,
            'megabytes': size['file_bytes'] / 1e6, 'bytes_a_value': bytes_a_value,
            'resident_first_mb': first, 'resident_last_mb': last, 'resident_most_mb': most}


def main():
    chosen = arguments()
    seed = int(os.environ.get('RIMEWARD_SEED', time.time_ns() % 1_000_000))
    print(f'seed {seed}', flush=True)
    with support.scratch() as (folder, started):
        garden = Garden(folder, started, chosen.programs, seed, days=chosen.days,
                        every=chosen.every)
        begun = time.monotonic()
        end = chosen.days * simulated.DAY
        while garden.stream.minute < end:
            garden.week(min(end, garden.stream.minute + WEEK))
            if garden.stream.minute < end:
                garden.between_weeks()
        streamed = time.monotonic() - begun
        garden.wait_for_packing()
        garden.daemon.stop()
        figures = check_all(garden, chosen.days, chosen.every)
        figures['messages_a_second'] = figures['messages'] / streamed
        figures['restart_seconds'], figures['resident_idle_mb'] = started_anew(
            garden, A_MINUTE if chosen.days >= LONG else 1)
        print(json.dumps(figures, indent=1))
        if chosen.report:
            chosen.report.write_text(json.dumps(figures) + '\n')
        print(f'{chosen.days} days in {time.monotonic() - begun:.0f} s')


if __name__ == '__main__':
    main()
