#!/usr/bin/env python3
"""A broker that is absent at the start, one that goes away for a minute in mid-stream, and
one that refuses the password: said clearly, waited for, and nothing lost."""
import os
import subprocess
import time

import support

# How long the broker stays away; RIMEWARD_AWAY shortens it.
AWAY = float(os.environ.get('RIMEWARD_AWAY', '60'))


def absent_then_gone(programs):
    data = support.ROOT / 'tests/data/live_readings.csv'
    sent = support.read_readings(data)
    with support.scratch() as (folder, started):
        broker = support.Broker(folder)
        started.append(broker)
        config = support.write_garden(folder, broker.address)
        store = folder / 'garden.db'
        daemon = support.Daemon(programs, config, '--clock', 'readings')
        started.append(daemon)
        daemon.start()
        daemon.wait_for('127.0.0.1')  # the line that names the broker that does not answer
        support.check('connected' not in daemon.log(), 'not connected to an absent broker')
        broker.start()
        daemon.wait_for('connected')
        print('absent at the start: waited for')

        player = subprocess.Popen(
            [programs / 'rimeward-play', '--broker', broker.address, '--recorded', data,
             '--topic', 'garden/station/climate', '--speed', '1000000'])
        support.wait_until(lambda: support.reading_count(store) > 500, 'mid-stream')
        broker.stop()
        at_stop = support.reading_count(store)
        time.sleep(AWAY)
        support.check(at_stop < len(sent), 'the broker stopped in mid-stream')
        support.check(player.poll() is None, 'the player waits for the broker')
        broker.start()
        support.equal(player.wait(180), 0, 'exit status of rimeward-play')
        daemon.wait_for('connected', count=2, patience=90)
        support.wait_until(lambda: support.reading_count(store) >= len(sent), 'all stored')
        daemon.stop()
        support.equal(support.stored_readings(store), sent, 'rows stored and readings sent')
        print(f'away for {AWAY:.0f} s in mid-stream: {len(sent)} readings stored once')


def wrong_password(programs):
    with support.scratch() as (folder, started):
        broker = support.Broker(folder, passwords={'garden': 'rime'})
        started.append(broker)
        broker.start()
        secret = folder / 'secret'
        secret.write_text('reem\n')
        config = support.write_garden(
            folder, broker.address,
            extra=f'user = "garden"\npassword_file = "{secret}"\n')
        daemon = support.Daemon(programs, config)
        started.append(daemon)
        daemon.start()
        daemon.wait_for('refused')
        log = daemon.log()
        support.check('password_file' in log, f'the remedy is named: {log}')
        support.check('reem' not in log, 'the password is not logged')
        secret.write_text('rime\n')
        daemon.wait_for('connected', patience=90)
        support.check(log.count('refused') == 1, f'the trouble is said once: {log}')
        daemon.stop()
        print('a refused password: said once, with the remedy, and mended while running')


def main():
    programs = support.arguments().programs
    wrong_password(programs)
    absent_then_gone(programs)


if __name__ == '__main__':
    main()
