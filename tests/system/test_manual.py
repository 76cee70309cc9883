#!/usr/bin/env python3
"""The manual pages as the formatter takes them: without a warning, without a line wider
than the terminal, and saying what they should."""
import re
import shutil
import subprocess

import support

PAGES = {
    'rimeward.1': ['tools/manual/evening.txt'],
    'rimewardd.8': [],
    'rimeward.toml.5': ['config/garden.toml'],
}


def formatted(page, *options):
    done = subprocess.run(['groff', '-man', '-Tutf8', '-rLL=78n', '-P-c', *options],
                          input=page, capture_output=True, text=True, timeout=60,
                          env={'LC_ALL': 'C.UTF-8', 'PATH': '/usr/bin:/bin'})
    support.equal(done.returncode, 0, 'exit status of groff')
    return done.stdout, done.stderr


def plain(text):
    """Without the overstriking that stands for bold and underlined."""
    return re.sub(r'.\x08', '', text)


def main():
    programs = support.arguments().programs
    if shutil.which('groff') is None:
        support.skip('no groff (package groff-base)')
    for name, files in PAGES.items():
        page = support.run(programs / 'rimeward-manual', name,
                           *[support.ROOT / file for file in files])
        support.check(page.isascii(), f'{name} is ASCII')
        shown, warnings = formatted(page, '-ww')
        support.equal(warnings, '', f'{name}: what groff warns of')
        # What the programs print stands as it is, and may be wider.
        wide = [line for line in plain(shown).splitlines() if len(line) > 100]
        support.equal(wide, [], f'{name}: lines that are too wide')
        support.check('NAME' in plain(shown) and 'SEE ALSO' in plain(shown), name)
        support.check('\\' not in plain(shown).replace('\\\n', '\n').replace('\\x', ''),
                      f'{name}: an escape is left over')
    support.run(programs / 'rimeward-manual', status=2)
    support.run(programs / 'rimeward-manual', 'rimeward.1', '/nowhere/evening.txt', status=1)
    print(f'{len(PAGES)} manual pages, no warning of groff')


if __name__ == '__main__':
    main()
