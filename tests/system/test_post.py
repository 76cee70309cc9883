#!/usr/bin/env python3
"""rimeward-post against real servers: what arrives by SMTP and by HTTP, encrypted and not,
and what it says and does when a server refuses, hangs, breaks off or is not to be trusted.
What arrives is counted: what was not taken is reported so, and nothing goes twice.
"""
import email.policy
import email.utils
import json
import logging
import os
import struct
import subprocess
import time
import warnings

import support
from receivers import (Sink, hang, mail_server, make_authority, parsed, parts_of, raw_server,
                       reset, server_context, spoken, web_server)

from aiosmtpd.smtp import AuthResult  # after receivers, which knows where it is

AGAIN = 75
NO_JOB = 64
PASSWORD = 'korrekt pferd'
TOKEN = 'token-of-the-shed'
BODY = ('Low -1.3 °C expected towards 05:30.\n.\n..and a line that begins with a dot\n\n'
        '  place        low   high\n  North frame  -1.3  17.0\n\n'
        'A forecast is never a promise: look <outside> & "see".')


class Post:
    """The program, and how often and how long it ran."""

    def __init__(self, programs):
        self.program = programs / 'rimeward-post'
        # A proxy of this machine must not stand between.
        self.environment = {name: value for name, value in os.environ.items()
                            if not name.lower().endswith('_proxy')}
        self.runs = 0

    def __call__(self, job):
        """Its exit status and its last words."""
        text = job if isinstance(job, str) else json.dumps(job)
        done = subprocess.run([self.program], input=text, capture_output=True, text=True,
                              timeout=30, env=self.environment)
        self.runs += 1
        lines = done.stderr.splitlines()
        support.check(len(lines) <= 1, f'one line at most is said: {done.stderr}')
        support.equal(done.stdout, '', 'standard output')
        for secret in (PASSWORD, TOKEN):
            support.check(secret not in done.stderr, f'no secret is said: {done.stderr}')
        return done.returncode, done.stderr.strip()

    def delivers(self, job):
        support.equal(self(job), (0, ''), 'what became of it')

    def fails(self, job, *words, within=30):
        began = time.monotonic()
        status, said = self(job)
        support.equal(status, AGAIN, f'exit status ({said})')
        for one in words:
            support.check(one in said, f'"{one}" is said: {said}')
        support.check(time.monotonic() - began < within, f'within {within} s: {said}')


# --- jobs

def letter(chart=None, **changes):
    return {'id': '12-1776013500', 'subject': 'Fleece the north frame tonight, by 19:20',
            'sections': [{'headline': 'Fleece the north frame tonight, by 19:20',
                          'body': BODY}], 'chart': chart, **changes}


def chart():
    return {'title': 'Lows and highs of the week', 'in_fahrenheit': False,
            'days': ['Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat', 'Sun'],
            'lines': [{'place': 'North frame', 'lows': [1, 2, None, 3, 2, 0.5, 1],
                       'highs': [15, 17, None, 19, 18, 12, 14], 'keep_above': 1}]}


def email_job(address, **changes):
    job = {'address': address, 'ca_file': '', 'encrypted': True, 'user': '',
           'password_file': '', 'garden': 'Schulgarten Höchfeld',
           'from': 'rimeward@example.org', 'to': ['anna@example.org'], 'time_limit_s': 10,
           'letter': letter()}
    return {'email': {**job, **changes}}


def http_job(address, **changes):
    job = {'address': address, 'ca_file': '', 'headers': ['X-Garden: hochfeld'],
           'bearer_file': '', 'content_type': 'application/json', 'id': '12-1776013500',
           'content': '{"title":"Südkasten"}', 'time_limit_s': 10}
    return {'http': {**job, **changes}}


# --- tests

