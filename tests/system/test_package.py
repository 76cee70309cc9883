#!/usr/bin/env python3
"""The Debian package on a fresh Debian 12: installed, used by a member of its group
through the broker as Debian ships it, upgraded with readings in the store, removed and
purged.

The system is debootstrap's, kept in build/ for the next run, with what the test changes
on a layer in memory; no service manager runs in it, so the daemon is started by hand as
the unit says, and a stand-in for systemctl takes down what the package asks of it;
test_package_service.py has the real one. Needs root, cpack, debootstrap, unshare and
mounts of its own, and is skipped without.
"""
import contextlib
import datetime
import json
import os
import pathlib
import re
import shutil
import signal
import socket
import subprocess
import sys
import time

import fresh_debian
import support
from fresh_debian import DROP_IN, GARDEN

PROGRAMS = ('rimeward', 'rimewardd', 'rimeward-draw', 'rimeward-play', 'rimeward-post')
STORE = 'var/lib/rimeward/garden.db'
SETTINGS = 'etc/rimeward/garden.toml'
UNIT = 'lib/systemd/system/rimeward.service'
WANTED = 'etc/systemd/system/multi-user.target.wants/rimeward.service'
# Answers as on a machine on which all runs, and takes down what it is asked to do; links
# of units are made by the real one.
SYSTEMCTL = '''#!/bin/sh
case "$1" in --root=*) exec /usr/bin/systemctl "$@" ;; esac
echo "$*" >>/var/log/asked
case "$*" in *is-enabled*) echo enabled ;; esac
'''
# What may differ once all is purged: records, the user, what others keep for themselves.
STAYS = re.compile(r'var/lib/(rimeward|dpkg|mosquitto)(/|$)|var/(log|cache)/|root/|'
                   r'run/mosquitto|etc/(passwd|group|g?shadow|sub[ug]id)-?$|'
                   r'etc/\.pwd\.lock')


class System:
    """A machine with the package, in mounts, processes and a network that end with us."""

    def __init__(self, base, folder):
        self.root = fresh_debian.layered(base, folder)
        (self.root / 'run/systemd/system').mkdir(parents=True, exist_ok=True)
        systemctl = self.root / 'usr/local/bin/systemctl'
        systemctl.write_text(SYSTEMCTL)
        systemctl.chmod(0o755)
        # A gardener, and somebody who is none.
        for user in ('robin', 'visitor'):
            self.run('useradd', '--create-home', user)
        self.tell_log = folder / 'rimewardd.log'
        self.before = self.paths()
        self.measured_at = (datetime.datetime.now(datetime.timezone.utc)
                            - datetime.timedelta(minutes=10))

    def run(self, *command, user='root', status=0):
        return support.run('chroot', f'--userspec={user}:', self.root, 'env',
                           f'HOME=/home/{user}', 'DEBIAN_FRONTEND=noninteractive',
                           'PATH=/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin', *command,
                           status=status)

    def paths(self):
        # The kernel's own are not the package's.
        return {os.path.relpath(os.path.join(where, name), self.root)
                for where, folders, names in os.walk(self.root)
                if not where.startswith(f'{self.root}/proc')
                for name in [*folders, *names]}

    def owner_and_mode(self, path):
        state = os.lstat(self.root / path)
        users = {line.split(':')[2]: line.split(':')[0]
                 for line in (self.root / 'etc/passwd').read_text().splitlines()}
        groups = {line.split(':')[2]: line.split(':')[0]
                  for line in (self.root / 'etc/group').read_text().splitlines()}
        return (f'{users[str(state.st_uid)]}:{groups[str(state.st_gid)]} '
                f'{state.st_mode & 0o7777:04o}')

    def asked(self):
        """What the service manager was asked to do since last time."""
        log = self.root / 'var/log/asked'
        lines = log.read_text().splitlines() if log.exists() else []
        log.unlink(missing_ok=True)
        return [re.sub('--(system|quiet) ', '', line) for line in lines
                if not line.endswith('daemon-reload') and '-active' not in line
                and '-enabled' not in line]

    def unit(self, key):
        text = (self.root / UNIT).read_text()
        return re.search(f'(?m)^{key}=(.*)$', text).group(1)

    def start(self, user, umask, *command):
        command = ['chroot', f'--userspec={user}:{user}', self.root, 'sh', '-c',
                   f'umask {umask}; exec "$@"', 'sh', *command]
        with open(self.tell_log, 'a') as log:
            return subprocess.Popen(command, stdout=log, stderr=log)

    def start_daemon(self):
        """As the unit says, and as systemd does before it."""
        runtime = self.root / 'run/rimeward'
        runtime.mkdir(exist_ok=True)
        runtime.chmod(int(self.unit('RuntimeDirectoryMode'), 8))
        state = self.root / 'var/lib/rimeward'
        state.chmod(int(self.unit('StateDirectoryMode'), 8))
        owner = os.stat(state)
        os.chown(runtime, owner.st_uid, owner.st_gid)
        return self.start(self.unit('User'), self.unit('UMask'),
                          *self.unit('ExecStart').split(), '--clock', 'trusted')

    def start_broker(self):
        for folder in ('run/mosquitto', 'var/log/mosquitto'):
            (self.root / folder).mkdir(exist_ok=True)
            self.run('chown', 'mosquitto:', f'/{folder}')
        broker = self.start('root', '022', 'mosquitto', '-c',
                            '/etc/mosquitto/mosquitto.conf')

        def answers():
            support.check(broker.poll() is None, 'the broker runs with the drop-in')
            with contextlib.suppress(OSError):
                socket.create_connection(('127.0.0.1', 1883), 1).close()
                return True
            return False
        support.wait_until(answers, 'the broker listens')
        return broker

    def place(self):
        """As it stands, told to a member of the group."""
        now = json.loads(self.run('rimeward', 'now', '--json', user='robin'))
        return now['places'][0]

    def readings(self):
        return [line.split(',')[4] for line in self.run(
            'rimeward', 'export', '--csv', '--channel', 'temperature',
            user='robin').splitlines()[1:]]

    def measure(self, *temperatures):
        """A minute between them; waits until they are in the store."""
        lines = ['time,temperature']
        for value in temperatures:
            self.measured_at += datetime.timedelta(minutes=1)
            lines.append(f'{self.measured_at:%Y-%m-%dT%H:%M:%SZ},{value}')
        (self.root / 'root/readings.csv').write_text('\n'.join(lines) + '\n')
        known = len(self.readings())
        self.run('rimeward-play', '--recorded', '/root/readings.csv', '--topic',
                 'garden/station/climate')
        support.wait_until(lambda: len(self.readings()) == known + len(temperatures),
                           f'{len(temperatures)} more readings in the store')


