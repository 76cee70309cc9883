#!/usr/bin/env python3
"""The installed service under systemd itself, with all its limits: skipped without
settings, started, used, reloaded, killed, upgraded and purged.

systemd is the first process of a system as test_package.py makes it, in mounts,
processes, a network and control groups of its own that end with it. Skipped where that
cannot be.
"""
import datetime
import os
import pathlib
import subprocess
import sys
import time

import fresh_debian
import support

RUNS_IT = '''[Unit]
After=mosquitto.service
[Service]
Type=oneshot
StandardOutput=file:/results/said
StandardError=file:/results/log
ExecStart=/bin/sh -x /root/trial
ExecStopPost=/bin/systemctl --no-block exit
'''
# Says NAME=VALUE for each thing that is to be so.
TRIAL = '''
say() { echo "$1=$2"; }
readings() { runuser -u robin -- rimeward export --csv | grep -c station-probe; }
listening() { journalctl --no-pager -u rimeward | grep -c 'connected, listening'; }
is() { systemctl show --property="$1" --value rimeward; }
wait_for() {
  for try in $(seq 300); do
    [ "$("$1" $2)" = "$3" ] && return
    sleep 0.1
  done
}
useradd --create-home robin
dpkg --install /root/older.deb >&2
say condition "$(is ConditionResult)"
say broker "$(systemctl is-active mosquitto)"
cp /root/garden.toml /etc/rimeward/garden.toml
usermod -aG rimeward robin
systemctl start rimeward
say started "$(is ActiveState)"
process=/proc/$(is MainPID)
say user "$(stat -c %U:%G $process)"
limits='/^(CapBnd|NoNewPrivs|Seccomp):/ { printf "%s%s ", $1, $2 }'
say limits "$(awk "$limits" $process/status)"
say store "$(stat -c '%U:%G %a' /var/lib/rimeward/garden.db)"
# It is ready before it has found the broker, as it must be where there is none.
wait_for listening '' 1
rimeward-play --recorded /root/readings.csv --topic garden/station/climate >&2
wait_for readings '' 2
say readings "$(readings)"
runuser -u robin -- rimeward cover station 1 >&2
say told $?
sed -i 's/Hochfeld/Lower Hochfeld/' /etc/rimeward/garden.toml
systemctl reload rimeward
say reload $?
say same "$([ /proc/$(is MainPID) = $process ] && echo yes)"
systemctl kill --signal=KILL rimeward
wait_for is NRestarts 1
wait_for is ActiveState active
say killed "$(is ActiveState) $(is NRestarts)"
process=/proc/$(is MainPID)
dpkg --install /root/newer.deb >&2
say upgraded "$(is ActiveState)"
say same_after_upgrade "$([ -e $process ] && echo yes)"
say readings_after "$(readings)"
journalctl --no-pager -u rimeward >&2
dpkg --purge rimeward >&2
say purged "$(systemctl is-active rimeward)"
say failed "$(systemctl --failed --plain --no-legend | wc -l)"
'''
EXPECTED = {
    'condition': 'no', 'broker': 'active', 'started': 'active',
    'user': 'rimeward:rimeward',
    'limits': 'CapBnd:0000000000000000 NoNewPrivs:1 Seccomp:2 ',
    'store': 'rimeward:rimeward 660', 'readings': '2', 'told': '0', 'reload': '0',
    'same': 'yes', 'killed': 'active 1', 'upgraded': 'active', 'same_after_upgrade': '',
    'readings_after': '2', 'purged': 'inactive', 'failed': '0'}


def readings():
    """Two of the last minutes, for the daemon's clock is the machine's."""
    now = datetime.datetime.now(datetime.timezone.utc)
    return 'time,temperature\n' + ''.join(
        f'{now - datetime.timedelta(minutes=back):%Y-%m-%dT%H:%M:%SZ},3.5\n'
        for back in (2, 1))


def boot(base, folder):
    """Becomes the first process of the system, and ends when the trial does."""
    root = fresh_debian.layered(base, folder)
    support.run('mount', '-t', 'sysfs', '-o', 'ro', 'sysfs', root / 'sys')
    for place in ('sys/fs/cgroup', 'run', 'tmp'):
        support.run('mount', '-t', 'tmpfs', 'tmpfs', root / place)
    support.run('mount', '-t', 'cgroup2', 'cgroup2', root / 'sys/fs/cgroup')
    units = root / 'etc/systemd/system'
    (units / 'trial.service').write_text(RUNS_IT)
    (units / 'multi-user.target.wants/trial.service').symlink_to('../trial.service')
    (root / 'root/garden.toml').write_text(fresh_debian.GARDEN)
    (root / 'root/readings.csv').write_text(readings())
    (root / 'root/trial').write_text(TRIAL)
    # The layer is gone with the mounts.
    (root / 'results').mkdir()
    support.run('mount', '--bind', folder / 'results', root / 'results')
    os.chroot(root)
    os.chdir('/')
    os.execve('/lib/systemd/systemd', ['systemd', '--show-status=0'],
              {'container': 'other', 'PATH': '/usr/sbin:/usr/bin:/sbin:/bin'})


def run_apart(apart, folder):
    with open(folder / 'systemd.log', 'w') as log:
        subprocess.run([*apart, sys.executable, *sys.argv], stdin=subprocess.DEVNULL,
                       stdout=log, stderr=log, timeout=240,
                       env={**os.environ, 'RIMEWARD_APART': str(folder)})
    if not (folder / 'results/said').exists():
        print((folder / 'systemd.log').read_text()[-3000:])
        support.skip('systemd cannot be the first process of anything here')


def main():
    programs = support.arguments().programs
    base = programs.parent / 'package-base'
    if 'RIMEWARD_APART' in os.environ:
        boot(base, pathlib.Path(os.environ['RIMEWARD_APART']))
    apart = fresh_debian.needs()
    began = time.monotonic()
    with support.scratch() as (folder, _):
        folder.chmod(0o755)
        fresh_debian.make_packages(programs, folder)
        fresh_debian.make_base(programs, folder)
        (folder / 'results').mkdir()
        run_apart(apart, folder)
        said = dict(line.split('=', 1) for line in
                    (folder / 'results/said').read_text().splitlines())
        for name, value in EXPECTED.items():
            if said.get(name) != value:
                print((folder / 'results/log').read_text()[-6000:])
            support.equal(said.get(name), value, name)
    print(f'the service started, reloaded, killed, upgraded and purged under systemd in '
          f'{time.monotonic() - began:.0f} s')


if __name__ == '__main__':
    main()