def check_letter(taken):
    support.equal((taken['from'], taken['to']), ('rimeward@example.org',
                                                 ['anna@example.org', 'ben@example.org']),
                  'envelope')
    message = parsed(taken)
    sender = message['From'].addresses[0]
    support.equal((sender.display_name, sender.addr_spec),
                  ('Schulgarten Höchfeld', 'rimeward@example.org'), 'From')
    support.equal(str(message['To']), 'anna@example.org, ben@example.org', 'To')
    support.equal(str(message['Subject']), 'Nordkasten bis 19:20 mit Vlies abdecken – Höchfeld '
                  'im Frühling, wo die Nächte länger kalt sind', 'Subject')
    age = time.time() - email.utils.parsedate_to_datetime(message['Date']).timestamp()
    support.check(-2 < age < 60, f'Date is now: {message["Date"]}')
    support.equal(message['Message-ID'], '<rimeward.12-1776013500@example.org>', 'Message-ID')
    support.equal(message['Auto-Submitted'], 'auto-generated', 'Auto-Submitted')
    support.equal(len(message.defects), 0, f'defects of the message ({message.defects})')
    return message


def letters_arrive(post):
    sink = Sink()
    with mail_server(sink) as address:
        plain = email_job(address, encrypted=False,
                          to=['anna@example.org', 'ben@example.org'],
                          letter=letter(chart(), subject='Nordkasten bis 19:20 mit Vlies '
                                        'abdecken – Höchfeld im Frühling, wo die Nächte '
                                        'länger kalt sind'))
        post.delivers(plain)
        support.equal(len(sink.letters), 1, 'letters')
        message = check_letter(sink.letters[0])
        support.equal(message.get_content_type(), 'multipart/alternative', 'type')
        parts = parts_of(message)
        support.equal(sorted(parts), ['image/png', 'text/html', 'text/plain'], 'parts')
        text = parts['text/plain'].get_content()
        support.check(BODY in text.replace('\r\n', '\n'), f'the body in full: {text}')
        page = parts['text/html'].get_content()
        for piece in ('<pre', 'look &lt;outside&gt; &amp; &quot;see&quot;.',
                      '-1.3 °C', 'Schulgarten Höchfeld'):
            support.check(piece in page, f'{piece} in the page: {page}')
        picture = parts['image/png']
        support.check(f'src="cid:{picture["Content-ID"].strip("<>")}"' in page,
                      'the page shows the picture')
        png = picture.get_content()
        support.equal((png[:8], struct.unpack('>II', png[16:24])),
                      (b'\x89PNG\r\n\x1a\n', (720, 360)), 'the picture')

        post.delivers(email_job(address, encrypted=False))
        parts = parts_of(parsed(sink.letters[1]))
        support.equal(sorted(parts), ['text/html', 'text/plain'], 'parts without a chart')
        support.check('<img' not in parts['text/html'].get_content(), 'no picture is shown')
        support.equal(parsed(sink.letters[1])['Message-ID'], message['Message-ID'],
                      'Message-ID of the same letter, sent again')
    print('letters arrive: headers, text, page and picture')


def hostile_letters_arrive_tame(post):
    sink = Sink()
    bad = 'x\r\nBcc: all@example.org\r\n\r\n<script>alert(1)</script>\u0000\u001b[31m'
    with mail_server(sink) as address:
        post.delivers(email_job(address, encrypted=False, garden='"' + bad,
                                letter=letter(dict(chart(), title=bad, days=[bad] * 7),
                                              subject=bad + ' ☃' * 300,
                                              sections=[{'headline': bad, 'body': bad}])))
        message = parsed(sink.letters[0])
        support.equal(sink.letters[0]['to'], ['anna@example.org'], 'whom it went to')
        support.equal(message['Bcc'], None, 'Bcc')
        support.equal(message.defects, [], 'defects')
        support.equal(str(message['To']), 'anna@example.org', 'To')
        support.check('<script' not in parts_of(message)['text/html'].get_content(),
                      'no script')
        for name, value in (('from', 'a@example.org>\r\nRCPT TO:<b@example.org'),
                            ('to', ['a@example.org\r\nDATA']), ('to', [])):
            status, said = post(email_job(address, encrypted=False, **{name: value}))
            support.equal(status, NO_JOB, f'exit status with a bad {name} ({said})')
        support.equal(len(sink.letters), 1, 'letters')
    print('what tries to break out of a letter stays in it')


