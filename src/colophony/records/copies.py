"""Copies that leave the studio: a backup of everything, and one student's own data to take home.

A backup is one zip file::

    studio.db                 the database as it was at one moment
    recordings/<sha256>       every recording that the database keeps
    colophony-studio.json     what this is, form of the database, recordings that were missing already
"""

from __future__ import annotations

import csv
import io
import json
import math
import os
import re
import shutil
import sqlite3
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import asdict, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, cast

import colophony
from colophony.errors import StudioError
from colophony.language import N_, _
from colophony.listening.take import Track
from colophony.records import filing, people, practice
from colophony.records.database import Database, bring_up_to_date, plain_errors, read_version
from colophony.records.domain import FiledTake
from colophony.records.store import RecordingStore
from colophony.teaching.exercises.plain import to_plain
from colophony.teaching.findings import Findings

_LABEL = "colophony-studio.json"
_DATABASE = "studio.db"
_READ_ME = N_(
    """This file holds what the teacher's studio keeps of {name}.

findings.json   what was heard in each take, plans, and how exercises went, as text that any editor opens
sound/          the recordings as they were made, where sound is kept
curves/         pitch and level over time of each take, as tables for a spreadsheet

It holds a person's recordings: keep it where only those find it who should.
"""
)


def backup(database: Database, store: RecordingStore, to: Path) -> Path:
    """Write the studio to a new zip file; see `Studio.backup`."""
    moment = datetime.now().astimezone()
    path = _new_path(to, f"colophony-studio-{moment:%Y-%m-%d-%H%M%S}.zip")
    with (
        plain_errors(path.parent),
        _new_zip(path) as archive,
        tempfile.TemporaryDirectory(dir=path.parent, prefix=".colophony-") as private,
    ):
        snapshot = Path(private) / _DATABASE
        database.copy_to(snapshot)
        archive.write(snapshot, _DATABASE)
        missing = []
        for sha256 in _hashes_in(snapshot):
            try:  # stored as it is: sound is compressed already, or hardly can be
                archive.write(store.path(sha256), f"recordings/{sha256}", zipfile.ZIP_STORED)
            except FileNotFoundError:  # erased just now, or missing before, which `Studio.check` tells
                missing.append(sha256)
        label = {
            "what": _("a backup of a Colophony studio; colophony studio restore opens it"),
            "program": colophony.__version__,
            "database": read_version(snapshot),
            "made_at": moment.astimezone(UTC).isoformat(timespec="seconds"),
            "missing": missing,
        }
        archive.writestr(_LABEL, json.dumps(label, indent=1))
    return path


def restore(backup_file: Path, folder: Path) -> None:
    """Unpack a backup into a folder that is empty or not there; see `Studio.restore`."""
    if not backup_file.is_file():
        raise StudioError(_("{path} does not exist: choose a backup").format(path=backup_file))
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise StudioError(
            _("{path} is not empty: restore into a new folder; nothing was changed").format(path=folder)
        )
    folder.parent.mkdir(parents=True, exist_ok=True)
    private = Path(tempfile.mkdtemp(dir=folder.parent, prefix=".restore-"))
    try:
        _unpack(backup_file, private)
        if folder.exists():
            folder.rmdir()
        os.replace(private, folder)
    except (zipfile.BadZipFile, zlib.error, EOFError, KeyError, ValueError) as error:
        raise StudioError(
            _("{path} is no whole backup of a studio: try another; nothing was changed").format(
                path=backup_file
            )
        ) from error
    except StudioError as error:
        raise StudioError(str(error).replace(str(private), str(backup_file))) from error
    finally:
        shutil.rmtree(private, ignore_errors=True)


def export_student(database: Database, store: RecordingStore, student_id: int, to: Path) -> Path:
    """Write what is kept of one student to a new zip file; see `Studio.export_student`."""
    with database.reading() as connection:
        student = people.get(connection, student_id)
        consents = people.consents(connection, student_id)
        takes = list(reversed(filing.of_student(connection, student_id)))
        heard = {take.id: filing.findings(connection, take.id) for take in takes if take.status == "heard"}
        marks = {take.id: filing.mark(connection, take.id) for take in takes}
        plans = [asdict(plan) for plan in reversed(practice.plans(connection, student_id))]
        passes = [asdict(result) for result in reversed(practice.passes(connection, student_id))]
    path = _new_path(to, f"colophony-student-{student_id}-{datetime.now():%Y-%m-%d-%H%M%S}.zip")
    with plain_errors(path.parent), _new_zip(path) as archive:
        entries = []
        for number, take in enumerate(takes, start=1):
            name = f"{number:03d} {take.taken_at.astimezone():%Y-%m-%d %H%M} {take.purpose}"
            sound = _export_sound(archive, store, take, name)
            entry = _entry(take, heard.get(take.id)) | {"sound": sound, "mark": to_plain(marks[take.id])}
            entries.append(entry)
            track = heard[take.id].take.track if take.id in heard else None
            if track is not None:
                archive.writestr(f"curves/{name}.csv", _track_table(track))
        content = {
            "student": asdict(student),
            "consents": [asdict(c) for c in consents],
            "takes": entries,
            "plans": plans,
            "exercises": passes,
        }
        text = json.dumps(_readable(content), indent=1, ensure_ascii=False, default=str)
        archive.writestr("findings.json", text)
        archive.writestr("READ ME.txt", _(_READ_ME).format(name=student.name))
    return path


