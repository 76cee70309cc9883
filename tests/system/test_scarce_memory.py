#!/usr/bin/env python3
"""The daemon where memory is scarce: with 64 MB of address space more than it has at rest
it outlives huge payloads, a long queue at the broker and a store that takes nothing for
long. With next to none it may die, and a restart is all that it takes: nothing that was
acknowledged is lost.
"""
import json
import resource
import subprocess
import time

import medium
import support
from test_power_cut import iso

ENOUGH = 64 << 20
TOPIC = 'garden/station/climate'


class Scarce:
    """A daemon and its broker; many sensors, so that no one is held for a flood."""

    SENSORS = 16

    def __init__(self, programs, folder, started, name):
        folder = folder / name
        folder.mkdir()
        self.broker = support.Broker(folder)
        started.append(self.broker)
        self.broker.start()
        self.folder = folder
        self.trouble = folder / 'trouble'
        card = folder / 'card'
        card.mkdir()
        self.store = card / 'garden.db'
        config = support.write_garden(folder, self.broker.address)
        medium.put_store(config, self.store)
        text = config.read_text()
        for number in range(self.SENSORS):
            text += (f'\n[[sensor]]\nid = "probe-{number}"\nplace = "station"\n'
                     f'topic = "garden/probe-{number}/climate"\nformat = "json"\n')
        config.write_text(text)
        self.daemon = support.Daemon(programs, config, environment=medium.shim(
            programs, card, fails='EIO', fails_while=self.trouble))
        started.append(self.daemon)
        self.starts = 0
        self.began = int(time.time())
        self.sent = 0  # by each sensor

    def start(self):
        self.daemon.start()
        self.starts += 1
        self.daemon.wait_for('connected', count=self.starts)

    def limit(self, more, kind=resource.RLIMIT_AS, used='VmSize'):
        size = self.memory(used) + more
        resource.prlimit(self.daemon.process.pid, kind, (size, size))

    def memory(self, what):
        with open(f'/proc/{self.daemon.process.pid}/status') as status:
            for line in status:
                if line.startswith(what + ':'):
                    return int(line.split()[1]) << 10
        raise AssertionError(f'{what} of the daemon')

    def send(self, count, padding=0):
        """From each sensor in turn, a reading for each second before those."""
        end = self.began - self.sent
        each = count // self.SENSORS
        for number in range(self.SENSORS):
            file = self.folder / 'payloads'
            with open(file, 'w') as stream:
                for i in range(each):
                    stream.write(json.dumps({'time': iso(end - each + i),
                                             'temperature': 8 + i % 600 / 200,
                                             'note': 'x' * padding}) + '\n')
            with open(file) as lines:
                subprocess.run(['mosquitto_pub', '-h', '127.0.0.1', '-p',
                                str(self.broker.port), '-q', '1', '-l', '-t',
                                f'garden/probe-{number}/climate'], stdin=lines,
                               check=True, timeout=120)
        self.sent += each

    def wait_until_stored(self):
        support.wait_until(lambda: support.reading_count(self.store)
                           >= self.SENSORS * self.sent,
                           f'{self.SENSORS * self.sent} readings stored')
        support.equal(support.reading_count(self.store), self.SENSORS * self.sent,
                      'readings stored')

    def is_alive(self):
        return self.daemon.process.poll() is None


def enough(programs, folder, started):
    """Huge payloads, then a store that takes nothing while much arrives."""
    garden = Scarce(programs, folder, started, 'enough')
    garden.start()
    garden.limit(ENOUGH)
    for megabytes in (1, 20, 100):
        file = garden.folder / 'huge'
        file.write_bytes(b'{"temperature": 1' + b' ' * (megabytes << 20) + b'}')
        garden.broker.publish(TOPIC, '-f', str(file))
    garden.send(800)
    garden.wait_until_stored()
    garden.trouble.touch()
    garden.send(80_000, padding=200)
    time.sleep(3)
    support.check(garden.is_alive(), 'the daemon outlives a store that takes nothing')
    garden.trouble.unlink()
    garden.wait_until_stored()
    peak = garden.memory('VmHWM') / 1e6
    garden.daemon.stop()
    support.equal(medium.faults(garden.store), [], 'faults')
    print(f'64 MB more: alive through payloads of 100 MB and a backlog of 80,000, '
          f'{peak:.0f} MB resident at most')


def next_to_none(programs, folder, started):
    """It dies or it does not; what was sent is stored either way."""
    garden = Scarce(programs, folder, started, 'none')
    garden.start()
    garden.send(800)
    garden.wait_until_stored()
    deaths = 0
    for more in (0, 0, 1 << 18):
        garden.trouble.touch()  # so that all that comes has to be remembered
        garden.limit(more, resource.RLIMIT_DATA, 'VmData')
        garden.send(16_000, padding=200)
        time.sleep(2)
        if garden.is_alive():
            garden.daemon.kill()
        else:
            deaths += 1
            support.check(garden.daemon.process.returncode != 0, 'a death is no good end')
        garden.trouble.unlink()
        garden.start()
        garden.wait_until_stored()
    garden.daemon.stop()
    support.equal(medium.faults(garden.store), [], 'faults')
    support.check(deaths > 0, 'it was little enough to die of')
    print(f'next to none: died {deaths} times of 3, all of '
          f'{garden.SENSORS * garden.sent} readings stored')


def main():
    programs = support.arguments().programs
    with support.scratch() as (folder, started):
        folder = folder.resolve()
        try:
            enough(programs, folder, started)
            next_to_none(programs, folder, started)
        except AssertionError:
            for log in folder.glob('*/rimewardd.log'):
                print(f'--- {log}:\n{log.read_text()[-3000:]}')
            raise


if __name__ == '__main__':
    main()