def encrypted_letters(post, folder):
    good = server_context(folder, 'IP:127.0.0.1')
    other = server_context(folder, 'DNS:elsewhere.example.org')
    ca_file = str(folder / 'ca.pem')
    sink = Sink()
    with mail_server(sink, tls_context=good, require_starttls=True) as address:
        post.delivers(email_job(address, ca_file=ca_file))
        support.check(sink.letters[0]['encrypted'], 'encrypted after STARTTLS')
        post.fails(email_job(address), 'its certificate was refused', 'ca_file', address)
        post.fails(email_job(address, ca_file=str(folder / 'none.pem')), 'ca_file', 'PEM')
        post.fails(email_job(address, encrypted=False), address)
        support.equal(len(sink.letters), 1, 'letters by STARTTLS')
    sink = Sink()
    with mail_server(sink, tls_context=other) as address:
        post.fails(email_job(address, ca_file=ca_file), 'for another name', 'server')
    with mail_server(sink) as address:
        post.fails(email_job(address), 'STARTTLS', 'smtps://', 'encrypted = false')
        post.fails(email_job(address.replace('smtp:', 'smtps:')), 'scheme and port')
    support.equal(sink.letters, [], 'letters to servers that are not to be trusted')
    support.equal(sink.asked_for, [], 'recipients that those heard of')
    with mail_server(sink, ssl_context=good) as address:
        post.delivers(email_job(address, ca_file=ca_file))
        post.fails(email_job(address), 'its certificate was refused')
        post.fails(email_job(address.replace('smtps:', 'smtp:'), time_limit_s=1), 'server')
    support.equal(len(sink.letters), 1, 'letters by smtps')
    print('encrypted: to a trusted server only, and never without where it is to be')


def logins(post, folder):
    def authenticate(server, session, envelope, mechanism, data):
        right = (data.login, data.password) == (b'garden', PASSWORD.encode())
        return AuthResult(success=right, handled=False, auth_data=data.login)

    secret = folder / 'password'
    secret.write_text(PASSWORD + '\r\n# of the shed\n')
    sink = Sink()
    context = server_context(folder, 'IP:127.0.0.1')
    with mail_server(sink, tls_context=context, authenticator=authenticate,
                     auth_required=True) as address:
        job = dict(ca_file=str(folder / 'ca.pem'), user='garden', password_file=str(secret))
        post.delivers(email_job(address, **job))
        support.equal(sink.letters[0]['user'], b'garden', 'who logged in')
        post.fails(email_job(address, ca_file=job['ca_file']), 'without a login (530',
                   'user and password_file')
        post.fails(email_job(address, **{**job, 'user': 'gardener'}), 'refused the login (535',
                   'mend [[route]] user or password_file')
        post.fails(email_job(address, **{**job, 'password_file': str(folder / 'gone')}),
                   str(folder / 'gone'), 'No such file', "let the daemon's user read it")
        post.fails(email_job(address, **{**job, 'password_file': str(folder)}),
                   'Is a directory')
        secret.write_text('\n')
        post.fails(email_job(address, **job), 'holds nothing')
        support.equal(len(sink.letters), 1, 'letters')
    print('logins: the right one, the wrong one, and none')


def refused_letters(post):
    anna, ben = 'anna@example.org', 'ben@example.org'
    both = dict(encrypted=False, to=[anna, ben])
    for refusals, said in (({anna: '452 4.2.2 full'}, 'not now (452 4.2.2 full)'),
                           ({anna: '550 5.1.1 no "such" user'},
                            'refused the letter (550 5.1.1 no "such" user)'),
                           ({'DATA': '451 4.3.0 later'}, 'not now (451'),
                           ({'DATA': '554 5.7.1 spam'}, 'refused the letter (554')):
        sink = Sink(refusals)
        with mail_server(sink) as address:
            post.fails(email_job(address, encrypted=False), said, address)
        support.equal(sink.letters, [], 'letters')

    sink = Sink({anna: '550 5.1.1 moved away'})
    with mail_server(sink) as address:
        status, said = post(email_job(address, **both))
        support.equal((status, said), (0, f'{address}: took the letter, but not for {anna} '
                                       '(550 5.1.1 moved away); mend [[route]] to'),
                      'what became of a letter to two, of whom one is not there')
    support.equal([taken['to'] for taken in sink.letters], [[ben]], 'who has the letter')

    sink = Sink({ben: '450 4.7.1 come back'})
    with mail_server(sink) as address:
        post.fails(email_job(address, **both), 'not now (450')
        support.equal(sink.letters, [], 'letters while one of two is to come back')
        sink.refusals.clear()
        post.delivers(email_job(address, **both))
    support.equal([taken['to'] for taken in sink.letters], [[anna, ben]], 'who has it then')
    print('refused letters: said, tried again, and for one of two')


