#!/usr/bin/env python3
"""kill -9 of the daemon at twenty random instants of a fast stream at QoS 1, each time
started again: every reading is stored exactly once, and the notices are those of an
unbroken rehearsal, neither lost nor doubled.

The seed of the instants is printed; RIMEWARD_SEED repeats a run.
"""
import collections
import json
import os
import random
import subprocess
import time

import support
from test_live import outlooks_live, outlooks_rehearsed, told

KILLS = 20


def main():
    programs = support.arguments().programs
    seed = int(os.environ.get('RIMEWARD_SEED', time.time_ns() % 1_000_000))
    print(f'seed {seed}')
    instants = random.Random(seed)
    data = support.ROOT / 'tests/data/live_readings.csv'
    sent = support.read_readings(data)
    with support.scratch() as (folder, started):
        broker = support.Broker(folder)
        started.append(broker)
        broker.start()
        # Short intervals, so that the kills fall into commits and cuts of the spool too.
        config = support.write_garden(folder, broker.address, commit_every='100 ms')
        # By a command alone. A broker that is not back yet when a notice is due is a failed
        # delivery, after which `danger` speaks where it would have kept quiet; at this speed
        # there is no time to try again, and a rehearsal delivers nothing at all.
        by_mqtt = '[[route]]\nkind = "mqtt"\n'
        support.check(by_mqtt in config.read_text(), 'a route by MQTT to leave out')
        config.write_text(config.read_text().replace(by_mqtt, ''))
        store = folder / 'garden.db'
        daemon = support.Daemon(programs, config, '--clock', 'readings')
        started.append(daemon)
        daemon.start()
        daemon.wait_for('connected')

        # A reading is half an hour; at this speed the stream lasts for all the kills.
        player = subprocess.Popen(
            [programs / 'rimeward-play', '--broker', broker.address, '--recorded', data,
             '--topic', 'garden/station/climate', '--speed', '450000'])
        killed_at = []
        for _ in range(KILLS):
            time.sleep(instants.uniform(0.02, 0.6))
            daemon.kill()
            killed_at.append(support.reading_count(store))
            daemon.start()
        support.equal(player.wait(300), 0, 'exit status of rimeward-play')
        support.check(killed_at[0] < len(sent), 'the first kill fell into the stream')
        support.check(len(set(killed_at)) > KILLS // 2,
                      f'kills spread over the stream: {killed_at}')
        support.wait_until(lambda: support.reading_count(store) >= len(sent),
                           f'{len(sent)} readings stored')
        daemon.stop()
        support.equal(support.stored_readings(store), sent, 'rows stored and readings sent')
        support.equal(support.rows(store, 'SELECT count(*) FROM doubtful'), [(0,)],
                      'doubtful readings')

        rimeward = [programs / 'rimeward', '--config', config]
        nights = folder / 'nights.csv'
        rehearsal = json.loads(support.run(*rimeward, 'rehearse', data, '--place', 'station',
                                           '--nights', nights, '--json'))
        live = json.loads(support.run(*rimeward, 'notices', '--all', '--json'))
        support.equal(told(live['open'] + live['closed']), told(rehearsal['notices']),
                      'notices')
        support.equal(outlooks_live(store), outlooks_rehearsed(nights), 'outlooks')

        tellings = collections.Counter((folder / 'told.txt').read_text().splitlines())
        real = {(str(notice['id'])) for notice in rehearsal['notices']}
        support.check({line.split()[0] for line in tellings} <= real,
                      'only real notices were told')
        # At least once: a telling whose answer the kill swallowed comes again, with its id.
        again = sum(tellings.values()) - len(tellings)
        support.check(again <= KILLS, f'{again} tellings repeated by {KILLS} kills')
        waiting = support.rows(store, "SELECT count(*) FROM outbox WHERE state = 'waiting'")
        print(f'{KILLS} kills, {len(sent)} readings stored once, {len(real)} notices, '
              f'{len(tellings)} tellings, {again} repeated with their id, '
              f'{waiting[0][0]} still waiting')


if __name__ == '__main__':
    main()
