"""A publisher that is faster than any sensor: MQTT 3.1.1 by hand over one socket, for what
the tests and benchmarks send by the million.

A message is made once, by `packet`, and many go out in one piece; the broker's word on each
at QoS 1 is counted as it comes. MQTT Version 3.1.1, OASIS Standard, sections 3.1 to 3.4.
"""
import contextlib
import socket

WINDOW = 2_000  # at most so many without the broker's word
LARGEST_ID = 65_535
CONNECTED = b'\x20\x02\x00\x00'
IDS = [number.to_bytes(2, 'big') for number in range(LARGEST_ID + 1)]


def sized(first, length):
    """The fixed header of a packet of that remaining length (section 2.2.3)."""
    digits = bytearray([first])
    while True:
        length, digit = divmod(length, 128)
        digits.append(digit | (128 if length else 0))
        if not length:
            return bytes(digits)


HEADS = {first: [sized(first, length) for length in range(1_000)]
         for first in (0x30, 0x31, 0x32, 0x33)}  # QoS 0 and 1, each also to be retained


def text(string):
    data = string.encode()
    return len(data).to_bytes(2, 'big') + data


class Publisher:
    def __init__(self, port, client_id='sensors'):
        self.socket = socket.create_connection(('127.0.0.1', port), 10)
        body = text('MQTT') + b'\x04\x02\x00\x00' + text(client_id)  # a clean session
        self.socket.sendall(sized(0x10, len(body)) + body)
        if self.socket.recv(4) != CONNECTED:
            raise ConnectionError('the broker refused the publisher')
        self.socket.settimeout(60)
        self.last_id = 0
        self.waiting = 0  # for the broker's word
        self.piece = 0  # bytes of a word that has come in part
        self.sent = 0
        self.pending = []

    def packet(self, topic, payload, qos=1, retained=False):
        """`topic` as from text()."""
        first = 0x30 | qos << 1 | retained
        length = len(topic) + len(payload) + (2 if qos else 0)
        head = HEADS[first][length] if length < 1_000 else sized(first, length)
        if not qos:
            return head + topic + payload
        self.last_id = self.last_id % LARGEST_ID + 1
        return head + topic + IDS[self.last_id] + payload

    def publish(self, topic, payload, qos=1, retained=False):
        """Sends it, at the latest with flush()."""
        self.pending.append(self.packet(topic, payload, qos, retained))
        self.waiting += qos
        if len(self.pending) >= WINDOW // 4:
            self.flush()

    def flush(self):
        self.send(self.pending)
        self.pending = []

    def send(self, packets):
        """What was counted among the waiting already."""
        self.socket.sendall(b''.join(packets))
        self.sent += len(packets)
        self.hear(WINDOW)

    def finish(self):
        """Waits for the broker's word on all that was published."""
        self.flush()
        self.hear(0)

    def hear(self, most_waiting):
        while self.waiting > most_waiting:
            data = self.socket.recv(1 << 16)
            if not data:
                raise ConnectionError('the broker closed the connection')
            words, self.piece = divmod(self.piece + len(data), 4)
            self.waiting -= words

    def close(self):
        with contextlib.suppress(OSError):
            self.socket.sendall(b'\xe0\x00')
        self.socket.close()