def bad_mail_servers(post):
    greeting = {'greeting': b'220 here\r\n'}
    ended = []
    for lines, said in (({'greeting': b'421 4.3.2 closing\r\n'}, 'not now (421'),
                        ({'greeting': b'554 no\r\n'}, 'refused the letter (554'),
                        ({'greeting': b'220 here\r\n', 'MAIL': b''}, 'broke off'),
                        ({'greeting': b'220 here\r\n', 'DATA': b'354 go\r\n', '.': b''},
                         'broke off')):
        with raw_server(spoken(lines, ended)) as port:
            post.fails(email_job(f'smtp://127.0.0.1:{port}', encrypted=False), said)
    for lines in ({'greeting': None}, {**greeting, 'MAIL': None},
                  {**greeting, 'DATA': b'354 go\r\n', '.': None}):
        with raw_server(spoken(lines, ended)) as port:
            post.fails(email_job(f'smtp://127.0.0.1:{port}', encrypted=False, time_limit_s=1),
                       'no answer in time', 'time_limit', within=10)
    with raw_server(reset) as port:
        post.fails(email_job(f'smtps://127.0.0.1:{port}'), f'smtps://127.0.0.1:{port}')
    with raw_server(lambda connection: connection.sendall(b'HTTP/1.1 400 Bad\r\n')) as port:
        post.fails(email_job(f'smtp://127.0.0.1:{port}'), f'smtp://127.0.0.1:{port}')
    post.fails(email_job(f'smtp://127.0.0.1:{support.free_port()}'), 'nothing answers there')

    taken = []
    with raw_server(spoken({**greeting, 'DATA': b'354 go\r\n', 'QUIT': None}, taken)) as port:
        began = time.monotonic()
        post.delivers(email_job(f'smtp://127.0.0.1:{port}', encrypted=False, time_limit_s=30))
        support.check(time.monotonic() - began < 10, 'a goodbye without an answer is short')
    support.equal(len(taken), 1, 'letters taken without a goodbye')
    print('mail servers that hang, break off or are none: said, and not waited for')


def posts_arrive(post, folder):
    token = folder / 'token'
    token.write_text(TOKEN + '\n')
    with web_server() as server:
        for status, answer in ((200, b'thanks'), (204, b''), (201, b'x' * 200_000)):
            server.answer = (status, [], answer)
            post.delivers(http_job(server.address + '/notices?to=shed',
                                   bearer_file=str(token)))
        support.equal(len(server.requests), 3, 'requests')
        for path, headers, body in server.requests:
            support.equal((path, body), ('/notices?to=shed', '{"title":"Südkasten"}'.encode()),
                          'what was posted')
            for name, value in (('Content-Type', 'application/json'),
                                ('Idempotency-Key', '12-1776013500'),
                                ('Authorization', f'Bearer {TOKEN}'),
                                ('X-Garden', 'hochfeld')):
                support.equal(headers.get_all(name), [value], name)

        server.answer = (200, [], None)
        began = time.monotonic()
        post.delivers(http_job(server.address))
        support.check(time.monotonic() - began < 5, 'an answer without end is not waited for')
        post.fails(http_job(server.address, bearer_file=str(folder / 'gone')), 'bearer_file',
                   str(folder / 'gone'), "let the daemon's user read it")
        for address in ('file:///etc/passwd', 'ftp://127.0.0.1/'):
            support.equal(post(http_job(address))[0], NO_JOB, f'exit status with {address}')
        status, said = post(http_job(server.address, headers=['X-A: b\r\nX-C: d']))
        support.equal(status, NO_JOB, f'exit status with a header of two lines ({said})')
        support.equal(len(server.requests), 4, 'requests in all')
    print('posts arrive: content, headers and token')


