"""What the system tests share: a private broker, the programs, and the store's rows.

A test is a Python program of the standard library. It takes `--programs FOLDER`, ends with
0 when all is well, 77 when it had to be skipped (saying why), and 1 with the reason.
"""
import argparse
import contextlib
import csv
import datetime
import decimal
import os
import pathlib
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import time
import zlib

ROOT = pathlib.Path(__file__).resolve().parents[2]
SKIPPED = 77


def arguments():
    parser = argparse.ArgumentParser()
    parser.add_argument('--programs', type=pathlib.Path, required=True)
    parsed = parser.parse_args()
    parsed.programs = parsed.programs.resolve()
    return parsed


def skip(why):
    print(f'skipped: {why}')
    sys.exit(SKIPPED)


def shared_folder():
    """The folder of real weather records, or None where it is not there."""
    folder = pathlib.Path(os.environ.get('RIMEWARD_SHARED', ROOT.parent / 'shared'))
    return folder if folder.is_dir() else None


def check(holds, what):
    if not holds:
        raise AssertionError(what)


def equal(got, expected, what):
    if got == expected:
        return
    if isinstance(got, list) and isinstance(expected, list):
        for i, (one, other) in enumerate(zip(got, expected)):
            if one != other:
                raise AssertionError(f'{what}: entry {i}:\n  got      {one}\n  expected {other}')
        raise AssertionError(f'{what}: got {len(got)} entries, expected {len(expected)}')
    raise AssertionError(f'{what}:\n  got      {got}\n  expected {expected}')


def wait_until(holds, what, patience=60.0):
    deadline = time.monotonic() + patience
    while not holds():
        if time.monotonic() > deadline:
            raise AssertionError(f'not within {patience:.0f} s: {what}')
        time.sleep(0.02)


def free_port():
    with socket.socket() as probe:
        probe.bind(('127.0.0.1', 0))
        return probe.getsockname()[1]


class Broker:
    """A Mosquitto of our own on a loopback port, with the shipped drop-in's limits."""

    def __init__(self, folder, passwords=None):
        self.folder = folder
        self.port = free_port()
        self.process = None
        lines = [f'listener {self.port} 127.0.0.1', f'persistence_location {folder}/']
        if os.geteuid() == 0:
            lines.append('user root')
        if passwords:
            file = folder / 'passwords'
            file.touch()
            for user, password in passwords.items():
                subprocess.run(['mosquitto_passwd', '-b', file, user, password], check=True)
            lines += ['allow_anonymous false', f'password_file {file}']
        else:
            lines.append('allow_anonymous true')
        drop_in = (ROOT / 'config' / 'mosquitto-rimeward.conf').read_text()
        self.config = folder / 'mosquitto.conf'
        self.config.write_text('\n'.join(lines) + '\n' + drop_in)

    @property
    def address(self):
        return f'mqtt://127.0.0.1:{self.port}'

    def start(self):
        program = shutil.which('mosquitto') or '/usr/sbin/mosquitto'
        with open(self.folder / 'mosquitto.log', 'a') as log:
            self.process = subprocess.Popen([program, '-c', self.config], stdout=log,
                                            stderr=log)
        wait_until(self.answers, 'the broker listens')

    def answers(self):
        with contextlib.suppress(OSError):
            socket.create_connection(('127.0.0.1', self.port), 1).close()
            return True
        return False

    def stop(self):
        if self.process:
            self.process.terminate()
            self.process.wait(20)
            self.process = None

    def publish(self, topic, *options, user=None, password=None):
        command = ['mosquitto_pub', '-h', '127.0.0.1', '-p', str(self.port), '-q', '1',
                   '-t', topic, *options]
        if user:
            command += ['-u', user, '-P', password]
        subprocess.run(command, check=True, timeout=30)


class Daemon:
    """A rimewardd on its own settings, store and spool.

    Without a `--clock` of the test's it trusts the machine's, which may have been switched
    on a moment ago, with nothing to confirm it.
    """

    def __init__(self, programs, config, *options, environment=None):
        if '--clock' not in options:
            options = (*options, '--clock', 'trusted')
        self.command = [programs / 'rimewardd', '--config', config, *options]
        self.log_file = config.parent / 'rimewardd.log'
        self.environment = {**os.environ, **(environment or {})}
        self.process = None

    def start(self):
        with open(self.log_file, 'a') as log:
            self.process = subprocess.Popen(self.command, stdout=log, stderr=log,
                                            cwd=self.log_file.parent, env=self.environment)

    def stop(self):
        self.process.send_signal(signal.SIGTERM)
        status = self.process.wait(30)
        self.process = None
        equal(status, 0, 'exit status of rimewardd after SIGTERM')

    def kill(self):
        self.process.kill()
        self.process.wait(10)
        self.process = None

    def log(self):
        return self.log_file.read_text()

    def wait_for(self, words, patience=60.0, count=1):
        def said():
            check(self.process.poll() is None, f'rimewardd ended before it said "{words}"')
            return self.log().count(words) >= count
        wait_until(said, f'"{words}" in the log', patience)


@contextlib.contextmanager
def scratch():
    """A folder of the test's own; what the test started in it ends with the test."""
    with tempfile.TemporaryDirectory(prefix='rimeward-system-') as name:
        folder = pathlib.Path(name)
        started = []
        try:
            yield folder, started
        except BaseException:
            log = folder / 'rimewardd.log'
            if log.exists():
                print('--- the end of the daemon\'s log:\n' + log.read_text()[-3000:])
            raise
        finally:
            for one in started:
                if one.process:
                    one.process.kill()
                    one.process.wait(10)


