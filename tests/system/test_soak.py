#!/usr/bin/env python3
"""A soak at full speed: forty sensors send as fast as a real broker and the running daemon
take it, at QoS 1, for `--minutes` (one if nothing else is said, or RIMEWARD_SOAK_MINUTES). In
the end every reading is in the store, once, and the memory is as it was early on. It says how
fast it went and what the daemon took of the processor.

A topic may say 20,000 things at once and five a second from then on: what is more is a flood
and dropped. A daemon that reads its settings anew counts anew, so it is made to, with the
stream running on.
"""
import argparse
import json
import os
import pathlib
import statistics
import time

import simulated
import support
import test_simulated_year

GARDENS = 2       # of twenty sensors each
AT_ONCE = 18_000  # messages of a topic, from one reload to the next
STEP = 120        # minutes of the garden's time sent at once
SAMPLE_EVERY = 2  # seconds
MOST_GROWTH = 1.10
# What was read is kept in memory for two days and two hours: until then it grows.
FULL = 3 * simulated.DAY
FEWEST = 100      # samples to judge its growth by: some minutes, with some reloads in them
MOST_MEGABYTES = 64  # resident at any time, with all its queues full


def arguments():
    parser = argparse.ArgumentParser(description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument('--programs', type=pathlib.Path, required=True)
    parser.add_argument('--minutes', type=float,
                        default=float(os.environ.get('RIMEWARD_SOAK_MINUTES', 1)))
    parser.add_argument('--report', type=pathlib.Path, help='figures, as JSON, into this file')
    chosen = parser.parse_args()
    chosen.programs = chosen.programs.resolve()
    return chosen


def processor_seconds(process):
    fields = pathlib.Path(f'/proc/{process.pid}/stat').read_text().rsplit(')', 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf('SC_CLK_TCK')


def soak(garden, seconds):
    """Resident kB now and then."""
    begun = time.monotonic()
    sampled_at, reloaded_at = begun, 0
    resident = []
    while time.monotonic() - begun < seconds:
        garden.stream.send_until(garden.stream.minute + STEP)
        garden.wait_for_daemon(test_simulated_year.AHEAD)
        if garden.stream.minute - reloaded_at + STEP > AT_ONCE:
            garden.reload()
            # What was ahead then has been let through before.
            reloaded_at = garden.stream.minute - test_simulated_year.AHEAD // len(
                garden.stream.sensors)
        if time.monotonic() - sampled_at >= SAMPLE_EVERY:
            sampled_at = time.monotonic()
            if garden.stream.minute > FULL:
                resident.append(support.memory_of(garden.daemon.process)[0])
    garden.stream.publisher.finish()
    garden.wait_for_daemon(0)
    return resident


def check_memory(resident):
    """The last quarter beside the second, in MB: before, its queues are only filling up."""
    support.check(max(resident, default=0) < MOST_MEGABYTES * 1000,
                  f'at most {MOST_MEGABYTES} MB resident: {resident}')
    if len(resident) < FEWEST:
        return None, None
    quarter = len(resident) // 4
    early = statistics.median(resident[quarter:2 * quarter])
    late = statistics.median(resident[-quarter:])
    support.check(late <= early * MOST_GROWTH,
                  f'memory grew from {early} to {late} kB: {resident}')
    return early / 1000, late / 1000


def main():
    chosen = arguments()
    with support.scratch() as (folder, started):
        garden = test_simulated_year.Garden(folder, started, chosen.programs, seed=1,
                                            gardens=GARDENS, days=5000, faults=False)
        before = processor_seconds(garden.daemon.process)
        begun = time.monotonic()
        resident = soak(garden, 60 * chosen.minutes)
        lasted = time.monotonic() - begun
        used = processor_seconds(garden.daemon.process) - before
        garden.daemon.stop()

        sent = garden.stream.publisher.sent
        test_simulated_year.check_readings(garden)
        test_simulated_year.check_doubts(garden)
        dropped = support.rows(garden.store, 'SELECT coalesce(sum(count), 0) FROM tally '
                                             'WHERE doubt = 15')
        support.equal(dropped, [(0,)], 'messages dropped as a flood')
        size = garden.rimeward('store', '--check')
        support.equal((size['is_whole'], size['readings']), (True, garden.books.count()),
                      'the store is whole, and the readings that it says it holds')
        early, late = check_memory(resident)
        figures = {'minutes': lasted / 60, 'messages': sent, 'readings': size['readings'],
                   'messages_a_second': sent / lasted, 'reloads': garden.done['reload'],
                   'days': garden.stream.minute / simulated.DAY,
                   'resident_early_mb': early, 'resident_late_mb': late,
                   'resident_most_mb': max(resident, default=0) / 1000,
                   'microseconds_a_message': 1e6 * used / sent,
                   'share_of_a_core': used / lasted}
        print(json.dumps(figures, indent=1))
        if chosen.report:
            chosen.report.write_text(json.dumps(figures) + '\n')


if __name__ == '__main__':
    main()
