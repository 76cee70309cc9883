#!/usr/bin/env python3
"""Records in and out of a store that is in use: a past is imported while the daemon hears
its sensor, the daemon starts over by itself, and week and warmth then show that past. An
import that is killed is finished by running it again; a pipe from one garden fills another;
the bar of progress is there on a terminal and nowhere else."""
import contextlib
import csv
import datetime
import fcntl
import json
import math
import os
import pty
import re
import select
import sqlite3
import struct
import subprocess
import tempfile
import termios
import threading
import time
import zoneinfo

import support

ZONE = zoneinfo.ZoneInfo('Europe/Berlin')
DAY = datetime.timedelta(days=1)
EVERY = 600  # seconds between two readings
DAYS = 400
HEAD = 'time,sensor,place,channel,value\n'


def iso(seconds):
    at = datetime.datetime.fromtimestamp(seconds, datetime.timezone.utc)
    return at.strftime('%Y-%m-%dT%H:%M:%SZ')


def temperature(seconds):
    """20 degrees C, 5 more and 5 less in the course of a day: in thousandths."""
    return 20000 + round(5000 * math.sin((seconds % 86400) / 86400 * 2 * math.pi))


def past(until, days=DAYS, every=EVERY):
    """(seconds, thousandths) of the station's air, up to yesterday."""
    first = until - days * 86400
    return [(at, temperature(at)) for at in range(first - first % every, until, every)]


def write_past(file, readings):
    with open(file, 'w') as stream:
        stream.write(HEAD)
        for at, value in readings:
            stream.write(f'{iso(at)},station-probe,station,temperature,{value / 1000:g}\n')


def dump(store):
    """All that is in a store that nobody uses."""
    with contextlib.closing(sqlite3.connect(store)) as database:
        return list(database.iterdump())


def new_garden(programs, folder, started, broker):
    """A store as the daemon makes it; the settings file."""
    folder.mkdir()
    config = support.write_garden(folder, broker.address, commit_every='200 ms')
    daemon = support.Daemon(programs, config)
    started.append(daemon)
    daemon.start()
    daemon.wait_for('connected')
    return config, daemon


def check_bad_lines(rimeward, folder):
    file = folder / 'bad.csv'
    file.write_text(HEAD + '2024-04-12T00:00:00Z,station-probe,station,temperature,3\n'
                    '2024-04-12T00:10:00Z,station-probe,station,temperature,abc\n')
    done = subprocess.run([*rimeward, 'import', file], capture_output=True, text=True,
                          timeout=60)
    support.equal(done.returncode, 1, 'exit status of an import with a bad line')
    support.equal(done.stderr.splitlines()[0],
                  f'rimeward: {file}:3: value "abc" is not a number', 'the bad line')


class Listener:
    """Publishes a reading every so often while something else goes on."""

    def __init__(self, broker):
        self.broker = broker
        self.sent = 0
        self.stop = threading.Event()
        self.thread = threading.Thread(target=self.run)

    def run(self):
        while not self.stop.is_set():
            self.broker.publish('garden/station/climate', '-m',
                                json.dumps({'humidity': 40 + self.sent % 50}))
            self.sent += 1
            self.stop.wait(1.05)

    def __enter__(self):
        self.thread.start()
        return self

    def __exit__(self, *_):
        self.stop.set()
        self.thread.join()


def heard_count(store):
    return sum(channel == 2 for _, channel, _ in support.stored_readings(store))


def check_week(rimeward, readings, first, last):
    """The highs and lows of the dates, against those of the readings themselves."""
    lows, highs = {}, {}
    for at, value in readings:
        local = datetime.datetime.fromtimestamp(at, ZONE)
        began = local.date() - DAY * (local.hour < 9)
        highs[began] = max(value, highs.get(began, value))
        lows[began + DAY] = min(value, lows.get(began + DAY, value))
    text = support.run(*rimeward, 'week', '--from', first.isoformat(), '--to',
                       last.isoformat(), '--csv')
    shown = {row['date']: row for row in csv.DictReader(text.splitlines())}
    date = first
    while date <= last:
        row = shown[date.isoformat()]
        support.equal((support.thousandths(row['low']), support.thousandths(row['high'])),
                      (lows[date], highs[date]), f'low and high of {date}')
        date += DAY


