#!/usr/bin/env python3
"""The power is cut at any instant of a daemon's life: it commits, packs days that are
over, is stopped and started, killed, has a past imported beside it and a backup made.
Whatever the medium then holds of what was not synced (see tests/system/power_cut.py),
the store opens and is whole, holds every reading that was committed at least one commit
interval before the cut, none twice, and a backup is whole or not there.

The same cuts find the store broken where syncs do nothing, which is what SQLite's
`synchronous = OFF` comes to: so they would tell.

    tests/system/test_power_cut.py --programs build/release [--cuts 5000] [--seed 7]
"""
import argparse
import bisect
import contextlib
import csv
import json
import math
import os
import pathlib
import random
import shutil
import sqlite3
import subprocess
import tempfile
import time

import medium
import power_cut
import support

COMMIT_EVERY = 0.5  # seconds
FIRST = support.unix_seconds('2026-04-10T00:00:00Z')
HOUR = 3600
EVERY = 600  # seconds between two readings
CHANNELS = {'temperature': 1, 'humidity': 2}
# A write-back that nobody asked for comes sooner than any kernel's, against the test.
WRITTEN_BACK_AFTER = 1.0
SEEN_BY_PROGRAMS = 24  # of the cuts, by `rimeward store` and `export`
STARTED_AGAIN = 4  # of the cuts, by rimewardd


def arguments():
    parser = argparse.ArgumentParser()
    parser.add_argument('--programs', type=pathlib.Path, required=True)
    parser.add_argument('--cuts', type=int, default=400)
    parser.add_argument('--seed', type=int, default=int(
        os.environ.get('RIMEWARD_SEED', time.time_ns() % 1_000_000)))
    parsed = parser.parse_args()
    parsed.programs = parsed.programs.resolve()
    return parsed


class Sensor:
    """Readings of the station, as they are sent and as they are to be stored."""

    def __init__(self, programs, broker, folder):
        self.programs, self.broker, self.folder = programs, broker, folder
        self.until = FIRST
        self.sent = set()  # (time, channel, thousandths)

    @staticmethod
    def values(at):
        turn = math.sin((at % 86400) / 86400 * 2 * math.pi)
        return {'temperature': 8000 - 10 * round(400 * turn),
                'humidity': 70000 + 100 * round(200 * turn)}

    def readings(self, since, until, every=EVERY):
        for at in range(since, until, every):
            for channel, milli in self.values(at).items():
                self.sent.add((at, CHANNELS[channel], milli))
            yield at, self.values(at)

    def play(self, hours, takes):
        """The next hours, in so many seconds."""
        file = self.folder / 'readings.csv'
        until = self.until + hours * HOUR
        lines = ['time,temperature,humidity']
        for at, values in self.readings(self.until, until):
            lines.append(f'{iso(at)},{values["temperature"] / 1000},'
                         f'{values["humidity"] / 1000}')
        file.write_text('\n'.join(lines) + '\n')
        self.until = until
        return subprocess.Popen(
            [self.programs / 'rimeward-play', '--broker', self.broker.address,
             '--recorded', file, '--topic', 'garden/station/climate',
             '--speed', str(hours * HOUR / takes)])

    def write_past(self, file, days):
        lines = ['time,sensor,place,channel,value']
        for at, values in self.readings(FIRST - days * 86400, FIRST, 3 * EVERY):
            lines += [f'{iso(at)},station-probe,station,{channel},{milli / 1000}'
                      for channel, milli in values.items()]
        file.write_text('\n'.join(lines) + '\n')


def iso(seconds):
    return time.strftime('%Y-%m-%dT%H:%M:%SZ', time.gmtime(seconds))


def garden_in(folder, broker, store):
    config = support.write_garden(folder, broker.address,
                                  commit_every=f'{COMMIT_EVERY * 1000:.0f} ms')
    medium.put_store(config, store)
    return config


