#!/usr/bin/env python3
"""A notice as its receivers see it, and the gardener's answers: retained JSON and its
plain-text twin, a command with the notice in its environment, done, cover and uncover at
the terminal while the daemon runs, and the daemon's own state on the broker."""
import datetime
import json
import subprocess

import support

STATION = 'rimeward/notice/cover/station'


def retained(broker, topic):
    """The retained message of a topic, or None."""
    done = subprocess.run(['mosquitto_sub', '-h', '127.0.0.1', '-p', str(broker.port), '-t',
                           topic, '-C', '1', '-W', '1', '--retained-only'],
                          capture_output=True, text=True, timeout=30)
    return done.stdout if done.returncode == 0 else None


def main():
    programs = support.arguments().programs
    data = support.ROOT / 'tests/data/live_readings.csv'
    with support.scratch() as (folder, started):
        broker = support.Broker(folder)
        started.append(broker)
        broker.start()
        config = support.write_garden(folder, broker.address, commit_every='200 ms',
                                      extra='command_topic = "rimeward/do"\n')
        rimeward = [programs / 'rimeward', '--config', config]
        rehearsal = json.loads(support.run(*rimeward, 'rehearse', data, '--place', 'station',
                                           '--json'))
        cover = next(one for one in rehearsal['notices'] if one['kind'] == 'cover')
        daemon = support.Daemon(programs, config, '--clock', 'readings')
        started.append(daemon)
        daemon.start()
        daemon.wait_for('connected')
        support.wait_until(lambda: json.loads(retained(broker, 'rimeward/status') or '{}')
                           .get('state') == 'listening', 'the state on the broker')

        # Until a little after the first cover notice: the next reading brings the look.
        until = support.unix_seconds(cover['raised_at']) + 1800
        support.run(programs / 'rimeward-play', '--broker', broker.address, '--recorded',
                    data, '--topic', 'garden/station/climate', '--to', iso(until))
        support.wait_until(lambda: retained(broker, STATION), 'the retained notice')
        shown = json.loads(retained(broker, STATION))
        for key in ('id', 'title', 'deadline', 'layers', 'raised_at'):
            support.equal(shown[key], cover[key], f'"{key}" of the retained notice')
        twin = retained(broker, STATION + '/text').strip().splitlines()
        support.equal(twin, [f'{cover["title"]}, by {cover["deadline_local"]}', shown['body']],
                      'the plain-text twin')
        support.wait_until(lambda: f'{cover["id"]} 1 raised' in
                           (folder / 'told.txt').read_text().splitlines(), 'the command ran')

        support.run(*rimeward, 'done', '99', status=1)
        support.run(*rimeward, 'cover', 'staton', status=2)
        print(support.run(*rimeward, 'done', str(cover['id'])).strip())

        def notice():
            notices = json.loads(support.run(*rimeward, 'notices', '--all', '--json'))
            return next(one for one in notices['open'] + notices['closed']
                        if one['id'] == cover['id'])

        def layers():
            now = json.loads(support.run(*rimeward, 'now', '--json'))
            return now['places'][0]['cover_layers']

        support.wait_until(lambda: notice()['state'] == 'done', 'the notice is done')
        support.equal(layers(), cover['layers'], 'layers after done')
        support.wait_until(lambda: retained(broker, STATION) is None, 'cleared on the broker')
        support.check(retained(broker, STATION + '/text') is None, 'the twin is cleared')
        print(support.run(*rimeward, 'cover', 'station', '2').strip())
        support.wait_until(lambda: layers() == 2, 'two layers')
        support.run(*rimeward, 'uncover', 'station')
        support.wait_until(lambda: layers() == 0, 'no layers')

        by_broker(broker, daemon, layers, lambda: json.loads(
            support.run(*rimeward, 'notices', '--json'))['muted'])

        daemon.kill()
        support.wait_until(lambda: json.loads(retained(broker, 'rimeward/status'))
                           == {'state': 'lost'}, 'the last will')
        support.run(*rimeward, 'cover', 'station', '1')  # written down meanwhile
        daemon.start()
        support.wait_until(lambda: layers() == 1, 'taken after the start')
        daemon.stop()
        support.equal(json.loads(retained(broker, 'rimeward/status')), {'state': 'stopped'},
                      'the state after a stop')
        print('notices shown, told, answered and cleared; the will and the state are right')


def by_broker(broker, daemon, layers, muted):
    """The same answers on the command topic; what is none is refused with a word why."""
    def say(**word):
        broker.publish('rimeward/do', '-m', json.dumps(word))

    say(verb='cover', place='station', layers=2)
    support.wait_until(lambda: layers() == 2, 'covered by a message')
    say(verb='uncover', place='station')
    support.wait_until(lambda: layers() == 0, 'uncovered by a message')
    say(verb='mute', kind='damp', until=iso(support.unix_seconds('2026-03-20T00:00:00Z')))
    support.wait_until(lambda: [one['kind'] for one in muted()] == ['damp'], 'muted')
    for word, why in (('cover the station', 'no JSON object'),
                      ('{"verb": "cover", "place": "staton"}', 'did you mean "station"?'),
                      ('{"verb": "sow", "batch": {}}', 'in a rehearsal only'),
                      ('{"verb": "cover", "place": "station", "shell": "x"}', '"shell"')):
        broker.publish('rimeward/do', '-m', word)
        daemon.wait_for(why)
    broker.publish('rimeward/do', '-r', '-m', '{"verb": "cover", "place": "station"}')
    support.wait_until(lambda: layers() == 1, 'a retained word that is heard fresh')
    broker.publish('rimeward/do', '-r', '-n')
    say(verb='uncover', place='station')
    support.wait_until(lambda: layers() == 0, 'uncovered again')


def iso(seconds):
    return datetime.datetime.fromtimestamp(seconds, datetime.timezone.utc).strftime(
        '%Y-%m-%dT%H:%M:%SZ')


if __name__ == '__main__':
    main()
