#!/usr/bin/env python3
"""Mistakes in the settings file stop the daemon and the terminal with file, line, key and
remedy; a reload with a bad file keeps the old settings at work."""
import signal
import subprocess

import support

MISTAKES = [
    # what is in the file, what stands there instead, and what must be said of it
    ('longitude =', 'longitud =', 'longitude'),
    ('latitude = 48.41', 'latitude = 200', '-90 to 90'),
    ('name = "Test garden"', 'name = 5', 'text'),
    ('place = "station"', 'place = "staton"', 'station'),
    ('time_zone = "Europe/Berlin"', 'time_zone = "Europe/Berln"', 'Europe/Berlin'),
]


def main():
    programs = support.arguments().programs
    with support.scratch() as (folder, started):
        broker = support.Broker(folder)
        started.append(broker)
        broker.start()
        config = support.write_garden(folder, broker.address)
        good = config.read_text()
        for right, wrong, remedy in MISTAKES:
            config.write_text(good.replace(right, wrong, 1))
            line = 1 + good[:good.index(right)].count('\n')
            for command in ([programs / 'rimewardd', '--config', config, '--check'],
                            [programs / 'rimeward', '--config', config, 'now']):
                done = subprocess.run(command, capture_output=True, text=True, timeout=60)
                said = done.stdout + done.stderr
                support.equal(done.returncode, 1, f'exit status with {wrong}')
                support.check(f'garden.toml:{line}:' in said, f'{wrong}: no line {line}: {said}')
                support.check(remedy in said, f'{wrong}: no remedy: {said}')

        config.write_text(good)
        daemon = support.Daemon(programs, config)
        started.append(daemon)
        daemon.start()
        daemon.wait_for('connected')
        config.write_text(good.replace('latitude = 48.41', 'latitude = 200'))
        daemon.process.send_signal(signal.SIGHUP)
        daemon.wait_for('the settings stay as they were')
        broker.publish('garden/station/climate', '-m', '{"temperature": 3.25}')
        support.wait_until(lambda: support.reading_count(folder / 'garden.db') == 1,
                           'a reading under the old settings')
        config.write_text(good)
        daemon.process.send_signal(signal.SIGHUP)
        daemon.wait_for('settings read anew')
        daemon.wait_for('connected', count=2)
        checked = support.run(programs / 'rimeward', '--config', config, 'check')
        support.check('WRONG' not in checked, checked)
        daemon.stop()
        broker.stop()
        checked = support.run(programs / 'rimeward', '--config', config, 'check', status=1)
        support.check('broker' in checked, checked)
        print('settings: mistakes named, a bad reload survived, check tells the broker')


if __name__ == '__main__':
    main()