class Life:
    """A daemon whose store lies on the medium."""

    def __init__(self, programs, folder, started, *, swallows):
        self.programs, self.folder = programs, folder
        self.medium = folder / 'medium'
        self.medium.mkdir()
        self.store = self.medium / 'garden.db'
        self.log = folder / 'medium.log'
        self.broker = support.Broker(folder)
        started.append(self.broker)
        self.broker.start()
        self.config = garden_in(folder, self.broker, self.store)
        self.environment = medium.shim(programs, self.medium, log=self.log,
                                       **({'swallows': 1} if swallows else {}))
        self.daemon = support.Daemon(programs, self.config, '--clock', 'readings',
                                     environment=self.environment)
        started.append(self.daemon)
        self.sensor = Sensor(programs, self.broker, folder)

    def start(self):
        self.daemon.start()
        self.daemon.wait_for('connected', count=1 + self.daemon.log().count('connected'))

    def run(self, *command):
        support.equal(subprocess.run(
            [self.programs / 'rimeward', '--config', self.config, *command],
            env={**os.environ, **self.environment}, stdout=subprocess.DEVNULL,
            timeout=60).returncode, 0, f'exit status of rimeward {command}')

    def stored(self):
        return support.reading_count(self.store)

    def wait_until_stored(self):
        support.wait_until(lambda: self.stored() == len(self.sensor.sent),
                           f'{len(self.sensor.sent)} readings stored')

    def wait_until_packed(self, days):
        """Of the readings' days that are over the last is packed."""
        day = FIRST // 86400 + days - 1
        support.wait_until(lambda: support.rows(
            self.store, 'SELECT count(*) FROM chunk WHERE day = ?', day) == [(2,)],
            f'day {days} is packed')

    def begin(self):
        """A first day, and the next morning."""
        self.start()
        player = self.sensor.play(32, takes=2.5)
        support.equal(player.wait(60), 0, 'exit status of rimeward-play')
        self.wait_until_stored()
        self.wait_until_packed(1)

    def start_over(self):
        self.daemon.stop()
        self.start()
        support.equal(self.sensor.play(2, takes=0.8).wait(60), 0, 'rimeward-play')
        self.wait_until_stored()
        self.daemon.stop()

    def go_on(self):
        past = self.folder / 'past.csv'
        self.sensor.write_past(past, 2)
        player = self.sensor.play(4, takes=1.5)
        time.sleep(0.3)
        self.run('import', past)
        self.daemon.wait_for('starting over from the store')
        support.equal(player.wait(60), 0, 'exit status of rimeward-play')
        self.wait_until_stored()
        self.daemon.stop()
        self.start()
        player = self.sensor.play(20, takes=1.5)
        time.sleep(0.5)
        self.run('backup', str(self.medium / 'copy.db'))
        time.sleep(0.5)
        self.daemon.kill()
        self.start()
        support.equal(player.wait(60), 0, 'exit status of rimeward-play')
        self.wait_until_stored()
        self.wait_until_packed(2)
        self.daemon.stop()

    def records(self):
        """The log; it must tell of every byte in the folder."""
        records = power_cut.read_log(self.log)
        card = power_cut.Medium(records)
        card.advance(len(records))
        there = {file.name: file.read_bytes() for file in self.medium.iterdir()
                 if not file.name.endswith('-shm')}
        support.equal(sorted(card.seen()), sorted(there), 'files by the log')
        for name, content in card.seen().items():
            support.check(content == there[name], f'{name} by the log, byte for byte')
        return records


class Promise:
    """How many readings a cut at a position may leave at the least and at the most."""

    def __init__(self, records, folder):
        self.least, self.most = [(0, 0)], [(0, 0)]  # (from that position on, readings)
        card = power_cut.Medium(records)
        times = [record.time for record in records]
        for number, position in enumerate(
                at + 1 for at, record in enumerate(records) if record.ends_commit):
            card.advance(position)
            seen = folder / f'seen-{number}'
            power_cut.write_files(seen, card.seen())
            count = support.reading_count(seen / 'garden.db')
            shutil.rmtree(seen)
            self.most.append((position - 1, count))
            due = synced(records, position)
            if due is None:
                due = 1 + bisect.bisect_left(times,
                                             records[position - 1].time + COMMIT_EVERY)
            self.least.append((due, count))
        self.least.sort()
        support.check(self.most == sorted(self.most, key=lambda one: one[1]),
                      'commits add readings and take none')

    @staticmethod
    def at(counts, position):
        return max(count for since, count in counts if since <= position)

    def broken_by(self, count, position):
        """What is wrong with so many readings after a cut there; nothing: all is well."""
        least, most = self.at(self.least, position), self.at(self.most, position)
        if count < least:
            return f'lost: {least - count} of {least} readings that were committed'
        if count > most:
            return f'too many: {count} readings, and {most} were committed'
        return None


def synced(records, commit):
    """The position from which on a commit is synced, where that was all there was to do
    next; else nothing: then it is owed an interval later, synced or not."""
    begun = None
    for position in range(commit, len(records)):
        record = records[position]
        if record.file != records[commit - 1].file:
            continue
        if begun is None and record.op != 'sync':
            return None
        if record.op == 'synced' and record.at == begun:
            return position + 1
        begun = begun or record.at
    return len(records) + 1 if begun else None


