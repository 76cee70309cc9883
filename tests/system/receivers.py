"""Servers for the tests of what is delivered: mail sinks and web servers on loopback ports,
with certificates of an authority of the test's own.

A test that imports this is skipped where aiosmtpd is missing.
"""
import asyncio
import contextlib
import email
import email.policy
import http.server
import socket
import ssl
import struct
import subprocess
import sys
import threading

import support

# Where Debian has its packages, for a Python that is not Debian's own.
sys.path.append('/usr/lib/python3/dist-packages')
try:
    from aiosmtpd.smtp import SMTP
except ImportError:
    support.skip('aiosmtpd is not installed (package python3-aiosmtpd)')


# --- certificates

def openssl(*arguments):
    subprocess.run(['openssl', *arguments], check=True, capture_output=True)


def make_authority(folder):
    openssl('req', '-x509', '-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1',
            '-nodes', '-days', '2', '-subj', '/CN=Authority of the test',
            '-keyout', folder / 'ca.key', '-out', folder / 'ca.pem')


def server_context(folder, name):
    """For a server whose certificate is for `name`, such as "IP:127.0.0.1"."""
    file = folder / name.replace(':', '-')
    extensions = file.with_suffix('.ext')
    extensions.write_text(f'subjectAltName={name}\n')
    openssl('req', '-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes',
            '-subj', '/CN=server', '-keyout', f'{file}.key', '-out', f'{file}.csr')
    openssl('x509', '-req', '-in', f'{file}.csr', '-CA', folder / 'ca.pem',
            '-CAkey', folder / 'ca.key', '-CAcreateserial', '-days', '2',
            '-extfile', extensions, '-out', f'{file}.pem')
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(f'{file}.pem', f'{file}.key')
    return context


# --- servers

class Sink:
    """Takes letters; `refusals` maps what a client sends to what it is told."""

    def __init__(self, refusals=None):
        self.refusals = refusals or {}
        self.letters = []
        self.asked_for = []

    async def handle_RCPT(self, server, session, envelope, address, options):
        self.asked_for.append(address)
        if address in self.refusals:
            return self.refusals[address]
        envelope.rcpt_tos.append(address)
        return '250 OK'

    async def handle_DATA(self, server, session, envelope):
        if 'DATA' in self.refusals:
            return self.refusals['DATA']
        self.letters.append({'from': envelope.mail_from, 'to': list(envelope.rcpt_tos),
                             'bytes': envelope.original_content,
                             'encrypted': session.ssl is not None,
                             'user': session.auth_data})
        return '250 OK'


@contextlib.contextmanager
def mail_server(sink, ssl_context=None, **options):
    loop = asyncio.new_event_loop()
    loop.set_exception_handler(lambda *_: None)  # a client that breaks off is part of it

    def client():
        return SMTP(sink, hostname='sink.example.org', loop=loop, **options)

    server = loop.run_until_complete(
        loop.create_server(client, '127.0.0.1', 0, ssl=ssl_context))
    port = server.sockets[0].getsockname()[1]
    thread = threading.Thread(target=loop.run_forever, daemon=True)
    thread.start()
    try:
        yield f'{"smtps" if ssl_context else "smtp"}://127.0.0.1:{port}'
    finally:
        loop.call_soon_threadsafe(loop.stop)
        thread.join(5)
        server.close()
        for task in asyncio.all_tasks(loop):
            task.cancel()
        loop.run_until_complete(asyncio.sleep(0))
        loop.close()


@contextlib.contextmanager
def raw_server(serve):
    """Calls `serve(connection)` for each client."""
    listener = socket.create_server(('127.0.0.1', 0))
    ended = threading.Event()
    workers = []

    def one(connection):
        with connection, contextlib.suppress(OSError):
            serve(connection)

    def accept():
        while not ended.is_set():
            with contextlib.suppress(OSError):
                workers.append(threading.Thread(target=one, args=(listener.accept()[0],),
                                                daemon=True))
                workers[-1].start()

    thread = threading.Thread(target=accept, daemon=True)
    thread.start()
    try:
        yield listener.getsockname()[1]
    finally:
        ended.set()
        listener.shutdown(socket.SHUT_RDWR)
        listener.close()
        thread.join(5)


def hang(connection):
    """Takes all and says nothing, until the client leaves."""
    while connection.recv(4096):
        pass


def reset(connection):
    connection.recv(1)
    abort(connection)


def abort(connection):
    connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack('ii', 1, 0))


def spoken(lines, counted):
    """A mail server that answers by the first word of a line; `None` is no answer."""
    def serve(connection):
        stream = connection.makefile('rwb', 0)
        if lines['greeting'] is None:
            return hang(connection)
        stream.write(lines['greeting'])
        in_letter = False
        while line := stream.readline():
            if in_letter and line != b'.\r\n':
                continue
            word = '.' if in_letter else line.split(b' ')[0].strip().decode()
            in_letter = word == 'DATA'
            answer = lines.get(word, b'250 OK\r\n')
            if word == '.':
                counted.append(word)
            if answer is None:
                return hang(connection)
            if answer == b'':
                return abort(connection)
            stream.write(answer)
    return serve


class Web(http.server.BaseHTTPRequestHandler):
    protocol_version = 'HTTP/1.1'

    def do_POST(self):
        body = self.rfile.read(int(self.headers['Content-Length']))
        self.server.requests.append((self.path, self.headers, body))
        self.server.go.wait()
        status, headers, answer = self.server.answer
        self.send_response(status)
        for name, value in headers:
            self.send_header(name, value)
        if answer is not None:
            self.send_header('Content-Length', str(len(answer)))
        self.end_headers()
        if answer is not None:
            return self.wfile.write(answer)
        with contextlib.suppress(OSError):
            while True:  # without an end
                self.wfile.write(b' ' * 65536)
        self.close_connection = True

    def do_GET(self):
        self.server.requests.append((self.path, self.headers, b''))
        self.send_error(405)

    def log_message(self, *_):
        pass


class QuietServer(http.server.ThreadingHTTPServer):
    daemon_threads = True

    def handle_error(self, *_):
        """A client that breaks off is part of the test."""


@contextlib.contextmanager
def web_server(ssl_context=None):
    server = QuietServer(('127.0.0.1', 0), Web)
    server.requests = []
    server.answer = (200, [], b'thanks')
    server.go = threading.Event()  # cleared, it takes a request and does not answer
    server.go.set()
    if ssl_context:
        server.socket = ssl_context.wrap_socket(server.socket, server_side=True,
                                                do_handshake_on_connect=False)
    server.address = f'{"https" if ssl_context else "http"}://127.0.0.1:{server.server_port}'
    thread = threading.Thread(target=server.serve_forever, args=(0.05,), daemon=True)
    thread.start()
    try:
        yield server
    finally:
        server.shutdown()
        server.server_close()


def parsed(taken):
    lines = taken['bytes'].split(b'\r\n')
    support.check(all(len(line) <= 998 for line in lines), 'no line is too long for SMTP')
    support.check(all(byte < 128 for byte in taken['bytes']), 'only ASCII')
    support.check(b'\n' not in b''.join(lines), 'every line ends in CRLF')
    return email.message_from_bytes(taken['bytes'], policy=email.policy.default)


def parts_of(message):
    return {part.get_content_type(): part for part in message.walk()
            if not part.is_multipart()}
