"""Looking after a studio: what the disk holds against what the database says."""

from __future__ import annotations

import stat
import sys
from collections.abc import Iterator
from pathlib import Path

from sqlalchemy import Connection

from colophony.language import _, ngettext
from colophony.records import filing, people, practice
from colophony.records.database import Database, plain_errors
from colophony.records.domain import FiledTake, Problem
from colophony.records.store import RecordingStore, identify


def check(folder: Path, database: Database, store: RecordingStore) -> list[Problem]:
    """Return every problem of a studio; left-overs of dead runs and wide permissions are put right."""
    with plain_errors(folder):
        problems = [
            Problem("database", fault, _("restore a backup with colophony studio restore"))
            for fault in database.faults()
        ]
        problems += _sweep(database, store)
        problems += _narrow(folder)
        with database.reading() as connection:
            takes = filing.everything(connection)
            problems += _unconsented(connection)
        for take in takes:
            problems += _check_take(take, store)
        return problems


def sweep_recordings(connection: Connection, store: RecordingStore) -> int:
    """Remove recordings that no take keeps; the caller gives the connection that writes. Returns how many."""
    kept = filing.kept_sounds(connection)
    orphans = [sha256 for sha256 in store.kept() if sha256 not in kept]
    for sha256 in orphans:
        store.remove(sha256)
    return len(orphans)


def _sweep(database: Database, store: RecordingStore) -> Iterator[Problem]:
    with database.writing() as connection:  # so that no recording is on its way to its row
        swept = store.sweep() + sweep_recordings(connection, store)
    if swept:
        what = ngettext(
            "{n} file left over from a run that was cut short",
            "{n} files left over from a run that was cut short",
            swept,
        ).format(n=swept)
        yield Problem("left-over", what, _("removed: no take refers to it"), repaired=True)


def _check_take(take: FiledTake, store: RecordingStore) -> Iterator[Problem]:
    named = {"number": take.id, "name": take.original_name}
    if take.status == "pending":
        remedy = _("hear it on its student's page, or with 'colophony studio check --hear'")
        what = _("take {number} ({name}) was received but never heard").format(**named)
        yield Problem("pending", what, remedy, take_id=take.id)
    if not take.sound_kept:
        return
    again = _("file the recording again, or restore a backup")
    place = store.path(take.sha256)
    if not place.is_file():
        what = _("the sound of take {number} ({name}) is missing").format(**named)
        yield Problem("missing-sound", what, again, take_id=take.id)
    elif identify(place) != (take.sha256, take.size_bytes):
        what = _("the sound of take {number} ({name}) is damaged").format(**named)
        yield Problem("changed-sound", what, again, take_id=take.id)


def _unconsented(connection: Connection) -> Iterator[Problem]:
    for student in people.everyone(connection):
        keep, keep_sound = people.may_keep(connection, student.id)
        takes = filing.of_student(connection, student.id)
        if not keep_sound and any(take.sound_kept for take in takes):
            yield Problem(
                "no-consent",
                _("sound of {name} is kept without consent").format(name=student.name),
                _("record the consent, or erase the takes"),
            )
        elif not keep and (takes or practice.count(connection, student.id)):
            yield Problem(
                "no-consent",
                _("findings of {name} are kept and no consent stands any more").format(name=student.name),
                _("record a consent, or erase the student"),
            )


def _narrow(folder: Path) -> Iterator[Problem]:
    if sys.platform == "win32":  # where the folder's owner is governed by the user's profile
        return
    wide = [path for path in (folder, *folder.rglob("*")) if stat.S_IMODE(path.lstat().st_mode) & 0o077]
    wide = [path for path in wide if not path.is_symlink()]
    for path in wide:
        path.chmod(0o700 if path.is_dir() else 0o600)
    if wide:
        what = ngettext(
            "{n} file of the studio could be read by others",
            "{n} files of the studio could be read by others",
            len(wide),
        ).format(n=len(wide))
        yield Problem("permissions", what, _("now only you can read it"), repaired=True)