def check_living_import(programs, folder, started, broker):
    """Answers the file that was imported and its settings, the daemon stopped."""
    config, daemon = new_garden(programs, folder, started, broker)
    rimeward = [programs / 'rimeward', '--config', config]
    store = folder / 'garden.db'
    today = datetime.datetime.now(ZONE).date()
    readings = past(int(time.time()) - 2 * 86400)
    file = folder / 'past.csv'
    write_past(file, readings)
    sown = today - 62 * DAY
    support.run(*rimeward, 'batch', 'add', 'chilli', '--place', 'station', '--sown',
                sown.isoformat())
    check_bad_lines(rimeward, folder)

    with Listener(broker) as listener:
        support.wait_until(lambda: heard_count(store) > 0, 'the sensor is heard')
        answer = json.loads(support.run(*rimeward, 'import', file, '--json'))
        support.equal(answer['imported'], len(readings), 'readings imported')
        daemon.wait_for('starting over from the store')
        daemon.wait_for('connected', count=2)
        time.sleep(1.2)
    support.wait_until(lambda: heard_count(store) == listener.sent,
                       f'{listener.sent} readings that came meanwhile are stored')
    support.check('another program holds it' not in daemon.log(),
                  'no commit of the daemon failed')
    stored = [(at, value) for at, channel, value in support.stored_readings(store)
              if channel == 1]
    support.equal(stored, readings, 'rows stored and rows of the file')

    check_week(rimeward, readings, today - 300 * DAY, today - 4 * DAY)

    # Ten degrees above the base of chillies on every day that was imported.
    def celsius_days():
        batch = json.loads(support.run(*rimeward, 'warmth', '--json'))['batches'][0]
        return batch['celsius_days'] / (batch['hours'] or 1) * 24
    support.wait_until(lambda: abs(celsius_days() - 10) < 0.5,
                       'warmth knows the past that was imported')
    daemon.stop()

    before = dump(store)
    text = support.run(*rimeward, 'import', file)
    support.equal(text, f'no reading imported, {len(readings)} were there already\n',
                  'the same file again')
    support.check(dump(store) == before, 'the same file twice changes nothing')
    print(f'{len(readings)} readings imported beside {listener.sent} that were heard')
    return config, file, readings


def check_killed(programs, folder, started, broker, file, readings):
    """An import that is killed and run again stores what one that runs through does."""
    config, daemon = new_garden(programs, folder, started, broker)
    daemon.stop()
    store = folder / 'garden.db'
    command = [programs / 'rimeward', '--config', config, 'import', file]
    kills = 0
    while True:
        process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        had = support.reading_count(store)
        while process.poll() is None and support.reading_count(store) == had:
            time.sleep(0.005)
        if process.poll() is None and kills < 3:
            process.kill()
            process.wait(10)
            kills += 1
            continue
        said = process.communicate(timeout=120)[0]
        support.equal(process.returncode, 0, 'exit status of the import')
        break
    support.check(kills > 0, 'the import was killed at least once')
    with contextlib.closing(sqlite3.connect(store)) as database:
        support.equal(database.execute('PRAGMA integrity_check').fetchall(), [('ok',)],
                      'the store is whole')
    support.equal([(at, value) for at, _, value in support.stored_readings(store)], readings,
                  'rows after the kills')
    support.equal(support.rows(store, "SELECT detail FROM action WHERE verb = 'import' "
                                      'ORDER BY id DESC LIMIT 1'), [('',)],
                  'the daemon is told to start over')
    print(f'killed {kills} times: {said.strip()}')


def check_pipe(programs, folder, started, broker, source):
    """What one garden exports another imports from its standard input."""
    config, daemon = new_garden(programs, folder, started, broker)
    daemon.stop()
    for options in ([], ['--json'], ['days']):
        there = [programs / 'rimeward', '--config', source, 'export', *options]
        here = [programs / 'rimeward', '--config', config]
        with subprocess.Popen(there, stdout=subprocess.PIPE) as exporting:
            done = subprocess.run([*here, 'import', '-'], stdin=exporting.stdout,
                                  capture_output=True, text=True, timeout=120)
        support.equal((done.returncode, done.stderr), (0, ''), f'import from {options}')
    for what in ('readings', 'days'):
        support.equal(support.run(*here, 'export', what),
                      support.run(programs / 'rimeward', '--config', source, 'export', what),
                      f'{what} of the two gardens')
    with open('/dev/full', 'w') as full:
        done = subprocess.run([*here, 'export'], stdout=full, stderr=subprocess.PIPE,
                              text=True, timeout=60)
    support.equal(done.returncode, 1, 'exit status of an export onto a full disk')
    support.check('No space left' in done.stderr, f'why it failed: {done.stderr}')


