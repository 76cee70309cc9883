"""What a power cut would leave of a folder whose changes tests/support/medium_shim.cc
wrote down: the model of the medium, and the folder's files at any instant.

What was synced is there. Of what came after the last sync of a file, each sector of 512
bytes is there in any of the versions that it had since, whatever became of the others,
and the file has any of the sizes that it had. A sync covers what was written before it
began, and nothing is owed before it has ended. Names (made, removed, given) are certain
after a sync of the folder; of later changes the first so-many are there: a file system
with a journal keeps their order, but need not write them down with the file that they
name. That is less than ext4 promises, whose journal takes the names along with any sync.
"""
import dataclasses
import random

SECTOR = 512
FRAME_HEADER = 24  # sqlite.org/fileformat2.html, section 4


@dataclasses.dataclass(frozen=True)
class Record:
    op: str
    time: float  # seconds, as time.monotonic() has them
    file: int  # no two files ever have the same; 0: the folder itself
    at: int
    data: bytes
    name: str
    ends_commit: bool  # the last page of a transaction in a write-ahead log


def read_log(file):
    records = []
    page_of_commit = {}  # by inode: where the page must follow
    numbers = {0: 0}  # by inode, which a later file may get again
    with open(file, 'rb') as stream:
        for line in stream:
            op, when, inode, at, size, name = line.decode().rstrip('\n').split(' ', 5)
            inode, at, data = int(inode), int(at), stream.read(int(size))
            ends_commit = op == 'write' and page_of_commit.pop(inode, None) == at
            # The header says of how many pages the file is then; only a commit's does.
            if op == 'write' and len(data) == FRAME_HEADER and any(data[4:8]):
                page_of_commit[inode] = at + FRAME_HEADER
            if op == 'create':
                numbers[inode] = len(records) + 1
            records.append(Record(op, int(when) / 1e9, numbers[inode], at, data, name,
                                  ends_commit))
    return records


def apply(content, record):
    end = record.at + len(record.data)
    if len(content) < end:
        content.extend(bytes(end - len(content)))
    if record.op == 'size':
        del content[record.at:]
    else:
        content[record.at:end] = record.data


class File:
    """One file: what is certain of it, what was done since, and what a program sees."""

    def __init__(self):
        self.certain = bytearray()
        self.seen = bytearray()
        self.since = []
        self.settled = 0  # of all records ever

    def take(self, record):
        apply(self.seen, record)
        self.since.append(record)

    def mark(self):
        return self.settled + len(self.since)

    def settle(self, mark):
        count = max(0, mark - self.settled)
        for record in self.since[:count]:
            apply(self.certain, record)
        del self.since[:count]
        self.settled += count

    def after_cut(self, chance):
        """The bytes that a cut leaves; `chance` is a random.Random."""
        if not self.since:
            return bytes(self.certain)
        sizes = [len(self.certain)]
        for record in self.since:
            end = record.at + len(record.data)
            sizes.append(record.at if record.op == 'size' else max(sizes[-1], end))
        luck = chance.choice((0, 0.1, 0.5, 0.9, 1))  # how much of it was written back
        last = self.versions(0, len(self.since), luck, chance)
        left = bytearray(self.certain[:sizes[last]])
        left.extend(bytes(sizes[last] - len(left)))
        for sector, touching in self.touched(sizes[last]).items():
            # Freed space is not seen again once the smaller size is there, nor is what
            # came into it before that.
            least = 0
            most = len(touching)
            for i, index in enumerate(touching):
                if self.since[index].op != 'size':
                    continue
                if index < last:
                    least = i + 1
                else:
                    most = min(most, i)
            version = self.versions(least, max(least, most), luck, chance)
            begin = sector * SECTOR
            piece = self.sector(sector, [self.since[i] for i in touching[:version]])
            room = len(left) - begin
            left[begin:begin + SECTOR] = piece[:room]
        return bytes(left)

    @staticmethod
    def versions(least, most, luck, chance):
        if least == most or chance.random() < luck:
            return most
        return chance.randint(least, most)

    def touched(self, size):
        """By sector below `size`: what changes it, by its place in `since`."""
        touching = {}
        for index, record in enumerate(self.since):
            end = record.at + len(record.data) if record.op == 'write' else size
            for sector in range(record.at // SECTOR, -(-min(end, size) // SECTOR)):
                touching.setdefault(sector, []).append(index)
        return touching

    def sector(self, sector, records):
        begin = sector * SECTOR
        piece = bytearray(self.certain[begin:begin + SECTOR])
        piece.extend(bytes(SECTOR - len(piece)))
        for record in records:
            if record.op == 'size':
                kept = max(0, record.at - begin)
                piece[kept:] = bytes(SECTOR - kept)
                continue
            first = max(begin, record.at)
            last = min(begin + SECTOR, record.at + len(record.data))
            piece[first - begin:last - begin] = record.data[first - record.at:
                                                            last - record.at]
        return piece


class Medium:
    """A folder that was empty at first, as it is taken through a log.

    With `written_back_after`, in seconds, what is older than that has arrived without a
    sync: as a kernel's write-back does it in the end.
    """

    def __init__(self, records, written_back_after=None):
        self.records = records
        self.written_back_after = written_back_after
        self.position = 0  # how many records have happened
        self.files = {}
        self.names = {}  # what a program sees
        self.certain_names = {}
        self.name_changes = []
        self.settled_names = 0
        self.syncs = {}

    def advance(self, position):
        while self.position < position:
            self.take(self.records[self.position])
            self.position += 1

    def take(self, record):
        if record.op == 'sync':
            marks = self.settled_names + len(self.name_changes)
            if record.file:
                marks = self.files[record.file].mark()
            self.syncs[record.at] = marks
        elif record.op == 'synced':
            if record.file:
                self.files[record.file].settle(self.syncs.pop(record.at))
            else:
                self.settle_names(self.syncs.pop(record.at))
        elif record.op in ('write', 'size'):
            self.files[record.file].take(record)
        else:
            if record.op == 'create':
                self.files[record.file] = File()
            change_name(self.names, record)
            self.name_changes.append(record)

    def settle_names(self, mark):
        count = max(0, mark - self.settled_names)
        for record in self.name_changes[:count]:
            change_name(self.certain_names, record)
        del self.name_changes[:count]
        self.settled_names += count

    def write_back(self):
        """Makes certain what is old enough."""
        if self.written_back_after is None or self.position == 0:
            return
        until = self.records[self.position - 1].time - self.written_back_after
        for file in self.files.values():
            old = sum(1 for record in file.since if record.time < until)
            file.settle(file.settled + old)
        old = sum(1 for record in self.name_changes if record.time < until)
        self.settle_names(self.settled_names + old)

    def seen(self):
        """What a program sees now, and a killed program's successor: bytes by name."""
        return {name: bytes(self.files[inode].seen) for name, inode in self.names.items()}

    def after_cut(self, seed):
        """What a cut at this instant leaves: bytes by name."""
        chance = random.Random(seed)
        self.write_back()
        names = dict(self.certain_names)
        for record in self.name_changes[:chance.randint(0, len(self.name_changes))]:
            change_name(names, record)
        return {name: self.files[inode].after_cut(chance)
                for name, inode in sorted(names.items())}


def change_name(names, record):
    if record.op == 'create':
        names[record.name] = record.file
    elif record.op == 'remove':
        names.pop(record.name, None)
    elif record.name in names:
        names[record.data.decode()] = names.pop(record.name)


def write_files(folder, files):
    folder.mkdir()
    for name, content in files.items():
        (folder / name).write_bytes(content)
