"""An evening that grows cold while something is wrong with the store: a garden an hour
before its frost notice, on a medium of its own. The time is that of the readings."""
import pathlib
import shutil
import subprocess
import time
import typing

import medium
import support
from test_delivery import Cover, Garden, command_route, lines_of

IN_TIME = 15.0  # seconds from a reading to what follows from it
HALF_HOUR = 1800
WAIT = 'readings wait in memory and the advice goes on'
WELL = 'the store takes readings again'


class Place(typing.NamedTuple):
    """What the parts of a test share."""
    folder: pathlib.Path
    started: list
    broker: support.Broker
    cover: Cover
    programs: pathlib.Path
    past: pathlib.Path  # the store


class Evening(Garden):
    """Its store lies on `card`, a folder that may be a disk of its own.

    With `fails`, an error's name, all that is written fails while `trouble` is there.
    """

    LOOKS = 8  # half hours in which something is to come about

    def __init__(self, place, name, card=None, commit_every='100 ms', fails=None):
        self.folder = place.folder / name
        self.folder.mkdir()
        super().__init__(place.programs, self.folder, place.started, place.broker,
                         place.cover,
                         command_route('echo $RIMEWARD_KIND $RIMEWARD_SUBJECT >>told.txt',
                                       '"cover", "danger", "store"'))
        self.config.write_text(self.config.read_text().replace(
            'commit_every = "100 ms"', f'commit_every = "{commit_every}"'))
        self.card = card or self.folder / 'card'
        self.card.mkdir(exist_ok=True)
        self.store = self.card / 'garden.db'
        medium.put_store(self.config, self.store)
        shutil.copy(place.past, self.store)
        self.trouble = self.folder / 'trouble'
        if fails:
            self.daemon.environment.update(medium.shim(
                place.programs, self.card, fails=fails, fails_while=self.trouble))
        self.before = self.exported()
        self.at = self.newest()
        self.sent = []

    def rimeward(self, *command, environment=None):
        return subprocess.run([self.programs / 'rimeward', '--config', self.config,
                               *command], capture_output=True, text=True, timeout=60,
                              env=environment)

    def exported(self):
        done = self.rimeward('export')
        support.equal(done.returncode, 0, f'exit status of export ({done.stderr})')
        return done.stdout.splitlines()

    def send(self, until):
        """The readings up to then."""
        for when, payload in self.cover.readings:
            if self.at < when <= until:
                self.broker.publish('garden/station/climate', '-m', payload)
                self.sent.append(when)
        self.at = max(self.at, until)

    def send_hours(self, hours):
        self.send(self.at + round(2 * hours * HALF_HOUR))

    def fall_ill(self, words):
        """A reading comes that cannot be stored, and the log says what to do."""
        self.send(self.cover.raised_at - 1)
        self.wait_for(words)
        self.wait_for(WAIT)

    def send_until_told(self):
        """The frost notice goes out."""
        self.send(self.cover.raised_at + HALF_HOUR)
        self.wait_until_told('cover station')
        time.sleep(0.5)  # the daemon hears that it was told before its clock goes on

    def send_until_frost_is_told(self):
        """By the one notice or the other: without what was learned it is warned late."""
        told = self.folder / 'told.txt'
        self.send_until(lambda: {'cover station', 'danger station'} & set(lines_of(told)),
                        'told of frost')

    def send_until_told_of_store(self):
        """A word of the store goes out; it takes some minutes by the garden's clock."""
        self.send_until(lambda: 'store the garden' in lines_of(self.folder / 'told.txt'),
                        'told of the store')

    def send_until_store_is_over(self):
        """The notice of the store is closed once it has been well for a while."""
        self.send_until(lambda: support.rows(
            self.store, "SELECT closed_at IS NOT NULL FROM notice WHERE kind = 'store'")
            == [(1,)], 'the notice of the store is closed')

    def send_until(self, holds, what):
        """Readings come until it does."""
        for _ in range(self.LOOKS):
            time.sleep(2)
            if holds():
                return
            self.send_hours(0.5)
        support.wait_until(holds, what, IN_TIME)

    def wait_until_told(self, what):
        support.wait_until(lambda: what in lines_of(self.folder / 'told.txt'),
                           f'told by the command: {what}', IN_TIME)

    def wait_for(self, words, count=1):
        self.daemon.wait_for(words, IN_TIME, count)

    def end_well(self):
        """All is stored, what was there before and two values for each reading since."""
        support.wait_until(lambda: len(self.exported()) - len(self.before)
                           >= 2 * len(self.sent), 'all that came is stored', 30)
        self.daemon.stop()
        stored = self.exported()
        support.equal(stored[:len(self.before)], self.before, 'what was stored before')
        support.equal(len(stored) - len(self.before), 2 * len(self.sent),
                      'readings stored since')
        support.equal(medium.faults(self.store), [], 'faults in the store')


def the_past(programs, parent, started, broker, cover):
    """A store as it is an hour before the frost notice."""
    folder = parent / 'past'
    folder.mkdir()
    garden = Garden(programs, folder, started, broker, cover)
    garden.start()
    garden.read(cover.readings[0][0], cover.raised_at - HALF_HOUR - 1)
    garden.daemon.stop()
    return garden.store


def run_parts(*parts):
    programs = support.arguments().programs
    with support.scratch() as (folder, started):
        folder = folder.resolve()
        broker = support.Broker(folder)
        started.append(broker)
        broker.start()
        cover = Cover(programs, folder)
        past = the_past(programs, folder, started, broker, cover)
        place = Place(folder, started, broker, cover, programs, past)
        try:
            for part in parts:
                part(place)
        except AssertionError:
            newest = max(folder.glob('*/rimewardd.log'),
                         key=lambda log: log.stat().st_mtime)
            print(f'--- {newest}:\n{newest.read_text()[-3000:]}')
            raise
