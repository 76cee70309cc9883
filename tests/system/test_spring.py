#!/usr/bin/env python3
"""Two real springs with invented batches, rehearsed as a gardener would have lived them: a
bed in the open in Ireland and a film tunnel in Italy. The notices are printed, to be read,
and counted: no place has more than one notice to cover in an evening, and what of the
frosts was told, when, and what was told for nothing is stated.

Wants the folder of real weather; skipped where it is not there.
"""
import collections
import csv
import datetime
import json
import zoneinfo

import support

EPOCH = datetime.date(1970, 1, 1)


def days(date):
    return (datetime.date.fromisoformat(date) - EPOCH).days


def sow(name, place, date, next_place=''):
    return {'at': f'{date}T12:00:00Z', 'verb': 'sow',
            'batch': {'batch': name, 'crop': name, 'sown': days(date), 'count': 12,
                      'place': place, 'next_place': next_place}}


def act(verb, place, at, **more):
    return {'at': at, 'verb': verb, 'place': place, **more}


GARDEN = '''
[garden]
name = "Hochfeld school garden"
latitude = {latitude}
longitude = {longitude}
time_zone = "{zone}"

[gardener]
evening_by = "20:30"
morning_from = "07:00"
'''

IRELAND = {
    'file': 'ie_dunsany.csv', 'zone': 'Europe/Dublin', 'from': '2017-03-01', 'to': '2017-06-01',
    'settings': GARDEN.format(latitude=53.516, longitude=-6.66, zone='Europe/Dublin') + '''
[[place]]
id = "pea-bed"
kind = "bed"

[[place]]
id = "yard"
kind = "outdoors"
''',
    'places': ['pea-bed', 'yard'],
    'told': [sow('pea', 'pea-bed', '2017-03-10'), sow('lettuce', 'pea-bed', '2017-03-20'),
             sow('potato', 'pea-bed', '2017-04-01'),
             act('water', 'pea-bed', '2017-04-20T08:00:00Z')],
    'bed': 'pea-bed',
}

ITALY = {
    'file': 'tunnel_it1.csv', 'zone': 'Europe/Rome', 'from': '2022-02-20', 'to': '2022-05-20',
    'settings': GARDEN.format(latitude=45.4, longitude=11.6, zone='Europe/Rome') + '''
[[place]]
id = "glasshouse"
name = "Film tunnel"
kind = "polytunnel"
vent_above = 26.0
fleece_layers = 2
''',
    'places': ['glasshouse'],
    'told': [sow('lettuce', 'glasshouse', '2022-02-25'),
             sow('chilli', 'glasshouse', '2022-03-10'),
             act('water', 'glasshouse', '2022-03-12T08:00:00Z')],
    'bed': 'glasshouse',
}


def write_records(spring, source, file):
    with open(source) as read, open(file, 'w') as written:
        out = csv.writer(written)
        out.writerow(('time', 'temperature', 'humidity', 'place'))
        for row in csv.DictReader(read):
            if not spring['from'] <= row['time'] < spring['to']:
                continue
            for place in spring['places']:
                out.writerow((row['time'], row['temperature'], row.get('humidity'), place))


def rehearsed(programs, folder, shared, spring):
    config = folder / 'garden.toml'
    sensors = ''.join(f'\n[[sensor]]\nid = "{place}-climate"\nplace = "{place}"\n'
                      f'topic = "garden/{place}/climate"\n' for place in spring['places'])
    config.write_text(spring['settings'] + sensors)
    records, told = folder / 'spring.csv', folder / 'told.jsonl'
    write_records(spring, shared / 'data' / spring['file'], records)
    told.write_text(''.join(json.dumps(one) + '\n' for one in spring['told']))
    command = [programs / 'rimeward', '--config', config, 'rehearse', records, '--garden',
               '--told', told]
    return support.run(*command), json.loads(support.run(*command, '--json'))


def check_spring(text, result, spring):
    print(f'--- {spring["file"]}, {spring["from"]} to {spring["to"]}\n')
    print(text[:text.index('outlooks against the lows that came')].rsplit('\n', 1)[0])
    notices = result['notices']
    kinds = collections.Counter(notice['kind'] for notice in notices)
    print('by kind:', dict(kinds))
    support.check(kinds['cover'] > 0, 'there were evenings to cover')
    for place in result['places']:
        frosts = place['frosts']
        support.check(frosts['most_covers_a_night'] <= 1,
                      f'one notice to cover an evening in {place["place"]}: {frosts}')
        told = (frosts['told_before_sunset'] + frosts['told_after_sunset']
                + frosts['danger_alone'] + frosts['untold'])
        support.equal(told, frosts['frosts'], 'each frost is counted once')
    bed = next(one['frosts'] for one in result['places'] if one['place'] == spring['bed'])
    support.check(bed['untold'] == 0, f'no frost without a word: {bed}')
    support.check(bed['told_before_sunset'] * 2 > bed['frosts'],
                  f'most frosts are told of by daylight: {bed}')
    check_nights(notices, spring['zone'])


def check_nights(notices, zone):
    """Nobody is called out at night for what can wait, and a deadline is always to come."""
    for notice in notices:
        raised = datetime.datetime.fromisoformat(notice['raised_at'].replace('Z', '+00:00'))
        hour = raised.astimezone(zoneinfo.ZoneInfo(zone)).hour
        if notice['kind'] not in ('danger', 'cover', 'silent', 'doubtful'):
            support.check(6 <= hour < 22, f'raised by day: {notice}')
        if 'deadline' in notice:
            support.check(notice['deadline'] > notice['raised_at'], f'to come: {notice}')


def main():
    programs = support.arguments().programs
    shared = support.shared_folder()
    if shared is None:
        support.skip('no folder of weather records here')
    for spring in (IRELAND, ITALY):
        with support.scratch() as (folder, _):
            text, result = rehearsed(programs, folder, shared, spring)
            check_spring(text, result, spring)


if __name__ == '__main__':
    main()
