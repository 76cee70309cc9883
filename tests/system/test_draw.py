#!/usr/bin/env python3
"""rimeward-draw: a chart drawn as SVG and as PNG, and what it says and leaves alone when it
cannot draw: the chart is none, the folder may not be written to, the command is wrong.
"""
import json
import os
import resource
import stat
import struct
import subprocess
import time
import xml.etree.ElementTree

import support

FROM = 1775836800  # Friday 10 April 2026, 18:00 in Berlin
HOUR = 3600
COULD_NOT = 1
MISUSE = 2


def chart(**changed):
    points = [[FROM + i * 300, 6 - 5 * (i % 144) / 144, 6.2 - 5 * (i % 144) / 144]
              for i in range(576)]
    return {'title': 'Hochfeld school garden: air, Fri 10 Apr 18:00 to Sun 12 Apr 18:00',
            'unit': '°C', 'span': {'from': FROM, 'to': FROM + 48 * HOUR},
            'ticks': [{'at': FROM + 6 * HOUR, 'label': 'Sat 11 Apr', 'is_day': True},
                      {'at': FROM + 12 * HOUR, 'label': '06', 'is_day': False}],
            'nights': [{'from': FROM + 2 * HOUR, 'to': FROM + 13 * HOUR}],
            'lines': [{'place': 'Südkasten <&>', 'pieces': [points[:200], points[240:]],
                       'keep_above': 2.0,
                       'covers': [{'from': FROM, 'to': FROM + 14 * HOUR, 'layers': 2}]}],
            'marks': [{'at': FROM + HOUR, 'text': '13  Fleece the "north" frame & <wait>'}],
            **changed}


class Draw:
    """The program, run in a folder of its own."""

    def __init__(self, programs, folder):
        self.program = programs / 'rimeward-draw'
        self.folder = folder

    def __call__(self, *words, given=None, **options):
        """Its exit status, and what it said."""
        given = json.dumps(chart()) if given is None else given
        given = given if isinstance(given, bytes) else given.encode()
        done = subprocess.run([self.program, *words], input=given, capture_output=True,
                              timeout=60, cwd=self.folder, **options)
        support.check(len(done.stderr.splitlines()) <= 1, f'one line at most: {done.stderr}')
        return done.returncode, (done.stderr or done.stdout).decode()

    def fails(self, *words, said=(), **options):
        status, line = self(*words, **options)
        support.equal(status, COULD_NOT, f'exit status ({line})')
        for word in ('rimeward-draw: ', *said):
            support.check(word in line, f'{word!r} is said: {line}')

    def names(self):
        return sorted(file.name for file in self.folder.iterdir())


def draws(draw):
    began = time.monotonic()
    support.equal(draw('svg', 'week.svg'), (0, ''), 'an SVG')
    support.equal(draw('png', 'week.png'), (0, ''), 'a PNG')
    took = time.monotonic() - began
    root = xml.etree.ElementTree.parse(draw.folder / 'week.svg').getroot()
    support.equal(root.tag, '{http://www.w3.org/2000/svg}svg', 'the root')
    support.equal(root.get('width'), '960px', 'width of the SVG')
    support.check(len(list(root.iter())) > 100, 'there is something in it')

    png = (draw.folder / 'week.png').read_bytes()
    support.check(png.startswith(b'\x89PNG\r\n\x1a\n') and b'IEND' in png[-12:], 'a PNG')
    width, height = struct.unpack('>II', png[16:24])
    support.equal(width, 960, 'width of the PNG')
    support.check(480 <= height < 600, f'height of the PNG: {height}')
    support.equal(root.get('height'), f'{height}px', 'height of the SVG')

    mask = os.umask(0o027)
    support.equal(draw('png', 'other.png'), (0, ''), 'a PNG')
    os.umask(mask)
    support.equal((draw.folder / 'other.png').read_bytes(), png, 'the same chart again')
    mode = stat.S_IMODE((draw.folder / 'other.png').stat().st_mode)
    support.equal(oct(mode), oct(0o640), 'mode by the umask')
    support.equal(draw.names(), ['other.png', 'week.png', 'week.svg'], 'files')
    print(f'draws SVG and PNG, both in {took * 1000:.0f} ms')
    return png


def replaces_whole(draw, png):
    warm = json.dumps(chart(title='Another'))
    support.equal(draw('png', 'week.png', given=warm), (0, ''), 'drawn anew')
    newer = (draw.folder / 'week.png').read_bytes()
    support.check(newer != png, 'the picture is another one')
    line = chart()['lines'][0]
    for given, said in (
            ('', 'expected a chart'), ('{', 'expected a chart'), ('[]', 'expected a chart'),
            (b'{"title": "caf\xe9"}', 'expected a chart'),
            (json.dumps(chart(unit=7)), 'unit: expected text, found 7'),
            (json.dumps(chart(lines=[])), 'lines: expected at least one'),
            (json.dumps(chart(lines=[{**line, 'pieces': [[[FROM, 1, None]]]}])),
             'lines[0].pieces[0][0][2]: expected a number'),
            (json.dumps(chart(span={'from': FROM, 'to': FROM})), 'span.to: expected'),
            (b' ' * (33 << 20), 'more than 32 MB')):
        draw.fails('png', 'week.png', given=given, said=(said,))
        support.equal((draw.folder / 'week.png').read_bytes(), newer, 'the old picture')

    def little_room():
        resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))

    draw.fails('png', 'week.png', preexec_fn=little_room,
               said=('week.png was not written', 'File too large', 'make room'))
    support.equal((draw.folder / 'week.png').read_bytes(), newer, 'the old picture')
    support.equal(draw.names(), ['other.png', 'week.png', 'week.svg'], 'files')
    print('what goes wrong leaves the old picture whole')


def cannot_be_written(draw):
    draw.fails('svg', 'gone/week.svg', said=('gone/week.svg', 'No such file', 'folder'))
    (draw.folder / 'shed').mkdir()
    draw.fails('svg', 'shed', said=('shed: no ordinary file', 'name another'))
    draw.fails('svg', '/dev/null', said=('/dev/null: no ordinary file',))
    if os.geteuid() != 0:  # whom no folder is closed to
        (draw.folder / 'shed').chmod(0o500)
        draw.fails('svg', 'shed/week.svg', said=('shed/week.svg', 'Permission denied'))
    support.equal(list((draw.folder / 'shed').iterdir()), [], 'files in the shed')
    print('a file that cannot be written is said, with what to do')


def misuse(draw):
    before = draw.names()
    for words in ((), ('svg',), ('pdf', 'week.pdf'), ('svg', 'a', 'b'), ('svg', ''),
                  ('--week',), ('SVG', 'week.svg')):
        status, said = draw(*words)
        support.equal(status, MISUSE, f'exit status of {words}')
        support.check(said.startswith('usage: rimeward-draw svg|png FILE'), said)
    support.equal(draw.names(), before, 'files')
    for word, said in (('--help', 'usage: rimeward-draw svg|png FILE'), ('--version', '0.')):
        status, line = draw(word)
        support.equal(status, 0, f'exit status of {word}')
        support.check(line.startswith(said), f'{word} says: {line}')
    print('misuse is told from what could not be done')


def main():
    programs = support.arguments().programs
    with support.scratch() as (folder, _):
        room = folder / 'pictures'
        room.mkdir()
        draw = Draw(programs, room)
        png = draws(draw)
        replaces_whole(draw, png)
        cannot_be_written(draw)
        misuse(draw)


if __name__ == '__main__':
    main()
