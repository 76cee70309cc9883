"""A fresh Debian 12 to install the package in, for the tests of the package.

It is debootstrap's, kept beside the build folder for the next run; what a test changes is
on a layer in memory, in mounts, processes and a network that end with the test.
"""
import fcntl
import hashlib
import os
import re
import shutil
import socket
import struct
import subprocess

import support

OLDER = '0.0.9'
DROP_IN = 'etc/mosquitto/conf.d/rimeward.conf'
GARDEN = '''
[garden]
name = "Hochfeld school garden"
latitude = 48.41
longitude = 9.52
time_zone = "Europe/Berlin"
[store]
commit_every = "1 s"
[[place]]
id = "station"
kind = "bed"
[[sensor]]
id = "station-probe"
place = "station"
topic = "garden/station/climate"
'''


def make_packages(programs, folder):
    """The package of this build, and the same as of an older version."""
    config = programs / 'CPackConfig.cmake'
    if not config.exists():
        support.skip(f'{config}: this build makes no package')
    support.run('cpack', '--config', str(config), '-B', str(folder), cwd=programs)
    newer, = folder.glob('*.deb')
    unpacked = folder / 'older'
    support.run('dpkg-deb', '--raw-extract', newer, unpacked)
    control = unpacked / 'DEBIAN/control'
    control.write_text(re.sub('(?m)^Version: .*', f'Version: {OLDER}',
                              control.read_text()))
    with open(unpacked / DROP_IN, 'a') as stream:
        stream.write('# as of an older version\n')
    sums = unpacked / 'DEBIAN/md5sums'
    sums.write_text(''.join(line for line in sums.read_text().splitlines(True)
                            if DROP_IN not in line))
    support.run('dpkg-deb', '--build', unpacked, folder / 'older.deb')
    newer.rename(folder / 'newer.deb')


def make_base(programs, folder):
    """A minimal Debian 12 with all that the package depends on or recommends."""
    fields = ''.join(support.run('dpkg-deb', '--field', folder / 'newer.deb', field)
                     for field in ('Depends', 'Recommends'))
    wants = ', '.join(['systemd', *fields.splitlines()])
    base = programs.parent / 'package-base'
    # Two tests want it, and may run side by side.
    lock = open(base.with_suffix('.lock'), 'w')
    fcntl.flock(lock, fcntl.LOCK_EX)
    made_of = base.with_suffix('.of')
    digest = hashlib.sha256(wants.encode()).hexdigest()
    if made_of.exists() and made_of.read_text() == digest:
        return base
    print('making a Debian 12 to install in', flush=True)
    made_of.unlink(missing_ok=True)
    shutil.rmtree(base, ignore_errors=True)
    support.run('debootstrap', '--variant=minbase', 'bookworm', base)
    # No service is to be started in there.
    (base / 'usr/sbin/policy-rc.d').write_text('#!/bin/sh\nexit 101\n')
    (base / 'usr/sbin/policy-rc.d').chmod(0o755)
    support.run('chroot', base, 'env', 'DEBIAN_FRONTEND=noninteractive', 'apt-get',
                'satisfy', '--yes', '-qq', '--no-install-recommends', wants)
    support.run('chroot', base, 'apt-get', 'clean')
    (base / 'usr/sbin/policy-rc.d').unlink()
    made_of.write_text(digest)
    return base


def needs():
    """Skips the test where it cannot be made; else how to run what is to be apart."""
    if os.geteuid() != 0:
        support.skip('only root can make a system to install in')
    for tool in ('cpack', 'debootstrap', 'unshare', 'file', 'dpkg-shlibdeps'):
        if not shutil.which(tool):
            support.skip(f'{tool} is not installed')
    apart = ['unshare', '--mount', '--pid', '--net', '--uts', '--ipc', '--cgroup',
             '--fork', '--kill-child']
    if subprocess.run([*apart, 'true'], capture_output=True).returncode != 0:
        support.skip('this machine lets nobody have mounts of their own')
    return apart


def layered(base, folder):
    """The base with a layer in memory over it, which ends with our mounts."""
    root = folder / 'root'
    layer = folder / 'layer'
    root.mkdir()
    layer.mkdir()
    support.run('mount', '-t', 'tmpfs', '-o', 'mode=755', 'rimeward-test', layer)
    (layer / 'upper').mkdir(mode=0o755)
    (layer / 'work').mkdir()
    support.run('mount', '-t', 'overlay', '-o', f'lowerdir={base},upperdir={layer}/upper,'
                f'workdir={layer}/work', 'rimeward-test', root)
    support.run('mount', '-t', 'proc', 'proc', root / 'proc')
    loopback_up()
    for name in ('older.deb', 'newer.deb'):
        shutil.copy(folder / name, root / 'root')
    return root


def loopback_up():
    """In a network of our own not even that is up."""
    with socket.socket() as any_socket:
        # IFF_UP of linux/if.h, SIOCSIFFLAGS of linux/sockios.h.
        request = struct.pack('16sh14x', b'lo', 1)
        fcntl.ioctl(any_socket, 0x8914, request)
