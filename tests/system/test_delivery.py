#!/usr/bin/env python3
"""A frost notice on its way to people, through the whole daemon: every route at once,
routes that fail in every way and come back, an end after which nothing is sent, a broker
that goes away, and kill -9 at every step of a delivery. What arrives is counted: each
telling once, or after a kill again with the same id; none is lost.
"""
import asyncio
import glob
import json
import os
import pathlib
import shutil
import threading

import support
from receivers import Sink, mail_server, parsed, parts_of, web_server
from test_answers import iso, retained
from test_clock import BentClock

DATA = support.ROOT / 'tests/data/live_readings.csv'
HALF_HOUR = 1800
STATION = 'rimeward/notice/cover/station'


class Cover:
    """The cover notice that the recorded readings lead to, and these readings."""

    def __init__(self, programs, folder):
        config = support.write_garden(folder, 'mqtt://127.0.0.1:1')
        rehearsal = json.loads(support.run(programs / 'rimeward', '--config', config,
                                           'rehearse', DATA, '--place', 'station', '--json'))
        self.notice = next(one for one in rehearsal['notices'] if one['kind'] == 'cover')
        self.raised_at = support.unix_seconds(self.notice['raised_at'])
        self.readings = []
        for line in DATA.read_text().splitlines()[1:]:
            when, temperature, humidity = line.split(',')
            self.readings.append((support.unix_seconds(when), json.dumps(
                {'time': when, 'temperature': float(temperature),
                 'humidity': float(humidity)})))


class Garden:
    """A daemon with its broker, whose clock goes by the readings that it is given."""

    def __init__(self, programs, folder, started, broker, cover, *routes, base=None):
        self.programs, self.broker, self.cover = programs, broker, cover
        if base:
            shutil.copytree(base, folder, dirs_exist_ok=True)
        # A session of its own: what the broker keeps for another is not for this one.
        config = support.write_garden(folder, broker.address, commit_every='100 ms',
                                      extra=f'client_id = "{folder.name}"\n')
        text = config.read_text()
        config.write_text(text[:text.index('[[route]]')] + '\n'.join(routes))
        self.config, self.store = config, folder / 'garden.db'
        self.daemon = support.Daemon(programs, config, '--clock', 'readings')
        started.append(self.daemon)

    def start(self):
        self.daemon.start()
        self.daemon.wait_for('connected', count=1 + self.daemon.log().count('connected'))

    def read(self, since, until):
        """Publishes the readings of that span."""
        player = [self.programs / 'rimeward-play', '--broker', self.broker.address,
                  '--recorded', DATA, '--topic', 'garden/station/climate',
                  '--from', iso(since), '--to', iso(until)]
        support.run(*player)
        last = [when for when, _ in self.cover.readings if when < until][-1]
        support.wait_until(lambda: self.store.exists() and self.newest() == last,
                           'the readings')

    def read_until_raised(self):
        self.read(self.cover.readings[0][0], self.cover.raised_at + HALF_HOUR)

    def newest(self):
        """The time of the newest reading."""
        return support.rows(self.store, f'SELECT max(time) FROM {support.LOOSE}')[0][0]

    def go_on(self, half_hours=1):
        """Half an hour later by the readings: what failed is tried again."""
        for _ in range(half_hours):
            newest = self.newest()
            for when, payload in self.cover.readings:
                if when > newest:
                    self.broker.publish('garden/station/climate', '-m', payload)
                    break
            support.wait_until(lambda: self.newest() > newest, 'the reading')

    def outbox(self, route, kind='cover'):
        """Event, state and attempts of each telling by a route."""
        return support.rows(self.store, '''
            SELECT outbox.event, outbox.state, outbox.attempts FROM outbox
            JOIN notice ON notice.id = outbox.notice
            WHERE outbox.route = ? AND notice.kind = ? ORDER BY outbox.id''', route, kind)

    def wait_for_delivery(self, route, kind='cover'):
        support.wait_until(lambda: [row[1] for row in self.outbox(route, kind)]
                           == ['delivered'], f'delivered by {route}')

    def wait_for_attempts(self, route, attempts):
        support.wait_until(lambda: self.outbox(route)[0][2] >= attempts,
                           f'{attempts} attempts by {route}')


