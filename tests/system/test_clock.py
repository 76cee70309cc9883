#!/usr/bin/env python3
"""A board without a battery clock: what arrives before its clock is set is kept and then
stored at its true time, also when the daemon is killed meanwhile; and a clock that is
stepped in service loses no row, and puts no two at one second or in the wrong order.

The real daemon and broker, with the system's clock (not the time since boot) bent by
libfaketime.
"""
import glob
import json
import shutil
import time

import support

TOPIC = 'garden/station/climate'
TOLERANCE = 2  # seconds


class BentClock:
    """The system's clock as the daemon sees it: the real one and an offset."""

    def __init__(self, folder, library):
        self.file = folder / 'offset'
        self.environment = {
            'LD_PRELOAD': library,
            'FAKETIME_TIMESTAMP_FILE': str(self.file),
            'FAKETIME_NO_CACHE': '1',
            'FAKETIME_DONT_FAKE_MONOTONIC': '1',
            'FAKETIME_DISABLE_SHM': '1',
            'NO_FAKE_STAT': '1',
        }

    def set(self, offset):
        draft = self.file.with_suffix('.new')
        draft.write_text(f'{offset:+d}\n')
        draft.rename(self.file)

    def set_to_1970(self):
        self.set(30 - int(time.time()))


class Sender:
    """Sends readings that can be told apart by their value, and knows when each went."""

    def __init__(self, broker):
        self.broker = broker
        self.sent = []  # (thousandths, real time)
        self.apart = 2.5  # seconds: no two in one, though one comes late on a busy machine

    def send(self, tells_time=False):
        if self.sent:
            time.sleep(max(0.0, self.sent[-1][1] + self.apart - time.time()))
        value = 3000 + 50 * len(self.sent)
        payload = {'temperature': value / 1000}
        if tells_time:
            payload['time'] = time.strftime('%Y-%m-%dT%H:%M:%SZ', time.gmtime())
        self.broker.publish(TOPIC, '-m', json.dumps(payload))
        self.sent.append((value, time.time()))

    def send_some(self, count):
        for _ in range(count):
            self.send()
        time.sleep(1)

    def wait_until_stored(self, store):
        support.wait_until(lambda: support.reading_count(store) >= len(self.sent),
                           f'{len(self.sent)} readings stored', 30)


def check_times(store, sender):
    """Every reading is stored once, at its real time."""
    stored = support.stored_readings(store)
    support.equal([value for _, _, value in stored], [value for value, _ in sender.sent],
                  'values in the order of their times')
    for (at, _, value), (_, real) in zip(stored, sender.sent):
        support.check(abs(at - real) <= TOLERANCE,
                      f'{value / 1000} is stored {at - real:.1f} s off')


def set_up(folder, started, programs, library, *options):
    broker = support.Broker(folder)
    started.append(broker)
    broker.start()
    clock = BentClock(folder, library)
    daemon = support.Daemon(programs, support.write_garden(folder, broker.address),
                            *options, environment=clock.environment)
    started.append(daemon)
    return clock, daemon, Sender(broker), folder / 'garden.db'


def woken_in_1970(programs, library, killed):
    with support.scratch() as (folder, started):
        clock, daemon, sender, store = set_up(folder, started, programs, library,
                                              '--clock', 'system')
        clock.set_to_1970()
        daemon.start()
        daemon.wait_for('connected')
        daemon.wait_for('which cannot be: readings are kept and wait')
        sender.send_some(4)
        if killed:
            daemon.kill()
            daemon.start()
            daemon.wait_for('connected', count=2)
            sender.send_some(2)
        support.equal(support.reading_count(store), 0, 'readings stored in 1970')

        clock.set(0)
        sender.send(tells_time=True)
        daemon.wait_for('is believed')
        daemon.wait_for('messages that waited for the clock')
        sender.send()
        sender.wait_until_stored(store)
        daemon.stop()
        check_times(store, sender)
        how = ', killed while they waited' if killed else ''
        print(f'woken in 1970{how}: {len(sender.sent)} readings, each at its true time')


