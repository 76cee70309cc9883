#!/usr/bin/env python3
"""The medium beneath the store fails while an evening grows cold: writes fail, a disk is
full, one is suddenly read-only. Each time the frost notice goes out all the same, the log
and a notice say what to do, nothing that was stored before is harmed, and what came
meanwhile is stored once the medium is well again, or after a restart.

Small disks and read-only ones need root: without it these parts are skipped.
"""
import os
import shutil
import subprocess
import time

import medium
import support
from evening import Evening, HALF_HOUR, WELL, run_parts

FULL = 'the disk is full; free some space'
FAILED = 'the medium failed; see the system\'s log for the disk'


def writes_fail(place, failure, words):
    """By the shim: as each of these would, and well again at once."""
    evening = Evening(place, failure.lower(), fails=failure)
    evening.start()
    evening.trouble.touch()
    evening.fall_ill(words)
    evening.send_until_told()
    evening.send_until_told_of_store()
    evening.trouble.unlink()
    evening.wait_for(f'{WELL}; nothing was lost')
    evening.send_until_store_is_over()
    evening.end_well()
    support.equal(evening.daemon.log().count(words), 1, 'times that the log says it')
    print(f'{failure}: told of frost and of the store; {len(evening.sent)} readings '
          'waited')


def stopped_while_ill(place):
    """A stop, and a kill, while nothing can be written: what came waits in the spool."""
    evening = Evening(place, 'stopped', fails='EIO')
    evening.start()
    evening.trouble.touch()
    evening.fall_ill(FAILED)
    evening.send_until_told()
    evening.daemon.stop()
    support.check('everything is committed' not in evening.daemon.log(),
                  'the daemon claims what is not so')
    evening.trouble.unlink()
    evening.start()
    support.wait_until(lambda: evening.newest() == max(evening.sent),
                       'what waited over the stop')
    evening.trouble.touch()
    evening.send_hours(1)
    evening.daemon.kill()
    evening.trouble.unlink()
    evening.start()
    evening.end_well()
    print('stopped and killed while the medium failed: all is stored at the next start')


def backup_without_room(place):
    """A disk that fills up while a backup is made onto it."""
    evening = Evening(place, 'backup')
    stick = evening.folder / 'stick'
    stick.mkdir()
    (stick / 'copy.db').write_text('an older backup')
    evening.trouble.touch()
    done = evening.rimeward('backup', stick / 'copy.db', '--replace', environment={
        **os.environ, **medium.shim(place.programs, stick, fails='ENOSPC',
                                    fails_while=evening.trouble)})
    check_refused(done)
    support.equal([(file.name, file.read_text()) for file in stick.iterdir()],
                  [('copy.db', 'an older backup')], 'what is on the stick')
    print('a backup without room: the older one stays, and nothing of the other')


def check_refused(done):
    support.equal(done.returncode, 1, 'exit status of a backup without room')
    support.check('free some space, or name a file on another' in done.stderr,
                  f'the backup says what to do: {done.stderr}')


def full_disk(place):
    card = place.folder / 'full-card'
    with medium.small_disk(card, 4):
        evening = Evening(place, 'full', card)
        evening.start()
        filler = medium.fill(card)
        evening.fall_ill(FULL)
        evening.send_until_told()
        evening.send_until_told_of_store()
        check_refused(evening.rimeward('backup', card / 'copy.db'))
        support.equal(list(card.glob('copy*')), [], 'what is left of the backup')
        filler.unlink()
        evening.wait_for(f'{WELL}; nothing was lost')
        evening.end_well()
        print('a full disk: told of frost and of the store, nothing lost, no half backup')


def full_while_packing(place):
    """The disk is full at the hour when the day before is packed."""
    card = place.folder / 'packing-card'
    with medium.small_disk(card, 4):
        evening = Evening(place, 'packing', card, commit_every='4 s')
        evening.start()
        day = evening.cover.raised_at // 86400
        evening.send((day + 1) * 86400 + 2 * HALF_HOUR)
        support.wait_until(lambda: evening.newest() == max(evening.sent), 'all stored')
        filler = medium.fill(card)
        evening.send((day + 1) * 86400 + 6 * HALF_HOUR)
        evening.wait_for(FULL)
        time.sleep(2)
        support.equal(packed(evening.store, day), 0, 'series packed on a full disk')
        filler.unlink()
        evening.wait_for(f'{WELL}; nothing was lost')
        support.wait_until(lambda: packed(evening.store, day) == 2, 'the day is packed')
        evening.end_well()
        print('a full disk at the hour of packing: packed once there is room')


def packed(store, day):
    return support.rows(store, 'SELECT count(*) FROM chunk WHERE day = ?', day)[0][0]


def suddenly_read_only(place):
    """As ext4 becomes when the card beneath it fails (its mount option `abort`)."""
    image, card = place.folder / 'image', place.folder / 'read-only-card'
    card.mkdir()
    with open(image, 'wb') as stream:
        stream.truncate(16 << 20)
    subprocess.run(['mkfs.ext4', '-q', '-F', image], check=True)
    with medium.mounted(card, '-o', 'loop', image):
        evening = Evening(place, 'read-only', card)
        os.sync()
        evening.start()
        subprocess.run(['mount', '-o', 'remount,abort', card], check=True)
        evening.fall_ill(FAILED)
        evening.send_until_told()
        evening.send_until_told_of_store()
        support.equal(evening.exported()[:len(evening.before)], evening.before,
                      'what can still be read')
        # The same at a start: the daemon goes on beside the store.
        evening.daemon.stop()
        evening.start()
        evening.send_hours(1)
        evening.daemon.stop()
    # Of a copy: where another program's mounts still hold the old one, as those of a test
    # beside this one may, it would be mounted again as it is, read-only.
    repaired = shutil.copyfile(image, place.folder / 'repaired')
    subprocess.run(['e2fsck', '-p', '-f', repaired], check=False, stdout=subprocess.DEVNULL)
    with medium.mounted(card, '-o', 'loop', repaired):
        evening.start()
        evening.end_well()
    print('suddenly read-only: told of frost and of the store; all stored after a repair')


def main():
    run_parts(lambda place: writes_fail(place, 'EIO', FAILED),
              lambda place: writes_fail(place, 'ENOSPC', FULL),
              lambda place: writes_fail(place, 'EROFS', FAILED),
              stopped_while_ill, backup_without_room, full_disk, full_while_packing,
              suddenly_read_only)


if __name__ == '__main__':
    main()