def email_route(address):
    return f'''
[[route]]
kind = "email"
for = ["cover"]
server = "{address}"
encrypted = false
from = "rimeward@example.org"
to = ["keeper@example.org"]
time_limit = "3 s"
'''


def http_route(address, kinds='"cover"'):
    return f'''
[[route]]
kind = "http"
for = [{kinds}]
url = "{address}/notices"
time_limit = "2 s"
'''


def command_route(script, kinds='"cover"'):
    return f'''
[[route]]
kind = "command"
for = [{kinds}]
run = ["/bin/sh", "-c", "{script}"]
time_limit = "2 s"
'''


def mqtt_route():
    return '[[route]]\nkind = "mqtt"\nfor = ["cover"]\n'


def message_ids(sink):
    return [parsed(letter)['Message-ID'] for letter in sink.letters]


def lines_of(file):
    return file.read_text().splitlines() if file.exists() else []


def every_route(place):
    """One notice, one telling on each of four routes, all with the same words."""
    folder, started, broker, cover, programs = place
    sink = Sink()
    with mail_server(sink) as smtp, web_server() as web:
        script = 'cat >>input.txt; echo $RIMEWARD_MESSAGE $RIMEWARD_EVENT >>told.txt'
        garden = Garden(programs, folder, started, broker, cover, email_route(smtp),
                        http_route(web.address), command_route(script), mqtt_route())
        garden.start()
        garden.read_until_raised()
        for route in ('email-1', 'http-2', 'command-3', 'mqtt-4'):
            garden.wait_for_delivery(route)
        support.equal((len(sink.letters), len(web.requests),
                       len(lines_of(folder / 'told.txt'))), (1, 1, 1), 'tellings')
        headline = f'{cover.notice["title"]}, by {cover.notice["deadline_local"]}'
        letter = parsed(sink.letters[0])
        support.equal(str(letter['Subject']), headline, 'the subject')
        words = letter.get_body(('plain',)).get_content().split('\r\n\r\n')[1]
        posted = json.loads(web.requests[0][2])
        piped = json.loads((folder / 'input.txt').read_text())
        shown = json.loads(retained(broker, STATION))
        for name, got in (('http', posted), ('command', piped), ('mqtt', shown)):
            for key in ('title', 'deadline', 'layers'):
                support.equal(got[key], cover.notice[key], f'"{key}" by {name}')
            support.equal(' '.join(words.split()), got['body'], f'the letter and {name}')
            support.check(got['message'], f'an id by {name}')
        support.equal(posted['message'], web.requests[0][1]['Idempotency-Key'],
                      'Idempotency-Key')
        trial = support.run(programs / 'rimewardd', '--config', garden.config, '--check',
                            '--routes', cwd=folder)
        support.equal(trial.count('a trial went this way'), 4, f'trials: {trial}')
        support.check(str(parsed(sink.letters.pop())['Subject']).startswith('A trial from'),
                      'the trial by e-mail')
        support.equal(json.loads(web.requests.pop()[2])['kind'], 'trial', 'by HTTP')
        rimeward = [programs / 'rimeward', '--config', garden.config]
        support.run(*rimeward, 'done', str(cover.notice['id']))
        support.wait_until(lambda: retained(broker, STATION) is None, 'cleared when done')
        garden.go_on(2)
        garden.daemon.stop()
        support.equal((len(sink.letters), len(web.requests)), (1, 1), 'nothing after it')
    print('every route: one telling each, the same words, quiet once it is done')


