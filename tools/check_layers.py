#!/usr/bin/env python3
"""Fails when a file includes a layer that its own layer may not see.

Also fails when DEVELOPERS.md or README.md names a path that does not exist, so that the
map cannot drift from the ground. Run by CTest as `check_layers.py ROOT`.
"""
import pathlib
import re
import sys

MAY_INCLUDE = {}
# Each layer sees itself and all below it; ingest and notice stand side by side.
for name, sees in [
    ('sensors', []),
    ('daemon/base', ['sensors']),
    ('daemon/climate', ['daemon/base', 'sensors']),
    ('daemon/store', ['daemon/climate', 'daemon/base', 'sensors']),
    ('daemon/ingest', ['daemon/base', 'sensors']),
    ('daemon/notice', ['daemon/store', 'daemon/climate', 'daemon/base', 'sensors']),
    ('daemon/post', ['daemon/base', 'sensors']),
    ('daemon/delivery', ['daemon/notice', 'daemon/post', 'daemon/store', 'daemon/base',
                         'sensors']),
]:
    MAY_INCLUDE[name] = [name] + sees
MAY_INCLUDE['daemon'] = ['daemon'] + list(MAY_INCLUDE)
# The terminal opens the store and asks no broker; only the player publishes.
MAY_INCLUDE['tools'] = ['tools', 'tools/draw', 'daemon', 'daemon/notice', 'daemon/store',
                        'daemon/climate', 'daemon/base', 'sensors']
# The program that draws shares its pen with the one that carries letters.
MAY_INCLUDE['tools/draw'] = ['tools/draw', 'tools', 'daemon/post', 'daemon/base', 'sensors']


def layer(path):
    """The longest layer name that `path` starts with, or None."""
    fits = [name for name in MAY_INCLUDE if path.startswith(name + '/')]
    return max(fits, key=len, default=None)


def bad_includes(root):
    for file in sorted(root.rglob('*')):
        if file.suffix not in ('.h', '.cc', '.def'):
            continue
        mine = layer(str(file.relative_to(root)))
        if not mine:
            continue
        for number, line in enumerate(file.read_text().splitlines(), 1):
            include = re.match(r'\s*#include "([^"]+)"', line)
            if include and layer(include[1]) not in MAY_INCLUDE[mine]:
                yield f'{file.relative_to(root)}:{number}: {mine} may not include {include[1]}'


def stale_paths(root):
    for doc in ('DEVELOPERS.md', 'README.md'):
        text = (root / doc).read_text()
        for path in re.findall(r'`((?:daemon|sensors|tools|config|tests)/[\w./-]+)`', text):
            if not (root / path).exists():
                yield f'{doc}: no such path: {path}'


def main(root):
    bad = list(bad_includes(root)) + list(stale_paths(root))
    print('\n'.join(bad) if bad else 'layers and paths are in order')
    return bool(bad)


if __name__ == '__main__':
    sys.exit(main(pathlib.Path(sys.argv[1] if len(sys.argv) > 1 else '.')))
