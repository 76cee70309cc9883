"""The medium beneath a store, as tests make it fail: what tests/support/medium_shim.cc is
told, small disks, and what the service manager hears of a daemon meanwhile."""
import contextlib
import os
import socket
import sqlite3
import subprocess
import threading
import time

import support


def shim(programs, folder, **settings):
    """The environment of a program whose medium is the folder; see medium_shim.cc."""
    return {'LD_PRELOAD': str(programs / 'medium_shim.so'),
            'RIMEWARD_MEDIUM_FOLDER': str(folder),
            **{f'RIMEWARD_MEDIUM_{name.upper()}': str(value)
               for name, value in settings.items()}}


def put_store(config, store):
    """The settings with the store elsewhere; the spool stays."""
    line = f'file = "{config.parent}/garden.db"'
    text = config.read_text()
    support.check(line in text, 'a line for the store')
    config.write_text(text.replace(line, f'file = "{store}"'))


def faults(store):
    """All that SQLite finds wrong."""
    with contextlib.closing(sqlite3.connect(store, timeout=10)) as database:
        found = [row[0] for row in database.execute('PRAGMA integrity_check(5)')]
    return [] if found == ['ok'] else found


@contextlib.contextmanager
def mounted(folder, *options):
    """What `mount` makes of the folder; without the right to, the test is skipped."""
    if os.geteuid() != 0:
        support.skip('only root may mount a small disk')
    done = subprocess.run(['mount', *options, folder], capture_output=True, text=True)
    if done.returncode != 0:
        support.skip(f'no small disk can be mounted here: {done.stderr.strip()}')
    try:
        yield folder
    finally:
        subprocess.run(['umount', '--lazy', folder], check=False)


def small_disk(folder, megabytes):
    """A disk in memory."""
    folder.mkdir(exist_ok=True)
    return mounted(folder, '-t', 'tmpfs', '-o', f'size={megabytes}m', 'tmpfs')


def fill(folder):
    """A file that leaves not a byte."""
    file = folder / 'filler'
    with open(file, 'ab', buffering=0) as stream:
        for size in (1 << 16, 1 << 12, 1):
            with contextlib.suppress(OSError):
                while True:
                    stream.write(bytes(size))
    return file


class Supervisor:
    """Listens as the service manager does, and knows when it was told what."""

    def __init__(self, folder, patience):
        self.address = folder / 'notify'
        self.patience = patience
        self.told = []  # (seconds of the monotonic clock, word)
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.socket.bind(str(self.address))
        threading.Thread(target=self.listen, daemon=True).start()

    @property
    def environment(self):
        return {'NOTIFY_SOCKET': str(self.address),
                'WATCHDOG_USEC': str(round(self.patience * 1_000_000))}

    def listen(self):
        with contextlib.suppress(OSError):
            while True:
                words = self.socket.recv(4096).decode()
                self.told.append((time.monotonic(), words.split('\n')[0]))

    def ended(self):
        """The test has ended the daemon itself."""
        self.told.append((time.monotonic(), 'STOPPING=1'))

    def longest_silence(self):
        """Of the watchdog, from ready to stopping; as the manager sees it."""
        longest, fed = 0, None
        for at, word in self.told + [(time.monotonic(), 'the end')]:
            if fed is not None:
                longest = max(longest, at - fed)
            if word in ('READY=1', 'WATCHDOG=1'):
                fed = at
            elif word in ('STOPPING=1', 'RELOADING=1'):
                fed = None
        return longest