def end(process):
    process.send_signal(signal.SIGTERM)
    support.equal(process.wait(30), 0, 'exit status after SIGTERM')


def wait_for_member(system):
    support.wait_until((system.root / STORE).exists, 'the daemon makes the store')
    support.wait_until(lambda: 'connected' in system.tell_log.read_text(),
                       'the daemon reaches the broker')


def installed(system):
    said = system.run('dpkg', '--install', '/root/older.deb')
    support.check('sudo rimeward first-time' in said, 'it says what is next')
    support.equal(system.asked(), ['restart mosquitto.service', 'start rimeward.service'],
                  'asked of systemd')
    support.equal(system.run('dpkg', '--verify', 'rimeward'), '', 'files that differ')
    owners = {
        'var/lib/rimeward': 'rimeward:rimeward 2770', 'etc/rimeward': 'root:root 0755',
        DROP_IN: 'root:root 0644', UNIT: 'root:root 0644',
        'usr/share/rimeward/schema/now.json': 'root:root 0644'}
    for program in PROGRAMS:
        owners[f'usr/bin/{program}'] = 'root:root 0755'
        support.check(support.run('sh', '-c', f'file {system.root}/usr/bin/{program}')
                      .rstrip().endswith('stripped'), f'{program} is stripped')
    for page in ('man1/rimeward.1', 'man5/rimeward.toml.5', 'man8/rimewardd.8'):
        owners[f'usr/share/man/{page}.gz'] = 'root:root 0644'
    for file, expected in owners.items():
        support.equal(system.owner_and_mode(file), expected, file)
    for file, original in (('bash-completion/completions/rimeward', 'rimeward.bash'),
                           ('zsh/vendor-completions/_rimeward', '_rimeward'),
                           ('fish/vendor_completions.d/rimeward.fish', 'rimeward.fish')):
        support.equal((system.root / 'usr/share' / file).read_text(),
                      (support.ROOT / 'config/completion' / original).read_text(), file)
    support.equal(sorted(os.listdir(system.root / 'usr/share/rimeward/schema')),
                  sorted(os.listdir(support.ROOT / 'tools/cli/schema')), 'schemas')
    support.equal(os.readlink(system.root / WANTED), f'/{UNIT}', 'the unit is enabled')
    support.check(not (system.root / SETTINGS).exists(), 'no settings yet')


