#!/usr/bin/env python3
"""A page of the store is damaged, while the daemon is stopped or while it runs: the frost
notice goes out all the same, the log and a notice say what to do, the file is left as it
is, and once a backup is in its place all that came meanwhile is stored.
"""
import shutil

import support
from evening import Evening, run_parts

PAGE = 4096
DAMAGED = 'it is damaged; restore a backup, the file was left as it is'


def overwrite(store, pages):
    with open(store, 'r+b') as stream:
        for page in pages:
            stream.seek((page - 1) * PAGE)
            stream.write(b'\xa5' * PAGE)


def pages_of(store):
    return store.stat().st_size // PAGE


def first_page_of(store, table):
    return support.rows(store, 'SELECT rootpage FROM sqlite_schema WHERE name = ?',
                        table)[0][0]


def restore(evening, backup):
    """As the terminal says that it is done."""
    evening.daemon.stop()
    shutil.copy(backup, evening.store)
    for ending in ('-wal', '-shm'):
        evening.store.with_name(evening.store.name + ending).unlink(missing_ok=True)
    evening.start()
    evening.end_well()


def damaged_while_stopped(place, what, pages, words):
    evening = Evening(place, what)
    overwrite(evening.store, pages(evening.store))
    left = evening.store.read_bytes()
    evening.start()
    evening.wait_for(words)
    evening.send_until_frost_is_told()
    evening.send_until_told_of_store()
    support.check(evening.store.read_bytes() == left, 'the file is left as it is')
    done = evening.rimeward('store', '--check')
    support.equal(done.returncode, 1, 'exit status of rimeward store --check')
    restore(evening, place.past)
    print(f'{what} damaged while stopped: told of frost and of the store; all '
          f'{len(evening.sent)} readings stored in the backup')


def one_page_in_the_middle(place):
    """It may hold what nobody asks for today: then only a check finds it."""
    evening = Evening(place, 'middle')
    overwrite(evening.store, [pages_of(evening.store) // 2])
    evening.start()
    evening.send_until_frost_is_told()
    support.check(evening.daemon.process.poll() is None, 'the daemon lives')
    done = evening.rimeward('store', '--check')
    support.equal(done.returncode, 1, 'exit status of rimeward store --check')
    support.check('Restore a backup' in done.stdout or 'restore a backup' in done.stderr,
                  f'it says what to do: {done.stdout} {done.stderr}')
    evening.daemon.stop()
    print('a page in the middle: told of frost; a check finds it, and says what to do')


def damaged_while_running(place):
    evening = Evening(place, 'running')
    evening.start()
    overwrite(evening.store, range(2, pages_of(evening.store) + 1))
    evening.send(evening.cover.raised_at - 1)
    evening.wait_for(DAMAGED)
    evening.send_until_frost_is_told()
    evening.send_until_told_of_store()
    restore(evening, place.past)
    print(f'damaged while it ran: told of frost and of the store; all '
          f'{len(evening.sent)} readings stored in the backup')


def main():
    run_parts(
        lambda place: damaged_while_stopped(
            place, 'recent', lambda store: [first_page_of(store, 'recent')], DAMAGED),
        lambda place: damaged_while_stopped(
            place, 'learned', lambda store: [first_page_of(store, 'learned')], DAMAGED),
        lambda place: damaged_while_stopped(place, 'first', lambda _: [1], 'store'),
        one_page_in_the_middle, damaged_while_running)


if __name__ == '__main__':
    main()
