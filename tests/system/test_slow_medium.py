#!/usr/bin/env python3
"""A card that answers slowly, two seconds for each sync: every message is taken and none
that was acknowledged is lost, not even by a kill; the service manager hears that the
daemon lives, well within the patience that the shipped unit asks of it; and a frost
notice is out within seconds.
"""
import json
import os
import random
import subprocess
import time

import medium
import support
from test_delivery import Cover, Garden, command_route, lines_of
from test_power_cut import iso

SYNC_TAKES = 2000  # milliseconds
WRITE_TAKES = 2
PATIENCE = 10.0  # seconds; the unit's WatchdogSec is three times that
AT_ONCE = 3000  # messages
FIRST_START = 90.0  # seconds: as long as a service manager waits for one, if not told
IN_TIME = 15.0  # seconds from the reading to the telling


def payload(at):
    return json.dumps({'time': iso(at), 'temperature': 8 + at % 600 / 200})


class Sensor:
    def __init__(self, broker, folder):
        self.broker, self.folder = broker, folder
        self.sent = []

    def send_many(self, until):
        """One for each second before, acknowledged one and all."""
        times = range(until - AT_ONCE, until)
        file = self.folder / 'payloads'
        file.write_text(''.join(payload(at) + '\n' for at in times))
        with open(file) as lines:
            subprocess.run(['mosquitto_pub', '-h', '127.0.0.1', '-p',
                            str(self.broker.port), '-q', '1', '-t',
                            'garden/station/climate', '-l'], stdin=lines, check=True,
                           timeout=120)
        self.sent += times

    def send_for(self, seconds):
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            at = max(int(time.time()), self.sent[-1] + 1)
            self.broker.publish('garden/station/climate', '-m', payload(at))
            self.sent.append(at)
            time.sleep(1)


def nothing_is_lost(programs, instant):
    with support.scratch() as (folder, started):
        broker = support.Broker(folder)
        started.append(broker)
        broker.start()
        card = folder.resolve() / 'card'
        card.mkdir()
        store = card / 'garden.db'
        config = support.write_garden(folder, broker.address)
        medium.put_store(config, store)
        supervisor = medium.Supervisor(folder, PATIENCE)
        daemon = support.Daemon(programs, config, environment={
            **supervisor.environment,
            **medium.shim(programs, card, sync_takes=SYNC_TAKES,
                          write_takes=WRITE_TAKES)})
        started.append(daemon)
        began = time.monotonic()
        daemon.start()
        daemon.wait_for('connected', FIRST_START)
        first_start = time.monotonic() - began
        support.equal(supervisor.told[0][1], 'READY=1', 'the first word')

        sensor = Sensor(broker, folder)
        sensor.send_many(int(time.time()))
        sensor.send_for(5 + instant)
        daemon.kill()
        supervisor.ended()
        daemon.start()
        daemon.wait_for('connected', FIRST_START, count=2)
        sensor.send_for(5)
        support.wait_until(lambda: support.reading_count(store) >= len(sensor.sent),
                           f'{len(sensor.sent)} readings stored')
        silence = supervisor.longest_silence()
        daemon.stop()
        support.equal([at for at, _, _ in support.stored_readings(store)], sensor.sent,
                      'readings stored and sent')
        support.equal(medium.faults(store), [], 'faults')
        fed = [word for _, word in supervisor.told].count('WATCHDOG=1')
        support.check(fed > 5, f'the watchdog is fed: {fed} times')
        support.check(silence < PATIENCE, f'silent for {silence:.1f} s')
        print(f'{SYNC_TAKES / 1000} s a sync: the first start took {first_start:.0f} s; '
              f'all of {len(sensor.sent)} messages stored, through a kill; the watchdog '
              f'waited {silence:.1f} s at most')


def notices_are_in_time(programs):
    with support.scratch() as (folder, started):
        broker = support.Broker(folder)
        started.append(broker)
        broker.start()
        cover = Cover(programs, folder)
        garden = Garden(programs, folder, started, broker, cover,
                        command_route('echo $RIMEWARD_KIND >>told.txt'))
        card = folder.resolve() / 'card'
        card.mkdir()
        garden.store = card / 'garden.db'
        medium.put_store(garden.config, garden.store)
        garden.start()
        garden.read(cover.readings[0][0], cover.raised_at - 1)
        garden.daemon.stop()
        support.equal(lines_of(folder / 'told.txt'), [], 'told before')

        garden.daemon.environment.update(
            medium.shim(programs, card, sync_takes=SYNC_TAKES, write_takes=WRITE_TAKES))
        garden.start()
        began = time.monotonic()
        for when, words in garden.cover.readings:
            if cover.raised_at - 1 <= when <= cover.raised_at + 1800:
                broker.publish('garden/station/climate', '-m', words)
        support.wait_until(lambda: lines_of(folder / 'told.txt') == ['cover'],
                           'told by the command', IN_TIME)
        print(f'a cover notice: told {time.monotonic() - began:.1f} s after the reading')
        garden.daemon.stop()


def main():
    programs = support.arguments().programs
    seed = int(os.environ.get('RIMEWARD_SEED', time.time_ns() % 1_000_000))
    print(f'seed {seed}')
    nothing_is_lost(programs, random.Random(seed).uniform(0, 3))
    notices_are_in_time(programs)


if __name__ == '__main__':
    main()
