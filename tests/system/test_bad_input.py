#!/usr/bin/env python3
"""Whatever is published, nothing is stored that should not be; each kind of it gets one
clear line, however often it comes, and the daemon goes on."""
import support

TOPIC = 'garden/station/climate'


def main():
    programs = support.arguments().programs
    with support.scratch() as (folder, started):
        broker = support.Broker(folder)
        started.append(broker)
        broker.start()
        broker.publish(TOPIC, '-r', '-m', '{"temperature": 17.0}')  # kept: of any age
        config = support.write_garden(folder, broker.address)
        store = folder / 'garden.db'
        daemon = support.Daemon(programs, config)
        started.append(daemon)
        daemon.start()
        daemon.wait_for('connected')
        daemon.wait_for('a copy that the broker kept')

        huge = folder / 'huge'
        huge.write_bytes(b'{"temperature": 1' + b'0' * 1_000_000 + b'}')
        lines_of = {
            'no sensor of the garden has this topic':
                lambda: broker.publish('garden/attic/climate', '-m', '{"temperature": 3}'),
            'payload of 1000018 bytes': lambda: broker.publish(TOPIC, '-f', str(huge)),
            'not JSON: byte': lambda: broker.publish(TOPIC, '-m', 'warm'),
            'outside what temperature can be': lambda: broker.publish(TOPIC, '-m', '{"temperature": 1e308}'),
        }
        for words, publish in lines_of.items():
            for _ in range(5):
                publish()
            daemon.wait_for(words)
        for payload in ('{"temperature": 3', '{"temperature": NaN}', 'NaN', '{}', '[1]',
                        '{"temperature": "warm"}', '{"temperature": true}', '\x00\x01',
                        '{"temperature": 1e400}'):
            broker.publish(TOPIC, '-m', payload.replace('\x00', '\x02'))
        broker.publish(TOPIC, '-n')  # empty

        broker.publish(TOPIC, '-m', '{"temperature": 3.25}')
        support.wait_until(lambda: support.reading_count(store) == 1, 'the good reading')
        daemon.stop()
        support.equal([row[1:] for row in support.stored_readings(store)], [(1, 3250)],
                      'what is stored')
        doubtful = support.rows(store, 'SELECT DISTINCT value, reason FROM doubtful')
        support.equal(doubtful, [(1e308, 'outside what temperature can be: -60 to 70 °C')], 'what is doubtful')
        for words in lines_of:
            support.equal(daemon.log().count(words), 1, f'lines with "{words}"')
        print('bad input: nothing stored, one line each, the daemon went on')


if __name__ == '__main__':
    main()
