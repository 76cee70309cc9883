#!/usr/bin/env python3
"""tools/demo as a visitor runs it: the notice in words, the tables, no process left."""
import os
import re
import subprocess

import support


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


def main():
    support.arguments()
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


if __name__ == '__main__':
    main()