def write_garden(folder, broker_address, position=(48.41, 9.52), zone='Europe/Berlin',
                 kind='outdoors', commit_every='1 s', extra=''):
    """Settings for one place, `station`, with one JSON sensor."""
    file = folder / 'garden.toml'
    file.write_text(f'''
[garden]
name = "Test garden"
latitude = {position[0]}
longitude = {position[1]}
time_zone = "{zone}"

[broker]
address = "{broker_address}"
listen = ["garden/#"]
{extra}
[store]
file = "{folder}/garden.db"
spool = "{folder}/spool"
commit_every = "{commit_every}"

[[place]]
id = "station"
name = "Station"
kind = "{kind}"
keep_above = 0.0
fleece_layers = 2

[[sensor]]
id = "station-probe"
place = "station"
topic = "garden/station/climate"
format = "json"

[[route]]
kind = "mqtt"

[[route]]
kind = "command"
run = ["/bin/sh", "-c", "echo $RIMEWARD_ID $RIMEWARD_REVISION $RIMEWARD_EVENT >>told.txt"]
''')
    return file


def run(*command, status=0, cwd=None):
    done = subprocess.run(command, capture_output=True, text=True, timeout=300, cwd=cwd)
    equal(done.returncode, status, f'exit status of {command} ({done.stderr})')
    return done.stdout


def read_readings(file):
    """What the file says, as the store should: (time, channel, thousandths)."""
    rows = []
    with open(file) as stream:
        for line in csv.DictReader(stream):
            seconds = unix_seconds(line['time'])
            for channel, name in ((1, 'temperature'), (2, 'humidity')):
                if line.get(name) not in (None, '', 'nan'):
                    rows.append((seconds, channel, thousandths(line[name])))
    return sorted(rows)


def unix_seconds(text):
    return int(datetime.datetime.fromisoformat(text.replace('Z', '+00:00')).timestamp())


def thousandths(text):
    value = decimal.Decimal(text) * 1000
    return int(value.to_integral_value(rounding=decimal.ROUND_HALF_UP))


def rows(store, query, *parameters):
    """Read from a store that may be in use."""
    with contextlib.closing(sqlite3.connect(f'file:{store}?mode=ro', uri=True,
                                            timeout=10)) as database:
        return database.execute(query, parameters).fetchall()


def packed_day(packed):
    """(second, value) of each reading of a day, from the form that
    daemon/store/packed_day.h describes."""
    check(packed[0] == 1, f'a packed day of form {packed[0]}')
    numbers = zlib.decompress(packed[5:], wbits=-15)
    equal(int.from_bytes(packed[1:5], 'little'), zlib.crc32(numbers), 'check of a packed day')
    wholes, whole, shift = [], 0, 0
    for byte in numbers:
        whole |= (byte & 0x7f) << shift
        shift += 7
        if byte < 0x80:
            wholes.append(whole)
            whole, shift = 0, 0
    count, step, second = wholes[:3]
    value, *changes = [(whole >> 1) ^ -(whole & 1) for whole in wholes[3:]]
    readings, gap = [(second, value)], 0
    for more, steps in zip(changes[:count - 1], changes[count - 1:], strict=True):
        gap += more
        second, value = second + gap, value + steps * step
        readings.append((second, value))
    return readings


# Behind the readings stand marks, under series 0.
LOOSE = 'recent WHERE series <> 0'


def spooled(store):
    """The number of the last message that the store holds; 0 where it holds none."""
    with contextlib.suppress(sqlite3.OperationalError):
        found = rows(store, 'SELECT value_milli FROM recent WHERE time = 253402300802')
        return found[0][0] if found else 0
    return 0


def readings(store):
    """(time, series, value) of all that are stored, loose and packed."""
    with contextlib.closing(sqlite3.connect(f'file:{store}?mode=ro', uri=True,
                                            timeout=10)) as database:
        database.execute('BEGIN')
        stored = database.execute(f'SELECT time, series, value_milli FROM {LOOSE}').fetchall()
        for day, series, packed in database.execute('SELECT day, series, packed FROM chunk'):
            stored += [(day * 86400 + second, series, value)
                       for second, value in packed_day(packed)]
    return sorted(stored)


def stored_readings(store):
    channels = dict(rows(store, 'SELECT id, channel FROM series'))
    return sorted((time, channels[series], value) for time, series, value in readings(store))


def reading_count(store):
    """How many there are, loose and packed; 0 where there is no store yet."""
    if not store.exists():
        return 0
    with contextlib.closing(sqlite3.connect(f'file:{store}?mode=ro', uri=True,
                                            timeout=10)) as database:
        tables = {row[0] for row in database.execute('SELECT name FROM sqlite_schema')}
        if not {'recent', 'chunk'} <= tables:
            return 0
        return database.execute(f'SELECT (SELECT count(*) FROM {LOOSE}) + '
                                '(SELECT coalesce(sum(readings), 0) FROM chunk)').fetchone()[0]


def memory_of(process):
    """Resident now, and the most so far, in kB."""
    lines = dict(line.split(':', 1) for line in
                 pathlib.Path(f'/proc/{process.pid}/status').read_text().splitlines())
    return tuple(int(lines[name].split()[0]) for name in ('VmRSS', 'VmHWM'))
