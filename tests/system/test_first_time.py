#!/usr/bin/env python3
"""`rimeward first-time` at a pseudo-terminal, with a real broker: what is asked, heard and
written; what ends it early; and that it never touches a file that is there."""
import contextlib
import errno
import os
import pathlib
import pty
import select
import subprocess
import sys
import threading
import time
import tomllib

import support

PATIENCE = 60.0


class Terminal:
    """A program at a terminal of its own."""

    def __init__(self, *command):
        self.shown = ''
        self.read = 0  # of `shown`, up to where something was waited for
        self.status = None
        environment = {**os.environ, 'LANG': 'C.UTF-8', 'COLUMNS': '90', 'NO_COLOR': '1',
                       'TZ': 'Europe/Berlin'}
        environment.pop('LC_ALL', None)
        self.process, self.file = pty.fork()
        if self.process == 0:
            try:
                os.execve(command[0], [str(word) for word in command], environment)
            finally:
                os._exit(127)

    def look(self, patience):
        """Takes what is shown within `patience`. False: the program has ended."""
        if not select.select([self.file], [], [], patience)[0]:
            return True
        try:
            piece = os.read(self.file, 4096)
        except OSError as error:
            support.equal(error.errno, errno.EIO, 'what ends a terminal')
            piece = b''
        self.shown += piece.decode('utf-8', 'replace').replace('\r\n', '\n')
        return bool(piece)

    def expect(self, words, patience=PATIENCE):
        deadline = time.monotonic() + patience
        while words not in self.shown[self.read:]:
            support.check(time.monotonic() < deadline and self.look(0.2),
                          f'not shown: {words}\n--- but:\n{self.shown}')
        self.read = self.shown.index(words, self.read) + len(words)

    def type(self, line):
        os.write(self.file, line.encode() + b'\n')

    def answer(self, question, line=''):
        self.expect(question)
        self.type(line)

    def press(self, key):
        os.write(self.file, key)

    def end(self, status):
        while self.look(PATIENCE):
            pass
        os.close(self.file)
        _, ended = os.waitpid(self.process, 0)
        self.process = None
        support.equal(os.waitstatus_to_exitcode(ended), status,
                      f'exit status of\n{self.shown}\n')
        return self.shown


class Sensors:
    """Publishes the same messages again and again, as sensors do."""

    def __init__(self, broker, messages):
        self.over = threading.Event()
        self.broker = broker
        self.messages = messages
        self.thread = threading.Thread(target=self.run, daemon=True)

    def run(self):
        while not self.over.wait(0.5):
            for topic, payload in self.messages:
                with contextlib.suppress(subprocess.CalledProcessError):
                    self.broker.publish(topic, '-m', payload)

    def __enter__(self):
        self.thread.start()

    def __exit__(self, *_):
        self.over.set()
        self.thread.join(20)


def first_time(programs, config):
    return Terminal(programs / 'rimeward', '--config', config, 'first-time')


def answer_about_the_garden(terminal):
    terminal.answer('What is the garden called?', 'Hochfeld school garden')
    terminal.answer('Where does it lie?', '48°24\'36"N 9°31\'12"E')
    terminal.expect('48.41 north, 9.52 east.')
    terminal.answer('Its time zone? [Europe/Berlin]')
    terminal.expect('There the sun rises at')
    terminal.answer('Is that about right? [yes]')
    terminal.answer('celsius or fahrenheit? [celsius]')
    terminal.answer('Language of the notices: en or de? [en]')
    terminal.answer('The first place', 'North frame')
    terminal.answer('What is it', '')
    terminal.answer('most tender plants', 'half-hardy')
    terminal.answer('should it be aired? [22.0]')
    terminal.answer('Another place?', 'Yard')
    terminal.answer('[outdoors]')
    terminal.answer('most tender plants')
    terminal.answer('Another place?')


def answer_about_the_broker(terminal, address, user='', password_file=None):
    terminal.answer('Address of the broker?', address)
    terminal.answer('User who logs in there?', user)
    if password_file:
        terminal.answer('File whose first line is the password?', str(password_file))
    terminal.answer('Which topics to listen to? [#]')


def listeners(broker):
    """Processes that still listen to that broker."""
    found = []
    for folder in pathlib.Path('/proc').glob('[0-9]*'):
        with contextlib.suppress(OSError):
            words = (folder / 'cmdline').read_bytes()
            if b'--listen' in words and str(broker.port).encode() in words:
                found.append(words)
    return found


def whole_set_up(programs, folder, broker):
    config = folder / 'new' / 'garden.toml'
    broker.publish('garden/north-frame/climate', '-r', '-m',
                   '{"temperature": 3.1, "humidity": 81}')
    live = [('garden/yard/temperature', '2.4'), ('garden/noise', '\x1b[31mwhat?')]
    with Sensors(broker, live):
        terminal = first_time(programs, config)
        answer_about_the_garden(terminal)
        answer_about_the_broker(terminal, broker.address)
        terminal.answer('for how long? [30 s]', '6 s')
        terminal.expect('garden/north-frame/climate (kept by the broker): '
                        'temperature 3.1 °C, humidity 81 %')
        terminal.answer('Listen once more', '')
    terminal.expect('garden/north-frame/climate says')
    terminal.answer('Which place is it in? [north-frame]')
    terminal.answer('What is the sensor called? [north-frame-climate]')
    terminal.expect('garden/yard/temperature says')
    terminal.answer('Which place is it in? [yard]')
    terminal.answer('What is the sensor called? [yard-temperature]', 'yard-probe')
    support.check(not config.exists(), 'written before the last question')
    terminal.answer('Write it to', 'yes')
    shown = terminal.end(0)
    for words in ('garden/yard/temperature: temperature 2.4 °C',
                  'garden/noise: cannot be adopted',
                  'Topics or devices heard: 3; that can be read: 2.',
                  'A forecast is never a promise', f'rimeward --config {config} check'):
        support.check(words in shown, f'not shown: {words}\n{shown}')
    support.check('\x1b' not in shown, 'a payload reached the terminal as it was')
    return config, shown