def instants(records, cuts, chance):
    """Positions: around every sync first, where writes gather; then anywhere."""
    around = {near for at, record in enumerate(records, 1)
              if record.op in ('sync', 'synced') for near in (at - 1, at, at + 1)}
    chosen = [at for at in around if 0 < at <= len(records)]
    if len(chosen) > cuts // 2:
        chosen = chance.sample(sorted(chosen), cuts // 2)
    while len(chosen) < cuts:
        chosen.append(chance.randint(1, len(records)))
    return sorted(chosen)


def after_each_cut(card, positions, seed):
    """For each position the files that a cut there leaves: bytes by name."""
    for number, position in enumerate(positions):
        card.advance(position)
        yield number, position, card.after_cut(f'{seed} {number}')


@contextlib.contextmanager
def on_disk(files, folder):
    """A folder of these files, until it has been looked at."""
    left = folder / 'left'
    power_cut.write_files(left, files)
    yield left
    shutil.rmtree(left)


def trouble_after_cut(files, position, promise, folder):
    with on_disk(files, folder) as left:
        return trouble_in(left, position, promise)


def trouble_in(left, position, promise):
    try:
        faults = [fault for store in left.glob('*.db') for fault in medium.faults(store)]
        count = support.reading_count(left / 'garden.db')
        if (left / 'copy.db').exists() and not support.reading_count(left / 'copy.db'):
            faults.append('a backup without readings')
    except sqlite3.DatabaseError as error:
        return f'damaged: {error}'
    if faults:
        return f'damaged: {faults[0]}'
    return promise.broken_by(count, position)


def seen_by_programs(life, left, position, promise):
    """What the terminal says of it: whole, as many readings, and each as it was sent."""
    store = left / 'garden.db'
    rimeward = [life.programs / 'rimeward', '--config', life.config, '--store', store]
    answer = json.loads(support.run(*rimeward, 'store', '--check', '--json'))
    support.equal(answer['is_whole'], True, 'whole, says rimeward store')
    trouble = promise.broken_by(answer['readings'], position)
    support.check(trouble is None, f'rimeward store: {trouble}')
    shown = [(support.unix_seconds(row['time']), CHANNELS[row['channel']],
              support.thousandths(row['value']))
             for row in csv.DictReader(support.run(*rimeward, 'export').splitlines())]
    support.equal(len(shown), answer['readings'], 'readings exported')
    support.equal(len(set(shown)), len(shown), 'readings exported, without repeats')
    support.check(set(shown) <= life.sensor.sent, 'only readings that were sent')


def start_again(life, started, left, position, promise):
    """A daemon goes on from what a cut left."""
    config = garden_in(left, life.broker, left / 'garden.db')
    config.write_text(config.read_text().replace('[broker]', '[broker]\nclient_id = "x"'))
    daemon = support.Daemon(life.programs, config, '--clock', 'readings')
    started.append(daemon)
    daemon.start()
    daemon.wait_for('connected')
    daemon.stop()
    trouble = trouble_in(left, position, promise)
    support.check(trouble is None, f'after a start and a stop: {trouble}')


def cuts_survived(life, started, records, options, folder):
    chance = random.Random(options.seed)
    promise = Promise(records, folder)
    positions = instants(records, options.cuts, chance)
    # The terminal wants a store that a daemon has made and brought up to date.
    made = next(at for at, (since, count) in enumerate(promise.least) if count > 0)
    ready = [number for number, position in enumerate(positions)
             if position >= promise.least[made][0]]
    by_programs = set(chance.sample(ready, min(SEEN_BY_PROGRAMS, len(ready))))
    by_daemon = set(chance.sample(range(len(positions)), STARTED_AGAIN))
    for number, position, files in after_each_cut(power_cut.Medium(records), positions,
                                                  options.seed):
        what = f'cut {number} of seed {options.seed}, after record {position}'
        trouble = trouble_after_cut(files, position, promise, folder)
        support.check(trouble is None, f'{what}: {trouble}')
        try:
            if number in by_programs:
                with on_disk(files, folder) as left:
                    seen_by_programs(life, left, position, promise)
            if number in by_daemon:
                with on_disk(files, folder) as left:
                    start_again(life, started, left, position, promise)
        except AssertionError as error:
            raise AssertionError(f'{what}: {error}') from error
    commits = sum(record.ends_commit for record in records)
    print(f'{len(positions)} cuts in {len(records)} writes and syncs, {commits} commits: '
          f'every store whole, no reading lost but of the last {COMMIT_EVERY} s; '
          f'{len(by_programs)} seen by rimeward, {len(by_daemon)} gone on from by '
          'rimewardd')


def cuts_without_syncs(records, options, folder):
    """The same questions, and all that breaks."""
    chance = random.Random(options.seed)
    promise = Promise(records, folder)
    positions = instants(records, options.cuts, chance)
    card = power_cut.Medium(records, WRITTEN_BACK_AFTER)
    troubles = [trouble_after_cut(files, position, promise, folder)
                for _, position, files in after_each_cut(card, positions, options.seed)]
    damaged = [one for one in troubles if one and one.startswith('damaged')]
    lost = [one for one in troubles if one and one.startswith('lost')]
    support.check(damaged, 'without syncs a cut damages the store, and that is seen')
    support.check(lost, 'without syncs a cut loses readings, and that is seen')
    print(f'without syncs, of {len(positions)} cuts {len(damaged)} damaged the store '
          f'("{damaged[0][:60]}") and {len(lost)} lost too much ("{lost[0]}")')


def main():
    options = arguments()
    print(f'seed {options.seed}')
    for swallows in (False, True):
        with support.scratch() as (folder, started), tempfile.TemporaryDirectory(
                prefix='rimeward-cuts-') as cuts:
            life = Life(options.programs, folder.resolve(), started, swallows=swallows)
            life.begin()
            if swallows:
                life.start_over()
                cuts_without_syncs(life.records(), options, pathlib.Path(cuts))
            else:
                life.go_on()
                cuts_survived(life, started, life.records(), options, pathlib.Path(cuts))


if __name__ == '__main__':
    main()