def refused_posts(post):
    secret = '/hooks/a-secret-path'
    with web_server() as server:
        statuses = ((500, 'in trouble itself'), (503, 'in trouble itself'),
                    (401, 'bearer_file or headers'), (403, 'bearer_file or headers'),
                    (404, 'mend [[route]] url'), (429, 'tried again'), (400, 'format'))
        for status, said in statuses:
            server.answer = (status, [], b'no')
            post.fails(http_job(server.address + secret), f'status {status}', said)
        support.equal(len(server.requests), len(statuses), 'requests')
        support.equal({headers['Idempotency-Key'] for _, headers, _ in server.requests},
                      {'12-1776013500'}, 'Idempotency-Key of all attempts')
        for status in (301, 302, 307, 308):
            place = f'{server.address}/new/place?key=hidden'
            server.answer = (status, [('Location', place)], b'')
            post.fails(http_job(server.address + secret),
                       f'points to {server.address}/new/place; write that as [[route]] url')
        server.answer = (301, [('Location', f'https://u:p@example.org{secret}/')], b'')
        status, said = post(http_job(server.address + secret))
        support.check('points to https://example.org/...' in said, f'where it points: {said}')
        support.check('secret' not in said and 'u:p' not in said, f'no secret: {said}')
        support.equal([path for path, _, _ in server.requests if path != secret], [],
                      'requests that followed a redirect')
    print('refused posts: said with the remedy, and no redirect followed')


def bad_web_servers(post, folder):
    with raw_server(hang) as port:
        post.fails(http_job(f'http://127.0.0.1:{port}', time_limit_s=1), 'no answer in time',
                   within=10)
    with raw_server(reset) as port:
        post.fails(http_job(f'http://127.0.0.1:{port}'), 'broke off')
    with raw_server(lambda connection: connection.sendall(b'220 here\r\n')) as port:
        post.fails(http_job(f'http://127.0.0.1:{port}'), f'http://127.0.0.1:{port}')
    post.fails(http_job(f'http://127.0.0.1:{support.free_port()}'), 'nothing answers there')
    with web_server(server_context(folder, 'IP:127.0.0.1')) as server:
        post.delivers(http_job(server.address, ca_file=str(folder / 'ca.pem')))
        post.fails(http_job(server.address), 'its certificate was refused', 'ca_file')
        support.equal(len(server.requests), 1, 'requests by https')
    with web_server(server_context(folder, 'DNS:elsewhere.example.org')) as server:
        post.fails(http_job(server.address, ca_file=str(folder / 'ca.pem')),
                   'for another name', 'url')
        support.equal(server.requests, [], 'requests to a server of another name')
    print('web servers that hang, break off or are not to be trusted: said')


def no_jobs(post):
    for text in ('', '{', '[]', '{"email": 3}', '\ufeff{}'):
        status, said = post(text)
        support.equal(status, NO_JOB, f'exit status of {text!r}')
        support.check(said.startswith('no job: '), said)
    print('what is no job is refused')


def main():
    programs = support.arguments().programs
    # Clients that are refused or leave in the middle are what is tested.
    logging.disable(logging.CRITICAL)
    warnings.simplefilter('ignore')
    post = Post(programs)
    began = time.monotonic()
    with support.scratch() as (folder, _):
        make_authority(folder)
        letters_arrive(post)
        hostile_letters_arrive_tame(post)
        encrypted_letters(post, folder)
        logins(post, folder)
        refused_letters(post)
        bad_mail_servers(post)
        posts_arrive(post, folder)
        refused_posts(post)
        bad_web_servers(post, folder)
        no_jobs(post)
    print(f'{post.runs} runs in {time.monotonic() - began:.1f} s')


if __name__ == '__main__':
    main()
