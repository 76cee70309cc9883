#!/usr/bin/env python3
"""Completion in real shells: bash, zsh and fish offer verbs, options, places and files as
the program says, from the settings that the line names; settings that are not there, or a
pipe in their place, neither hang a line nor print anything into it."""
import os
import pty
import re
import select
import shutil
import signal
import subprocess
import time

import support

FOLDER = support.ROOT / 'config/completion'
GARDEN = '''
[garden]
name = "Hochfeld school garden"
latitude = 48.41
longitude = 9.52
time_zone = "Europe/Berlin"
[[place]]
id = "north-frame"
name = "North frame"
kind = "frame"
[[place]]
id = "yard"
kind = "outdoors"
[[sensor]]
id = "frame-probe"
place = "north-frame"
topic = "garden/north-frame/climate"
'''
PATIENCE = 20.0  # seconds; a shell that waits for the program for ever is to be told


class Shell:
    """What a line is completed with in one of the shells."""

    def __init__(self, programs, folder):
        # Nothing of the user's own, and the program of this build.
        self.environment = {'PATH': f'{programs}:{os.environ["PATH"]}', 'HOME': str(folder),
                            'TERM': 'vt100', 'LC_ALL': 'C.UTF-8',
                            'XDG_CONFIG_HOME': str(folder), 'XDG_DATA_HOME': str(folder)}
        self.folder = folder

    def run(self, *command):
        done = subprocess.run(command, capture_output=True, text=True, cwd=self.folder,
                              env=self.environment, timeout=PATIENCE, stdin=subprocess.DEVNULL)
        support.equal(done.stderr, '', f'standard error of {command}')
        return done.stdout.splitlines()


class Bash(Shell):
    name = 'bash'

    def offered(self, *words):
        script = f'''source {FOLDER}/rimeward.bash
COMP_WORDS=("$@") COMP_CWORD=$(($# - 1)); _rimeward
printf '%s\\n' "${{COMPREPLY[@]}}"'''
        lines = self.run('bash', '--norc', '--noprofile', '-c', script, 'bash', 'rimeward',
                         *words)
        return [line for line in lines if line]

    def typed(self, line):
        """What the screen shows once `line` is typed, and then the tabulator."""
        return on_screen(['bash', '--norc', '--noprofile', '-i'],
                         f'source {FOLDER}/rimeward.bash', line, self)


class Zsh(Shell):
    name = 'zsh'

    def offered(self, *words):
        # As its own completion calls the function, but that the last step writes down.
        script = '''_describe() { print -rl -- "${(@P)3}" }
_files() { print -r -- :files }
words=("$@") CURRENT=$#; source ''' + str(FOLDER / '_rimeward')
        lines = self.run('zsh', '-f', '-c', script, 'zsh', 'rimeward', *words)
        return [line.split(':')[0] for line in lines if line and line != ':files']

    def typed(self, line):
        first = f'fpath=({FOLDER} $fpath); autoload -Uz compinit; compinit -D -u'
        return on_screen(['zsh', '-f', '-i'], first, line, self)


class Fish(Shell):
    name = 'fish'

    def offered(self, *words):
        line = ' '.join(['rimeward', *words])
        script = f'source {FOLDER}/rimeward.fish; complete -C "{line}"'
        return [one.split('\t')[0] for one in self.run('fish', '--no-config', '-c', script)]

    def typed(self, line):
        """Nothing: fish itself says above what it would show."""


def on_screen(command, first, line, shell):
    """Types into a shell on a terminal of its own; what that shows until the line is
    complete, without what moves the cursor."""
    process, terminal = pty.fork()
    if process == 0:
        os.chdir(shell.folder)
        os.execvpe(command[0], command, shell.environment)

    def read_until(words):
        seen = ''
        deadline = time.monotonic() + PATIENCE
        while words not in seen:
            support.check(time.monotonic() < deadline,
                          f'{shell.name}: no "{words}" after {first!r}: {seen[-500:]!r}')
            if select.select([terminal], [], [], 0.2)[0]:
                seen += os.read(terminal, 4096).decode(errors='replace')
            seen = re.sub(r'\x1b\[[0-9;?]*[A-Za-z]|\x07', '', seen)
        return seen
    try:
        # The line that is typed is shown too, so what is waited for is not as typed.
        os.write(terminal, f'{first}; echo rea""dy\n'.encode())
        read_until('ready\r')
        os.write(terminal, line.encode() + b'\t')
        return read_until('north-frame')
    finally:
        os.kill(process, signal.SIGKILL)
        os.waitpid(process, 0)
        os.close(terminal)


def check_shell(shell, folder, verbs):
    config = ('--config', str(folder / 'garden.toml'))
    support.equal(sorted(shell.offered('')), sorted(verbs), f'{shell.name}: verbs')
    support.equal(shell.offered('unc'), ['uncover'], f'{shell.name}: a verb begun')
    support.equal(shell.offered('notices', '--al'), ['--all'], f'{shell.name}: an option')
    support.equal(shell.offered(*config, 'cover', 'n'), ['north-frame'],
                  f'{shell.name}: a place begun')
    support.equal(sorted(shell.offered(*config, 'cover', '')), ['north-frame', 'yard'],
                  f'{shell.name}: all places')
    support.equal(shell.offered(*config, 'calibrate', 'f'), ['frame-probe'],
                  f'{shell.name}: a sensor')
    support.equal(shell.offered('batch', 'add', 'courg'), ['courgette'],
                  f'{shell.name}: a crop')
    # A misspelt name, and a pipe into which nobody ever writes.
    for name in ('gardn.toml', 'pipe'):
        support.equal(shell.offered('--config', str(folder / name), 'cover', 'n'), [],
                      f'{shell.name}: with {name} for the settings')
    line = f'rimeward --config {folder}/garden.toml cover nor'
    seen = shell.typed(line)
    support.check(seen is None or 'nor' in seen, f'{shell.name}: saw {seen!r}')


def main():
    programs = support.arguments().programs
    verbs = [line.split('\t')[0] for line in support.run(
        programs / 'rimeward', '--complete', '0', '').splitlines()[:-1]]
    support.check('now' in verbs and 'cover' in verbs, f'verbs: {verbs}')
    tried = []
    with support.scratch() as (folder, _):
        (folder / 'garden.toml').write_text(GARDEN)
        os.mkfifo(folder / 'pipe')
        for kind in (Bash, Zsh, Fish):
            if shutil.which(kind.name) is None:
                print(f'{kind.name} is left out: it is not here')
                continue
            check_shell(kind(programs, folder), folder, verbs)
            tried.append(kind.name)
    support.check(tried, 'a shell is here')
    print(f'{", ".join(tried)}: {len(verbs)} verbs, options, places, sensors and crops '
          f'are offered; bad settings neither hang nor print')


if __name__ == '__main__':
    main()