def past_unharmed(programs, library):
    """What was stored before the board woke in 1970 stays as it is, and is shown."""
    with support.scratch() as (folder, started):
        clock, daemon, sender, store = set_up(folder, started, programs, library,
                                              '--clock', 'system')
        clock.set(0)
        daemon.start()
        daemon.wait_for('connected')
        sender.send(tells_time=True)
        sender.send_some(2)
        sender.wait_until_stored(store)
        daemon.stop()
        before = support.stored_readings(store)

        shutil.rmtree(folder / 'spool')  # in memory: the board was switched off
        clock.set_to_1970()
        daemon.start()
        daemon.wait_for('connected', count=2)
        daemon.wait_for('readings are kept and wait')
        sender.send_some(3)
        support.equal(support.stored_readings(store), before, 'what was stored before')
        now = json.loads(support.run(programs / 'rimeward', '--config',
                                     folder / 'garden.toml', 'now', '--json'))
        support.equal(len(now['places']), 1, 'places that rimeward now shows')
        clock.set(0)
        sender.send(tells_time=True)
        daemon.wait_for('messages that waited for the clock')
        sender.wait_until_stored(store)
        daemon.stop()
        check_times(store, sender)
        for table, column in (('recent', 'time'), ('hourly', 'hour'),
                              ('outlook', 'issued_at')):
            oldest = support.rows(store, f'SELECT min({column}) FROM {table}')[0][0]
            support.check(oldest is None or oldest > before[0][0] - 7200,
                          f'nothing of 1970 in {table}')
        print(f'{len(before)} readings from before stayed as they were through 1970')


def stopped_while_waiting(programs, library):
    with support.scratch() as (folder, started):
        clock, daemon, sender, store = set_up(folder, started, programs, library,
                                              '--clock', 'system')
        clock.set_to_1970()
        daemon.start()
        daemon.wait_for('connected')
        sender.send_some(3)
        daemon.stop()
        support.check('messages that waited for the clock: 3, kept in the spool'
                      in daemon.log(), 'the stop says that they are kept')
        clock.set(0)
        daemon = support.Daemon(programs, folder / 'garden.toml', '--clock', 'trusted',
                                environment=clock.environment)
        started.append(daemon)
        daemon.start()
        sender.wait_until_stored(store)
        daemon.stop()
        check_times(store, sender)
        print('stopped while they waited: taken at the next start, at their true times')


def stepped_in_service(programs, library):
    with support.scratch() as (folder, started):
        clock, daemon, sender, store = set_up(folder, started, programs, library,
                                              '--clock', 'trusted')
        clock.set(0)
        daemon.start()
        daemon.wait_for('connected')
        sender.send_some(4)
        clock.set(-7200)
        daemon.wait_for('the clock was set back by 2 h')
        daemon.wait_for('it runs at half speed until the two agree, in about 4 h')
        sender.apart *= 2
        sender.send_some(4)
        daemon.kill()
        daemon.start()
        daemon.wait_for('connected', count=2)
        sender.send_some(3)
        sender.wait_until_stored(store)

        clock.set(0)
        time.sleep(3)
        clock.set(7200)
        daemon.wait_for('the clock was set forward by')
        ahead = len(sender.sent)
        sender.send_some(3)
        sender.wait_until_stored(store)
        daemon.stop()

        times = [at for at, _, _ in support.stored_readings(store)]
        support.equal([value for _, _, value in support.stored_readings(store)],
                      [value for value, _ in sender.sent], 'values in the order of times')
        support.check(times == sorted(set(times)), f'no two rows at one second: {times}')
        slow_for = sender.sent[ahead - 1][1] - sender.sent[3][1]
        lag = sender.sent[ahead - 1][1] - times[ahead - 1]
        support.check(0 <= lag <= slow_for / 2 + TOLERANCE,
                      f'{lag:.1f} s made good in {slow_for:.1f} s')
        for at, (_, real) in list(zip(times, sender.sent))[ahead:]:
            support.check(abs(at - real - 7200) <= TOLERANCE, 'the step forward is followed')
        support.equal(support.rows(store, 'SELECT count(*) FROM doubtful'), [(0,)],
                      'doubtful readings')
        print(f'stepped back and forth by two hours: {len(times)} rows in order, '
              f'{lag:.0f} s made good in {slow_for:.0f} s')


def main():
    programs = support.arguments().programs
    libraries = glob.glob('/usr/lib/*/faketime/libfaketimeMT.so.1')
    if not libraries:
        support.skip('libfaketime is not installed')
    woken_in_1970(programs, libraries[0], killed=False)
    woken_in_1970(programs, libraries[0], killed=True)
    past_unharmed(programs, libraries[0])
    stopped_while_waiting(programs, libraries[0])
    stepped_in_service(programs, libraries[0])


if __name__ == '__main__':
    main()