def _hashes_in(snapshot: Path) -> list[str]:
    with closing(sqlite3.connect(snapshot)) as connection:
        rows = connection.execute("SELECT DISTINCT sha256 FROM takes WHERE sound_kept ORDER BY sha256")
        return [row[0] for row in rows]


def _unpack(backup_file: Path, folder: Path) -> None:
    with zipfile.ZipFile(backup_file) as archive:
        label = json.loads(archive.read(_LABEL))
        snapshot = folder / _DATABASE
        with archive.open(_DATABASE) as source, os.fdopen(_make_private(snapshot), "wb") as target:
            shutil.copyfileobj(source, target)
            target.flush()
            os.fsync(target.fileno())
        bring_up_to_date(snapshot)
        store = RecordingStore(folder)
        store.prepare()
        for sha256 in set(_hashes_in(snapshot)) - set(label["missing"]):
            with archive.open(f"recordings/{sha256}") as sound, store.copy_in(sound) as arrival:
                if arrival.sha256 != sha256:
                    raise zipfile.BadZipFile(sha256)
                store.keep(arrival)


def _make_private(path: Path) -> int:
    return os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY | getattr(os, "O_BINARY", 0), 0o600)


def _new_path(to: Path, name: str) -> Path:
    path = (to / name if to.is_dir() else to).absolute()
    if path.exists():
        raise StudioError(
            _("{path} exists already: choose another name; nothing was changed").format(path=path)
        )
    if not path.parent.is_dir():
        raise StudioError(
            _("the folder {path} does not exist: make it, or choose another").format(path=path.parent)
        )
    return path


@contextmanager
def _new_zip(path: Path) -> Iterator[zipfile.ZipFile]:
    """Give a zip file that appears at ``path`` when it is whole, for its owner only."""
    descriptor, name = tempfile.mkstemp(dir=path.parent, prefix=".colophony-")
    try:
        with os.fdopen(descriptor, "wb") as file:
            with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
                yield archive
            file.flush()
            os.fsync(file.fileno())
        os.replace(name, path)
    finally:
        Path(name).unlink(missing_ok=True)


def _export_sound(archive: zipfile.ZipFile, store: RecordingStore, take: FiledTake, name: str) -> str | None:
    """Add a take's sound under a name of our own and return that, None where no sound is kept."""
    ending = re.search(r"\.[A-Za-z0-9]{1,5}$", take.original_name)
    member = f"sound/{name}{ending.group().lower() if ending else ''}"
    if not take.sound_kept:
        return None
    try:
        archive.write(store.path(take.sha256), member, zipfile.ZIP_STORED)
    except FileNotFoundError:
        return None
    return member


def _entry(take: FiledTake, findings: Findings | None) -> dict[str, Any]:
    entry = {
        "file": take.original_name,
        "taken_at": take.taken_at.isoformat(timespec="seconds"),
        "purpose": take.purpose,
        "accepted": take.accepted,
        "instrument": take.instrument,
        "size": take.size,
    }
    if findings is None:
        return entry | {"findings": None}
    return entry | {"findings": to_plain(replace(findings, take=replace(findings.take, track=None)))}


def _track_table(track: Track) -> str:
    text = io.StringIO()
    table = csv.writer(text)
    table.writerow(["time_s", "pitch_hz", "level_db", "peak"])
    for row in zip(track.times_s, track.frequency_hz, track.level_db, track.peak, strict=False):
        table.writerow([f"{value:.3f}" for value in row])
    return text.getvalue()


def _readable(value: object) -> Any:
    """Return plain values without NaN and infinity, for which JSON has no word."""
    if isinstance(value, dict):
        return {key: _readable(item) for key, item in cast("dict[str, object]", value).items()}
    if isinstance(value, list | tuple):
        return [_readable(item) for item in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