def troubles(place):
    """Routes that fail are tried again and deliver once; an hour of it is told elsewhere;
    nothing is sent after its end."""
    folder, started, broker, cover, programs = place
    late = Sink({'DATA': '452 full'})
    flag = folder / 'command-works'
    script = f'[ -e {flag} ] || exit 75; echo $RIMEWARD_KIND $RIMEWARD_SUBJECT >>told.txt'
    with mail_server(late) as smtp, web_server() as web:
        web.answer = (500, [], b'sorry')
        garden = Garden(programs, folder, started, broker, cover, email_route(smtp),
                        http_route(web.address), command_route(script, '"cover", "route"'))
        garden.start()
        garden.read_until_raised()
        for attempts, answer in enumerate(((503, [], b''), (307, [('Location', '/x')], b''),
                                           (200, [], b'')), start=1):
            garden.wait_for_attempts('http-2', attempts)
            web.answer = answer
            garden.go_on()
        garden.wait_for_delivery('http-2')
        flag.touch()
        garden.go_on(2)
        garden.wait_for_delivery('command-3')
        support.equal(len(web.requests), garden.outbox('http-2')[0][2], 'requests counted')
        support.equal(len({one[1]['Idempotency-Key'] for one in web.requests}), 1,
                      'the same id at each attempt')
        support.check({one[0] for one in web.requests} == {'/notices'},
                      'no redirect is followed')
        # The letter fails since over an hour: said by the command, not by e-mail.
        support.wait_until(lambda: 'route email-1' in lines_of(folder / 'told.txt'),
                           'the dead route is told of')
        told = lines_of(folder / 'told.txt')
        support.equal(sorted(told), sorted(set(told)), 'told once')
        support.equal(garden.outbox('email-1', 'route'), [], 'not by itself')
        # Past its end, three hours after sunset, it is given up for good.
        garden.go_on(10)
        support.wait_until(lambda: garden.outbox('email-1')[0][1] == 'given up', 'given up')
        late.refusals.clear()
        garden.go_on(4)
        garden.daemon.stop()
        support.equal(late.letters, [], 'nothing is sent after its end')
        print(f'troubles: {len(web.requests)} requests with one id, the last of them taken; '
              f'{garden.outbox("email-1")[0][2]} letters refused, none sent late; the dead '
              'route told by another')


class Stepwise(Sink):
    """A sink that stops at one step, until it is let go."""

    def __init__(self, step):
        super().__init__()
        self.step, self.reached, self.go = step, threading.Event(), threading.Event()

    async def pause(self, step):
        if step != self.step:
            return
        self.reached.set()
        while not self.go.is_set():
            await asyncio.sleep(0.01)

    async def handle_EHLO(self, server, session, envelope, hostname, responses):
        await self.pause('EHLO')
        session.host_name = hostname
        return responses

    async def handle_MAIL(self, server, session, envelope, address, options):
        await self.pause('MAIL')
        envelope.mail_from = address
        return '250 OK'

    async def handle_RCPT(self, server, session, envelope, address, options):
        await self.pause('RCPT')
        return await super().handle_RCPT(server, session, envelope, address, options)

    async def handle_DATA(self, server, session, envelope):
        await self.pause('content')
        answer = await super().handle_DATA(server, session, envelope)
        await self.pause('taken')
        return answer


def killed_in_a_letter(place, step, base):
    folder, started, broker, cover, programs = place
    sink = Stepwise(step)
    with mail_server(sink) as smtp:
        garden = Garden(programs, folder, started, broker, cover, email_route(smtp),
                        base=base)
        garden.start()
        garden.go_on(3)
        support.check(sink.reached.wait(20), f'the letter came to {step}')
        garden.daemon.kill()
        sink.go.set()
        garden.start()
        garden.wait_for_delivery('email-1')
        garden.daemon.stop()
    ids = message_ids(sink)
    support.check(ids, f'not lost by a kill at {step}')
    support.equal(len(set(ids)), 1, f'one id after a kill at {step}')
    return len(ids)


def killed_in_a_request(place, base):
    """Taken by the server, and the daemon killed before it heard so."""
    folder, started, broker, cover, programs = place
    with web_server() as web:
        web.go.clear()
        garden = Garden(programs, folder, started, broker, cover, http_route(web.address),
                        base=base)
        garden.start()
        garden.go_on(3)
        support.wait_until(lambda: web.requests, 'the request came')
        garden.daemon.kill()
        web.go.set()
        garden.start()
        garden.wait_for_delivery('http-1')
        garden.daemon.stop()
        support.equal(len({one[1]['Idempotency-Key'] for one in web.requests}), 1, 'one id')
        return len(web.requests)


