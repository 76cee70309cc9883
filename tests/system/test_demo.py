#!/usr/bin/env python3
"""tools/demo as a visitor runs it: the notice in words, the tables, no process left.

Then an evening at the terminal of the garden that it leaves, as README.md and the manual
(tools/manual/evening.txt) tell it: each answer is what the programs say, to the letter. Set
RIMEWARD_UPDATE_CASES to have the answers written anew; review the diff.
"""
import os
import re
import shutil
import subprocess

import support
import dialogue

# Each with the width of its answers: a manual page is indented.
DOCUMENTS = {'README.md': 80, 'tools/manual/evening.txt': 72}


def processes_in(folder):
    """Command lines of running processes that name the folder."""
    found = []
    for entry in os.listdir('/proc'):
        if not entry.isdigit() or int(entry) == os.getpid():
            continue
        try:
            with open(f'/proc/{entry}/cmdline') as stream:
                words = stream.read().replace('\0', ' ')
        except OSError:
            continue
        if folder in words and re.match(r'\S*(mosquitto|rimeward)', words):
            found.append(words)
    return found


def visit():
    done = subprocess.run([support.ROOT / 'tools/demo'], capture_output=True, text=True,
                          timeout=240)
    support.equal(done.returncode, 0, f'exit status of tools/demo ({done.stderr})')
    said = done.stdout
    notice = re.search(r'\d\d:\d\d  Fleece the north frame tonight, by (\d\d):(\d\d)\n((  .*\n)+)', said)
    support.check(notice, f'the cover notice with its deadline: {said}')
    support.check('layer' in notice[3] and 'expected, 8 nights in 10' in
                  ' '.join(notice[3].split()), f'layers, low and range: {notice[3]}')
    sunset = re.search(r'sunset (\d\d):(\d\d)', said)
    support.check(sunset and (notice[1], notice[2]) < (sunset[1], sunset[2]),
                  'the deadline is before sunset')
    tables = said[said.index('$ rimeward now'):]
    for words in ('$ rimeward tonight', '$ rimeward week', 'North frame', 'high', 'low'):
        support.check(words in tables, f'"{words}" in what the terminal says')
    support.equal(processes_in('demo-garden'), [], 'processes left')
    print('the demo: notice, tables, exit 0, no process left')


class Evening:
    """The demo's garden once more, in a copy, with the daemon there to take what is said."""

    def __init__(self, programs, folder, started):
        self.programs = programs
        self.folder = folder
        shutil.copytree(support.ROOT / 'demo-garden', folder / 'demo-garden')
        broker = support.Broker(folder)
        started.append(broker)
        broker.start()
        settings = folder / 'garden.toml'
        settings.write_text(re.sub(r'mqtt://127.0.0.1:\d+', broker.address,
                                   (folder / 'demo-garden/garden.toml').read_text()))
        daemon = support.Daemon(programs, settings, '--clock', 'readings')
        started.append(daemon)
        daemon.start()
        daemon.wait_for('connected')

    def said_and_done(self):
        """What was told to the daemon it has taken."""
        newest, = support.rows(self.folder / 'demo-garden/garden.db',
                               'SELECT (SELECT coalesce(max(id), 0) FROM action) <= '
                               "(SELECT coalesce(max(value), 0) FROM mark WHERE name = 'action')")
        return newest[0] == 1

    def ask(self, words, columns):
        done = subprocess.run(
            [self.programs / 'rimeward', '--config', 'garden.toml', *words], cwd=self.folder,
            env=os.environ | {'LC_ALL': 'C.UTF-8', 'COLUMNS': str(columns)}, capture_output=True,
            text=True, timeout=60)
        support.wait_until(self.said_and_done, f'{words} taken by the daemon')
        return done.stdout + done.stderr


def follow(document, columns, evening):
    file = support.ROOT / document
    text = file.read_text()
    told = dialogue.exchanges(text)
    support.check(told, f'{document} shows a session')
    answers = [evening.ask(exchange.words, columns) for exchange in told]
    if 'RIMEWARD_UPDATE_CASES' in os.environ:
        file.write_text(dialogue.rewritten(text, answers))
        return
    for exchange, answer in zip(told, answers):
        support.equal(exchange.answer.splitlines(), (answer.rstrip() + '\n').splitlines(),
                      f'{document}:{exchange.line}: $ {exchange.command}')
    print(f'{document}: {len(told)} answers as the programs give them')


def main():
    programs = support.arguments().programs
    visit()
    for document, columns in DOCUMENTS.items():
        with support.scratch() as (folder, started):
            follow(document, columns, Evening(programs, folder, started))


if __name__ == '__main__':
    main()