def check_written(programs, config, broker):
    settings = tomllib.loads(config.read_text())
    support.equal(settings['garden']['latitude'], 48.41, 'latitude')
    support.equal(settings['broker']['address'], broker.address, 'address')
    support.equal(settings['broker']['listen'], ['garden/#'], 'listen')
    support.equal([place['id'] for place in settings['place']], ['north-frame', 'yard'],
                  'places')
    support.equal([(sensor['id'], sensor['place']) for sensor in settings['sensor']],
                  [('north-frame-climate', 'north-frame'), ('yard-probe', 'yard')],
                  'sensors')
    checked = support.run(programs / 'rimeward', '--config', config, 'check')
    support.check('places 2, sensors 2' in ' '.join(checked.split()), checked)


def refused_where_there_is_a_file(programs, config):
    before = (config.read_bytes(), config.stat().st_mtime_ns)
    shown = first_time(programs, config).end(1)
    support.check(f'{config} is there already' in shown, shown)
    support.equal((config.read_bytes(), config.stat().st_mtime_ns), before, 'the file')


def ended_early(programs, folder, broker):
    config = folder / 'early' / 'garden.toml'
    for key in (b'\x03', b'\x04'):  # Ctrl-C, and Ctrl-D: the end of the input
        terminal = first_time(programs, config)
        terminal.answer('What is the garden called?', 'Hochfeld')
        terminal.expect('Where does it lie?')
        terminal.press(key)
        support.check('nothing was written' in terminal.end(1), 'ended at a question')
    terminal = first_time(programs, config)
    answer_about_the_garden(terminal)
    answer_about_the_broker(terminal, broker.address)
    terminal.answer('for how long? [30 s]', '300 s')
    terminal.expect('Listening for 300 seconds')
    support.wait_until(lambda: listeners(broker), 'rimewardd listens')
    terminal.press(b'\x03')
    support.check('nothing was written' in terminal.end(1), 'ended while it listened')
    support.check(not listeners(broker), 'a rimewardd is left behind')
    support.check(not config.parent.exists(), 'something was written')


def broker_that_refuses(programs, folder, started):
    strict = support.Broker(folder / 'strict', {'rimeward': 'seedling'})
    started.append(strict)
    strict.start()
    password = folder / 'password'
    password.write_text('seedling\n')
    strict.publish('garden/yard/temperature', '-r', '-m', '2.4', user='rimeward',
                   password='seedling')
    config = folder / 'strict.toml'
    terminal = first_time(programs, config)
    answer_about_the_garden(terminal)
    answer_about_the_broker(terminal, strict.address)
    terminal.answer('for how long? [30 s]')
    terminal.expect('refused the user name or password')
    terminal.answer('Try again', 'other')
    answer_about_the_broker(terminal, '', 'rimeward', password)
    terminal.answer('for how long? [30 s]', '5')
    terminal.answer('Listen once more')
    terminal.answer('Which place is it in? [yard]')
    terminal.answer('What is the sensor called?')
    terminal.answer('Write it to')
    shown = terminal.end(0)
    support.check('seedling' not in shown + config.read_text(), 'the password is shown')
    support.run(programs / 'rimeward', '--config', config, 'check')
    strict.stop()
    return config


def broker_that_is_away(programs, folder):
    config = folder / 'away.toml'
    terminal = first_time(programs, config)
    answer_about_the_garden(terminal)
    answer_about_the_broker(terminal, f'127.0.0.1:{support.free_port()}')
    terminal.answer('for how long? [30 s]')
    terminal.expect('could not connect')
    terminal.answer('Try again', 'without')
    terminal.answer('Write it to')
    shown = terminal.end(0)
    support.check('sensors --heard' in shown, shown)
    support.equal(tomllib.loads(config.read_text()).get('sensor'), None, 'sensors')


def without_a_terminal(programs, folder):
    config = folder / 'none.toml'
    done = subprocess.run([programs / 'rimeward', '--config', config, 'first-time'],
                          stdin=subprocess.DEVNULL, capture_output=True, text=True,
                          timeout=60)
    support.equal(done.returncode, 2, 'exit status without a terminal')
    support.check('no terminal' in done.stderr, done.stderr)
    support.check('place' in tomllib.loads(done.stdout), done.stdout)
    support.check(not config.exists(), 'written without a terminal')


def main():
    programs = support.arguments().programs
    with support.scratch() as (folder, started):
        broker = support.Broker(folder)
        started.append(broker)
        broker.start()
        config, shown = whole_set_up(programs, folder, broker)
        check_written(programs, config, broker)
        refused_where_there_is_a_file(programs, config)
        ended_early(programs, folder, broker)
        (folder / 'strict').mkdir()
        broker_that_refuses(programs, folder, started)
        broker_that_is_away(programs, folder)
        without_a_terminal(programs, folder)
        broker.stop()
        if os.environ.get('RIMEWARD_SHOW_SESSION'):
            print(shown)
        print('first-time: a garden set up, refusals and interrupts write nothing')


if __name__ == '__main__':
    sys.exit(main())