def killed_in_a_command(place, base):
    folder, started, broker, cover, programs = place
    script = 'echo $RIMEWARD_MESSAGE >>told.txt; [ -e go ] || sleep 30'
    garden = Garden(programs, folder, started, broker, cover, command_route(script),
                    base=base)
    garden.start()
    garden.go_on(3)
    support.wait_until(lambda: lines_of(folder / 'told.txt'), 'the command began')
    garden.daemon.kill()
    (folder / 'go').touch()
    garden.start()
    garden.wait_for_delivery('command-1')
    garden.daemon.stop()
    told = lines_of(folder / 'told.txt')
    support.equal(len(set(told)), 1, 'one id')
    return len(told)


def kills(place):
    folder, started, broker, cover, programs = place
    base = folder / 'base'
    base.mkdir()
    garden = Garden(programs, base, started, broker, cover)
    garden.start()
    garden.read(cover.readings[0][0], cover.raised_at - 1)
    support.wait_until(lambda: garden.newest() >= cover.raised_at - HALF_HOUR,
                       'the afternoon')
    garden.daemon.stop()
    (base / 'rimewardd.log').unlink()
    arrived = {}
    for step in ('EHLO', 'MAIL', 'RCPT', 'content', 'taken'):
        arrived[step] = killed_in_a_letter(inside(place, step), step, base)
    arrived['request'] = killed_in_a_request(inside(place, 'request'), base)
    arrived['command'] = killed_in_a_command(inside(place, 'command'), base)
    print(f'kill -9 at {len(arrived)} steps of a delivery: arrived {arrived}, never lost, '
          'repeats with the same id')


def inside(place, name):
    folder = place[0] / name
    folder.mkdir()
    return (folder, *place[1:])


def broker_away(place):
    """The garden falls silent because its broker is gone: said by HTTP at once, and on the
    broker once it is back. The daemon's clock is put on, for it has minutes to wait."""
    folder, started, _, _, programs = place
    libraries = glob.glob('/usr/lib/*/faketime/libfaketime.so.1')
    support.check(libraries, 'libfaketime is installed (package faketime)')
    clock = BentClock(folder, libraries[0])
    clock.set(0)
    with web_server() as web:
        broker = support.Broker(folder)
        started.append(broker)
        broker.start()
        config = support.write_garden(folder, broker.address, commit_every='200 ms')
        text = config.read_text().replace('format = "json"',
                                          'format = "json"\nsilent_after = "1 min"')
        config.write_text(text[:text.index('[[route]]')]
                          + http_route(web.address, '"silent"')
                          + '[[route]]\nkind = "mqtt"\nfor = ["silent"]\n')
        daemon = support.Daemon(programs, config, environment=clock.environment)
        started.append(daemon)
        daemon.start()
        daemon.wait_for('connected')
        broker.publish('garden/station/climate', '-m', '{"temperature": 4.0}')
        support.wait_until(lambda: support.reading_count(folder / 'garden.db') == 1,
                           'the reading')
        broker.stop()
        clock.set(8 * 60)
        support.wait_until(lambda: web.requests, 'told by HTTP')
        support.wait_until(lambda: support.rows(
            folder / 'garden.db', "SELECT attempts FROM outbox WHERE route = 'mqtt-2'")
            == [(1,)], 'tried by MQTT', patience=30)
        broker.start()
        daemon.wait_for('connected', count=2, patience=90)
        clock.set(9 * 60)
        told = json.loads(web.requests[0][2])
        topic = f'rimeward/notice/silent/{told["subject"]}'
        support.wait_until(lambda: retained(broker, topic), 'shown on the broker')
        support.equal(json.loads(retained(broker, topic))['title'], told['title'],
                      'the same words')
        daemon.stop()
        support.equal(len(web.requests), 1, 'told once by HTTP')
        print('a broker that is away: told by HTTP, and by MQTT when it was back')


BROKEN_OUT = r'frame\r\nBcc: thief@example.org'
HOSTILE = r'frame; Bcc: thief@example.org =?utf-8?q?x?= <script>x</script>\"$(touch pwned)`'


