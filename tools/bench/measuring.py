"""What the measuring programs share: what they run, and the tables that they print.

Times depend on the machine, so each program runs what it compares in turns, and what it
prints beside its medians are ratios, with the target where there is one.
"""
import argparse
import json
import pathlib
import statistics
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / 'tests' / 'system'))
STORES = ROOT / 'build' / 'bench'
SPANS = {'month': 30, 'years': 1826}  # days
PROGRAMS = ['rimewardd', 'rimeward', 'rimeward-post', 'rimeward-years', 'one-row',
            'counting-client']


def arguments(description, add=lambda parser: None):
    """Those that all have, and what `add` adds; the programs are built unless given."""
    parser = argparse.ArgumentParser(description=description,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument('--programs', type=pathlib.Path, help='built already, here')
    parser.add_argument('--short', action='store_true', help='fewer rounds, rougher figures')
    parser.add_argument('--table', type=pathlib.Path,
                        help='write the table here, not to the screen')
    add(parser)
    chosen = parser.parse_args()
    if chosen.programs:
        chosen.programs = chosen.programs.resolve()
    else:
        chosen.programs = ROOT / 'build' / 'release'
        build(chosen.programs, PROGRAMS)
    return chosen


def run(*command):
    subprocess.run([str(word) for word in command], check=True, stdout=subprocess.DEVNULL)


def build(folder, targets):
    run('cmake', '-S', ROOT, '-B', folder, '-G', 'Ninja', '-DCMAKE_BUILD_TYPE=Release')
    run('cmake', '--build', folder, '--target', *targets)


def stores(programs, folder):
    """The garden of rimeward-years (tools/years) with a month and with five years of a
    reading a minute from twenty sensors; made once, and kept for the next run."""
    made = {}
    for name, days in SPANS.items():
        made[name] = folder / name
        if not (made[name] / 'garden.db').exists():
            say(f'making {days} days of readings...')
            run(programs / 'rimeward-years', made[name], '--days', days)
    return made


def say(text):
    print(text, file=sys.stderr, flush=True)


def answer(programs, config, *words):
    """What `rimeward WORDS --json` says."""
    command = [programs / 'rimeward', '--config', config, *words, '--json']
    return json.loads(subprocess.run(command, check=True, capture_output=True).stdout)


def medians(times):
    return {key: statistics.median(all_of) for key, all_of in times.items()}


class Table:
    """Markdown: what was measured, what it is, its target and whether that is held."""

    def __init__(self, title, notes=''):
        self.lines = [f'### {title}', '']
        if notes:
            self.lines += [notes, '']
        self.lines += ['| what | measured | target | |', '|---|---:|---:|---|']

    def add(self, what, measured, target='', holds=None):
        verdict = {None: '', True: 'held', False: '**missed**'}[holds]
        self.lines.append(f'| {what} | {measured} | {target} | {verdict} |')

    def put(self, file):
        text = '\n'.join(self.lines) + '\n'
        if file:
            file.write_text(text)
        else:
            print(text)