def run_on_terminal(command, columns, environment):
    """Runs with stderr on a terminal of its own; (stdout, what the terminal got)."""
    main, secondary = pty.openpty()
    fcntl.ioctl(secondary, termios.TIOCSWINSZ, struct.pack('HHHH', 24, columns, 0, 0))
    shown = b''
    # A file: a pipe that nobody reads meanwhile would stop a long answer.
    with tempfile.TemporaryFile('w+') as stdout:
        process = subprocess.Popen(command, stdout=stdout, stderr=secondary,
                                   env={**os.environ, **environment})
        os.close(secondary)
        ended = time.monotonic() + 120
        while time.monotonic() < ended:
            ready, _, _ = select.select([main], [], [], 0.1)
            if not ready and process.poll() is not None:
                break
            if ready:
                try:
                    shown += os.read(main, 65536)
                except OSError:  # nobody has the terminal any more
                    break
        os.close(main)
        support.equal(process.wait(30), 0, f'exit status of {command}')
        stdout.seek(0)
        return stdout.read(), shown.decode()


def check_progress(programs, folder, started, broker):
    config, daemon = new_garden(programs, folder, started, broker)
    daemon.stop()
    file = folder / 'past.csv'
    readings = past(int(time.time()) - 86400, every=60, days=500)
    write_past(file, readings)
    command = [programs / 'rimeward', '--config', config, 'import', file]
    for columns, locale in ((100, 'C.UTF-8'), (100, 'C')):
        (folder / 'garden.db').unlink()
        for log in folder.glob('garden.db-*'):
            log.unlink()
        daemon.start()
        support.wait_until((folder / 'garden.db').exists, 'a new store')
        daemon.wait_for('connected', count=1)
        daemon.stop()
        said, shown = run_on_terminal(command, columns, {
            'LC_ALL': locale, 'NO_COLOR': '1', 'TERM': 'xterm', 'COLUMNS': str(columns)})
        support.equal(said, f'{len(readings)} readings imported\n', 'what was said')
        lines = [line for line in shown.split('\r') if line.strip()]
        support.check(len(lines) >= 5, f'drawn several times, not {len(lines)}')
        bar = r'[█▏▎▍▌▋▊▉·]+' if locale == 'C.UTF-8' else r'\[[#.]+\]'
        whole = re.compile(rf' {bar}  +\d+ %  [\d,]+ rows/s  \d+ (s|min) left *$')
        support.check(any(whole.search(line) for line in lines),
                      f'a bar with rate and time left in {lines[-3:]}')
        support.check(any(line.startswith('importing ') for line in lines),
                      'what is done is told')
        support.check(all(len(line) < columns for line in lines), 'no line is too wide')
        support.check('\x1b' not in shown and '\n' not in shown, 'only blanks and returns')
        support.check(shown.endswith('\r') and not shown.split('\r')[-2].strip(),
                      'the bar is gone at the end')
    done = subprocess.run(command, capture_output=True, text=True, timeout=120)
    support.equal((done.returncode, done.stderr), (0, ''), 'no bar without a terminal')
    _, shown = run_on_terminal([programs / 'rimeward', '--config', config, 'export'], 80,
                               {'LC_ALL': 'C.UTF-8', 'TERM': 'xterm'})
    support.check('exporting readings' in shown and 'rows/s' in shown,
                  f'the bar of an export: {shown[-200:]!r}')
    print(f'the bar was seen over {len(readings)} readings')


def main():
    programs = support.arguments().programs
    with support.scratch() as (folder, started):
        broker = support.Broker(folder)
        started.append(broker)
        broker.start()
        config, file, readings = check_living_import(programs, folder / 'living', started,
                                                     broker)
        check_killed(programs, folder / 'killed', started, broker, file, readings)
        check_pipe(programs, folder / 'pipe', started, broker, config)
        check_progress(programs, folder / 'progress', started, broker)


if __name__ == '__main__':
    main()