def hostile_names(place):
    """A garden and a place called by what would break out of headers, HTML, a terminal or a
    shell: refused where it is more than a line, and else words on every route."""
    folder, started, broker, cover, programs = place
    sink = Sink()
    with mail_server(sink) as smtp, web_server() as web:
        garden = Garden(programs, folder, started, broker, cover, email_route(smtp),
                        http_route(web.address), command_route('cat >input.txt'),
                        mqtt_route())
        text = garden.config.read_text()
        name = 'name = "Station"'
        support.check(name in text, 'a name to replace')
        garden.config.write_text(text.replace(name, f'name = "{BROKEN_OUT}"'))
        support.run(programs / 'rimewardd', '--config', garden.config, '--check', status=1)
        garden.config.write_text(text.replace('Test garden', HOSTILE)
                                 .replace(name, f'name = "{HOSTILE}"'))
        garden.start()
        garden.read_until_raised()
        for route in ('email-1', 'http-2', 'command-3', 'mqtt-4'):
            garden.wait_for_delivery(route)
        garden.daemon.stop()
        letter = parsed(sink.letters[0])
        support.equal(letter['Bcc'], None, 'no header from a name')
        support.equal(sink.letters[0]['to'], ['keeper@example.org'], 'who gets the letter')
        html = letter.get_body(('html',)).get_content()
        support.check('<script>' not in html and '&lt;script&gt;' in html, 'HTML is words')
        title = json.loads(web.requests[0][2])['title']
        support.check('thief@example.org' in title, 'the name arrives as it is')
        support.check(title in str(letter['Subject']), 'and is the subject as it is')
        support.equal(json.loads((folder / 'input.txt').read_text())['title'], title,
                      'the same by a command')
        support.check(not list(folder.rglob('pwned')), 'no shell read the name')
    print('hostile names: refused, or words on every route, and no more')


def letters(place):
    """A morning summary and a Sunday letter at their hours, by e-mail, with the chart."""
    folder, started, broker, cover, programs = place
    sink = Sink()
    with mail_server(sink) as smtp:
        route = email_route(smtp).replace('"cover"', '"morning", "sunday"')
        garden = Garden(programs, folder, started, broker, cover, route,
                        '[gardener]\nmorning_summary = "07:15"\nsunday_letter = "18:00"\n')
        garden.start()
        sunday = support.unix_seconds('2026-03-08T00:00:00Z')
        garden.read(cover.readings[0][0], sunday)
        # What was written while days passed in moments may have lapsed; not these two.
        for hour, subject in ((6.75, 'Last night in Test garden'),
                              (17.75, 'The week in Test garden')):
            before = len(sink.letters)
            garden.read(garden.newest() + 1, sunday + hour * 3600)
            support.wait_until(lambda: len(sink.letters) > before, subject)
            support.equal(str(parsed(sink.letters[-1])['Subject']), subject, 'the subject')
        garden.daemon.stop()
        week = parsed(sink.letters[-1])
        text = week.get_body(('plain',)).get_content()
        support.check('Station' in text and 'Coldest' in text, f'the table: {text}')
        pictures = [part for part in week.walk() if part.get_content_type() == 'image/png']
        support.equal(len(pictures), 1, 'pictures')
        support.check(f'cid:{pictures[0]["Content-ID"][1:-1]}' in
                      parts_of(week)['text/html'].get_content(), 'it is shown in the letter')
        if keep := os.environ.get('RIMEWARD_KEEP_LETTERS'):
            for i, letter in enumerate(sink.letters[-2:]):
                (pathlib.Path(keep) / f'letter-{i}.eml').write_bytes(letter['bytes'])
    print('letters: the morning and the week, with its chart')


def main():
    programs = support.arguments().programs
    with support.scratch() as (folder, started):
        broker = support.Broker(folder)
        started.append(broker)
        broker.start()
        (folder / 'rehearsal').mkdir()
        cover = Cover(programs, folder / 'rehearsal')
        place = (folder, started, broker, cover, programs)
        every_route(inside(place, 'every-route'))
        letters(inside(place, 'letters'))
        hostile_names(inside(place, 'hostile-names'))
        troubles(inside(place, 'troubles'))
        kills(inside(place, 'kills'))
        broker_away(inside(place, 'broker-away'))


if __name__ == '__main__':
    main()
