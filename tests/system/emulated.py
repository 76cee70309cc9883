#!/usr/bin/env python3
"""Programs that are built for another processor, under an emulator: the unit tests, then
readings through a broker of this machine into the daemon, and what the terminal says.

tools/package runs it, with --programs FOLDER --emulator "COMMAND".
"""
import argparse
import json
import os
import pathlib
import shlex
import stat

import support

# qemu-user's vfork(2) is a fork, so that a spawned program that cannot be started is told by
# exit status 127 and by no error (seen with qemu 7.2).
NOT_EMULATED = ('a program that does not start is named with the remedy',
                'a program that fails in no way that it should is named with the remedy',
                'a missing program is told with what to do')


def wrapped(programs, emulator, folder):
    """Programs of the same names that run the foreign ones."""
    wrappers = folder / 'programs'
    wrappers.mkdir()
    for name in ('rimewardd', 'rimeward', 'rimeward-play'):
        wrapper = wrappers / name
        wrapper.write_text(f'#!/bin/sh\nexec {shlex.join(emulator)} '
                           f'{shlex.quote(str(programs / name))} "$@"\n')
        wrapper.chmod(wrapper.stat().st_mode | stat.S_IXUSR)
    return wrappers


def take_readings(programs, emulator):
    data = support.ROOT / 'tests/data/live_readings.csv'
    sent = support.read_readings(data)
    with support.scratch() as (folder, started):
        wrappers = wrapped(programs, emulator, folder)
        broker = support.Broker(folder)
        started.append(broker)
        broker.start()
        config = support.write_garden(folder, broker.address)
        daemon = support.Daemon(wrappers, config, '--clock', 'readings')
        started.append(daemon)
        daemon.start()
        daemon.wait_for('connected')
        support.run(wrappers / 'rimeward-play', '--broker', broker.address, '--recorded',
                    str(data), '--topic', 'garden/station/climate')
        rimeward = [wrappers / 'rimeward', '--config', config]

        def exported():
            return support.run(*rimeward, 'export', '--csv').count('\n') - 1
        support.wait_until(lambda: exported() == len(sent),
                           f'{len(sent)} readings stored', 300)
        now = json.loads(support.run(*rimeward, 'now', '--json'))
        newest = [value for _, channel, value in sent if channel == 1][-1]
        support.equal(now['places'][0]['temperature_celsius'], newest / 1000,
                      'the newest temperature')
        daemon.stop()
        print(f'{len(sent)} readings through a broker, stored and told')


def unit_tests(programs, emulator):
    tests = programs / 'rimeward_tests'
    if not tests.exists():
        print('the unit tests are left out: they are not built')
        return
    status = os.spawnvp(os.P_WAIT, emulator[0], [
        *emulator, str(tests), f'--test-case-exclude={",".join(NOT_EMULATED)}'])
    support.equal(status, 0, 'exit status of the unit tests')


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument('--programs', type=pathlib.Path, required=True)
    parser.add_argument('--emulator', type=shlex.split, required=True)
    chosen = parser.parse_args()
    programs = chosen.programs.resolve()
    take_readings(programs, chosen.emulator)
    unit_tests(programs, chosen.emulator)


if __name__ == '__main__':
    main()
