#!/usr/bin/env python3
"""A sensor that floods is limited without starving others: all readings of another are
stored meanwhile, and what is too much of the flood is dropped and counted to the message.
"""
import subprocess
import time

import support

FLOOD = 60_000
AT_ONCE = 20_000  # that any sensor may send
EACH_SECOND = 5   # and then that

FLOODER = '''
[[sensor]]
id = "flooder"
place = "station"
topic = "garden/flooder/climate"
format = "json"
'''


def flood_payloads(now):
    """Each with a time of its own, so that all that passes is stored, and with values that
    rise and fall as air does."""
    for i in range(FLOOD):
        at = time.strftime('%Y-%m-%dT%H:%M:%SZ', time.gmtime(now - FLOOD + i))
        tenths = abs(i % 2_000 - 1_000) // 10
        yield f'{{"time": "{at}", "temperature": {10 + tenths / 100:.2f}}}\n'


def readings_of(store, sensor):
    """How many there are, and different ones: of yesterday some, which may be packed."""
    series = {row[0] for row in support.rows(store, 'SELECT id FROM series WHERE sensor = ?',
                                             sensor)}
    values = [value for _, of, value in support.readings(store) if of in series]
    return len(values), len(set(values))


def counted(store, sensor, doubt):
    return support.rows(store, 'SELECT coalesce(sum(count), 0) FROM tally WHERE sensor = ? '
                               'AND doubt = ?', sensor, doubt)[0][0]


def main():
    programs = support.arguments().programs
    with support.scratch() as (folder, started):
        broker = support.Broker(folder)
        started.append(broker)
        broker.start()
        config = support.write_garden(folder, broker.address)
        config.write_text(config.read_text() + FLOODER)
        store = folder / 'garden.db'
        daemon = support.Daemon(programs, config)
        started.append(daemon)
        daemon.start()
        daemon.wait_for('connected')

        file = folder / 'flood'
        file.write_text(''.join(flood_payloads(int(time.time()))))
        began = time.monotonic()
        with open(file) as payloads:
            flood = subprocess.Popen(
                ['mosquitto_pub', '-h', '127.0.0.1', '-p', str(broker.port), '-q', '1',
                 '-t', 'garden/flooder/climate', '-l'], stdin=payloads)
        sent = 0
        while flood.poll() is None or sent < 15:
            # With its own time: behind the flood two may arrive in one second.
            at = time.strftime('%Y-%m-%dT%H:%M:%SZ', time.gmtime())
            broker.publish('garden/station/climate', '-m',
                           f'{{"time": "{at}", "temperature": {3 + sent / 100:.2f}}}')
            sent += 1
            time.sleep(1)
        support.equal(flood.returncode, 0, 'exit status of the flood')
        daemon.wait_for('garden/flooder/climate: ')
        daemon.wait_for('messages dropped: more than 20000 at once and then 5 a second')
        support.wait_until(lambda: readings_of(store, 'station-probe')[0] >= sent,
                           f'{sent} readings of the other sensor')
        support.wait_until(lambda: readings_of(store, 'flooder')[0] >= AT_ONCE,
                           'the flood as far as it passes')
        daemon.stop()
        lasted = time.monotonic() - began

        support.equal(readings_of(store, 'station-probe'), (sent, sent),
                      'readings of the other sensor, and different ones')
        stored = readings_of(store, 'flooder')[0]
        dropped = counted(store, 'flooder', 15)
        support.equal(stored + dropped, FLOOD, 'readings of the flood stored and dropped')
        support.check(AT_ONCE <= stored <= AT_ONCE + EACH_SECOND * (lasted + 1),
                      f'{stored} of the flood stored')
        support.equal(daemon.log().count('messages dropped'), 1, 'lines of the flood')
        print(f'a flood of {FLOOD}: {stored} stored, {dropped} dropped and counted; all '
              f'{sent} readings of the other sensor stored')


if __name__ == '__main__':
    main()