def used(system):
    """Readings through the broker; a member reads and writes, others do neither."""
    (system.root / SETTINGS).write_text(GARDEN)
    system.run('usermod', '-aG', 'rimeward', 'robin')
    daemon = system.start_daemon()
    wait_for_member(system)
    system.measure(3.5, 3.25, 3)
    support.equal(system.place()['temperature_celsius'], 3.0, 'what robin is told')
    system.run('rimeward', 'cover', 'station', '1', user='robin')
    support.wait_until(lambda: system.place()['cover_layers'] == 1,
                       'the daemon takes what robin told it')
    system.run('rimeward', 'now', user='visitor', status=1)
    system.run('rimeward', 'cover', 'station', '2', user='visitor', status=1)
    end(daemon)
    # With the daemon away it is the members' programs that make SQLite's other files.
    system.run('rimeward', 'uncover', 'station', user='robin')
    daemon = system.start_daemon()
    system.measure(2.75)
    support.equal(system.owner_and_mode(STORE), 'rimeward:rimeward 0660', 'the store')
    return daemon


def upgraded(system, daemon):
    """Over a running daemon; then once more over what its administrator has changed."""
    before = system.readings()
    system.run('dpkg', '--install', '/root/newer.deb')
    support.equal(system.asked(), ['restart rimeward.service'], 'asked of systemd')
    end(daemon)
    support.equal((system.root / DROP_IN).read_text(),
                  (support.ROOT / 'config/mosquitto-rimeward.conf').read_text(), DROP_IN)
    daemon = system.start_daemon()
    system.measure(2.5, 2.25)
    support.equal(system.readings(), [*before, '2.5', '2.25'], 'readings')
    support.equal((system.root / SETTINGS).read_text(), GARDEN, 'settings')

    changed = (system.root / DROP_IN).read_text() + 'max_queued_messages 5000\n'
    (system.root / DROP_IN).write_text(changed)
    (system.root / WANTED).unlink()
    system.run('dpkg', '--install', '/root/newer.deb')
    support.equal((system.root / DROP_IN).read_text(), changed, 'a changed drop-in')
    support.check(not (system.root / WANTED).exists(), 'a disabled unit stays disabled')
    end(daemon)
    system.asked()


def removed(system):
    system.run('dpkg', '--remove', 'rimeward')
    support.equal(system.asked(), ['stop rimeward.service'], 'asked of systemd')
    for path in (STORE, DROP_IN, SETTINGS):
        support.check((system.root / path).exists(), f'{path} stays')
    support.check(not (system.root / 'usr/bin/rimewardd').exists(), 'the program goes')
    said = system.run('dpkg', '--purge', 'rimeward')
    support.check('sudo rm -r /var/lib/rimeward' in said, 'it says what stays')
    support.check((system.root / STORE).stat().st_size > 0, 'the readings stay')
    after = system.paths()
    for what, paths in (('left after', after - system.before),
                        ('gone with', system.before - after)):
        paths = sorted(path for path in paths if not STAYS.match(path))
        support.equal('\n'.join(paths), '', f'{what} the purge')


def try_package(base, folder):
    system = System(base, folder)
    try:
        installed(system)
        broker = system.start_broker()
        upgraded(system, used(system))
        end(broker)
        removed(system)
    except BaseException:
        if system.tell_log.exists():
            print('--- the end of the log:\n' + system.tell_log.read_text()[-3000:])
        raise


def lint(folder):
    if not shutil.which('lintian'):
        print('lintian is left out: it is not installed')
        return
    said = subprocess.run(['lintian', '--allow-root', '--display-info',
                           folder / 'newer.deb'], capture_output=True, text=True).stdout
    faults = [line for line in said.splitlines()
              if line.startswith(('E:', 'W:')) or ': hardening-no-' in line]
    support.equal('\n'.join(faults), '', 'what lintian says')


def main():
    programs = support.arguments().programs
    if 'RIMEWARD_APART' in os.environ:
        folder = pathlib.Path(os.environ['RIMEWARD_APART'])
        return try_package(programs.parent / 'package-base', folder)
    apart = fresh_debian.needs()
    began = time.monotonic()
    with support.scratch() as (folder, _):
        folder.chmod(0o755)
        fresh_debian.make_packages(programs, folder)
        fresh_debian.make_base(programs, folder)
        done = subprocess.run([*apart, sys.executable, *sys.argv],
                              env={**os.environ, 'RIMEWARD_APART': str(folder)})
        support.equal(done.returncode, 0, 'exit status of the trial')
        lint(folder)
    print(f'installed, used, upgraded, removed and purged in '
          f'{time.monotonic() - began:.0f} s')


if __name__ == '__main__':
    main()
