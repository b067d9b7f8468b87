"""Takes and their findings: the questions asked of the database.

A take is first received (a row in ``takes``) and, once heard, gets its row in ``findings`` and its rows in
``strokes`` in one transaction; without findings it is pending.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, Select, delete, exists, func, insert, select, update

import colophony
from colophony.errors import StudioError
from colophony.language import _
from colophony.listening.take import Stroke, Take
from colophony.records import people, tables
from colophony.records.codec import from_plain, pack_track, unpack_track
from colophony.records.domain import FiledTake, Purpose
from colophony.teaching.exercises.plain import to_plain
from colophony.teaching.findings import Advice, Findings, Summary
from colophony.teaching.reference import Mark

# Fields that have a column of their own, so that questions over months can ask for them; the others
# lie together in ``details``.
_TAKE_COLUMNS = ("file", "duration_s", "a4_hz", "instrument")
_STROKE_COLUMNS = tuple(
    column.name
    for column in tables.strokes.c
    if column.name not in ("take_id", "position", "details", "advice")
)


def receive(
    connection: Connection,
    student_id: int,
    *,
    sha256: str,
    size_bytes: int,
    original_name: str,
    sound_kept: bool,
    taken_at: datetime,
    purpose: Purpose,
    mark: Mark | None,
) -> int:
    """Insert a take, or find the one with the same content, and return its number.

    The same recording received again keeps its number, date and findings; a practice take may become a
    reference, and a reference stays one. A mark that is given replaces an earlier one.
    """
    takes = tables.takes
    same = (takes.c.student_id == student_id) & (takes.c.sha256 == sha256)
    take_id = connection.execute(select(takes.c.id).where(same)).scalar_one_or_none()
    if take_id is not None:
        connection.execute(update(takes).where(same).values(sound_kept=sound_kept))
        if purpose == "reference":
            connection.execute(update(takes).where(same).values(purpose=purpose))
        _set_mark(connection, int(take_id), mark)
        return int(take_id)
    values = {
        "student_id": student_id,
        "instrument_id": people.current_instrument(connection, student_id),
        "sha256": sha256,
        "size_bytes": size_bytes,
        "original_name": readable_name(original_name),
        "sound_kept": sound_kept,
        "taken_at": taken_at,
        "purpose": purpose,
        "accepted": False,
    }
    take_id = tables.insert_row(connection, takes, values)
    _set_mark(connection, take_id, mark)
    return take_id


def _set_mark(connection: Connection, take_id: int, mark: Mark | None) -> None:
    if mark is not None:
        connection.execute(delete(tables.marks).where(tables.marks.c.take_id == take_id))
        connection.execute(insert(tables.marks).values(take_id=take_id, mark=to_plain(mark)))


def mark(connection: Connection, take_id: int) -> Mark | None:
    """Return where and how fast the strokes of a reference take were to be played, None where nobody said."""
    plain = connection.execute(
        select(tables.marks.c.mark).where(tables.marks.c.take_id == take_id)
    ).scalar_one_or_none()
    return None if plain is None else from_plain(Mark, plain)


def file(connection: Connection, take_id: int, findings: Findings, *, heard_at: datetime) -> None:
    """Insert a take's findings in place of earlier ones."""
    get(connection, take_id)
    take = findings.take
    if len(findings.advice) != len(take.strokes):
        raise StudioError(
            _("{advices} advices for {strokes} strokes: findings must hold one for each").format(
                advices=len(findings.advice), strokes=len(take.strokes)
            )
        )
    plain = to_plain(replace(take, strokes=(), track=None))
    columns = {name: plain.pop(name) for name in _TAKE_COLUMNS}
    columns["file"] = readable_name(columns["file"])
    clear(connection, take_id)
    connection.execute(
        insert(tables.findings).values(
            **columns,
            take_id=take_id,
            heard_at=heard_at,
            program=colophony.__version__,
            clean_share=to_plain(findings.summary.clean_share),
            details={"take": plain, "summary": to_plain(findings.summary)},
            track=pack_track(take.track),
        )
    )
    rows = [
        _stroke_row(stroke) | {"take_id": take_id, "position": position, "advice": to_plain(advice)}
        for position, (stroke, advice) in enumerate(zip(take.strokes, findings.advice, strict=True))
    ]
    if rows:
        connection.execute(insert(tables.strokes), rows)


def clear(connection: Connection, take_id: int) -> None:
    """Delete a take's findings, if any: it is pending again."""
    connection.execute(delete(tables.findings).where(tables.findings.c.take_id == take_id))


def findings(connection: Connection, take_id: int) -> Findings:
    """Return a take's findings as they were filed. Raises `StudioError` while it is pending."""
    name = get(connection, take_id).original_name
    row = connection.execute(
        select(tables.findings).where(tables.findings.c.take_id == take_id)
    ).one_or_none()
    if row is None:
        raise StudioError(
            _("take {number} ({name}) was received but not yet heard: hear it first").format(
                number=take_id, name=name
            )
        )
    table = tables.strokes
    stroke_rows = connection.execute(
        select(table).where(table.c.take_id == take_id).order_by(table.c.position)
    ).all()
    plain = row.details["take"] | {name: row._mapping[name] for name in _TAKE_COLUMNS}
    take = replace(
        from_plain(Take, plain),
        strokes=tuple(_stroke(stroke_row) for stroke_row in stroke_rows),
        track=unpack_track(row.track),
    )
    advice = tuple(tuple(from_plain(Advice, one) for one in row.advice) for row in stroke_rows)
    return Findings(take, advice, from_plain(Summary, row.details["summary"]))


def reference_strokes(connection: Connection, student_id: int) -> list[tuple[Mark | None, Stroke]]:
    """Return the strokes of accepted reference takes on an instrument like the one played now, with marks."""
    takes, strokes, played, marks = tables.takes, tables.strokes, tables.instruments, tables.marks
    student = people.get(connection, student_id)
    question = (
        select(strokes, marks.c.mark)
        .join(takes, takes.c.id == strokes.c.take_id)
        .join(played, played.c.id == takes.c.instrument_id)
        .outerjoin(marks, marks.c.take_id == takes.c.id)
        .where(takes.c.student_id == student_id, takes.c.purpose == "reference", takes.c.accepted)
        .where(played.c.kind == student.instrument, played.c.size == student.size)
        .order_by(takes.c.taken_at, takes.c.id, strokes.c.position)
    )
    return [
        (None if row.mark is None else from_plain(Mark, row.mark), _stroke(row))
        for row in connection.execute(question)
    ]


def get(connection: Connection, take_id: int) -> FiledTake:
    """Return a take. Raises `StudioError` when the number is no take's."""
    row = connection.execute(_takes().where(tables.takes.c.id == take_id)).one_or_none()
    if row is None:
        raise StudioError(
            _("no take has the number {number}: it may have been erased").format(number=take_id)
        )
    return _filed_take(row)


def of_student(connection: Connection, student_id: int) -> list[FiledTake]:
    """Return a student's takes, newest first."""
    people.get(connection, student_id)
    takes = tables.takes
    newest = (takes.c.taken_at.desc(), takes.c.id.desc())
    return [
        _filed_take(row)
        for row in connection.execute(_takes().where(takes.c.student_id == student_id).order_by(*newest))
    ]


def everything(connection: Connection) -> list[FiledTake]:
    """Return every take of everyone, by number."""
    return [_filed_take(row) for row in connection.execute(_takes().order_by(tables.takes.c.id))]


def pending(connection: Connection) -> list[FiledTake]:
    """Return the takes that were received and not heard, oldest first."""
    question = _takes().where(tables.findings.c.take_id.is_(None)).order_by(tables.takes.c.id)
    return [_filed_take(row) for row in connection.execute(question)]


def accept(connection: Connection, take_id: int, accepted: bool) -> None:
    """Write whether a take's tone is accepted as the player's reference."""
    connection.execute(update(tables.takes).where(tables.takes.c.id == take_id).values(accepted=accepted))


def erase(connection: Connection, take_id: int) -> None:
    """Delete a take's rows."""
    connection.execute(delete(tables.takes).where(tables.takes.c.id == take_id))


def forget_sound(connection: Connection, student_id: int) -> tuple[int, int]:
    """Mark the sound of a student's takes as not kept; delete takes that were never heard.

    Returns how many sounds and how many pending takes that were.
    """
    takes = tables.takes
    heard = exists().where(tables.findings.c.take_id == takes.c.id)
    unheard = connection.execute(delete(takes).where(takes.c.student_id == student_id, ~heard)).rowcount
    kept: ColumnElement[bool] = (takes.c.student_id == student_id) & takes.c.sound_kept
    return connection.execute(update(takes).where(kept).values(sound_kept=False)).rowcount, unheard


def kept_sounds(connection: Connection) -> set[str]:
    """Return the hashes of all recordings that some take keeps."""
    takes = tables.takes
    return set(connection.execute(select(takes.c.sha256).where(takes.c.sound_kept).distinct()).scalars())


def readable_name(name: str) -> str:
    """Return a file's name as text: bytes that are no UTF-8 become question marks in a diamond."""
    return name.encode("utf-8", "surrogateescape").decode("utf-8", "replace")[-1000:]


def original_name(path: Path, given: str | None) -> str:
    """Return the name to remember for a recording: the one given, else its file's, never a folder's."""
    if given is None:
        return path.name
    return given.replace("\\", "/").rpartition("/")[2] or "recording"  # a browser may send a whole path


def _takes() -> Select[tuple[Any, ...]]:
    takes, heard, played = tables.takes, tables.findings, tables.instruments
    count = (
        select(func.count()).where(tables.strokes.c.take_id == takes.c.id).correlate(takes).scalar_subquery()
    )
    return select(
        takes,
        played.c.kind,
        played.c.size,
        heard.c.take_id.label("heard"),
        heard.c.duration_s,
        heard.c.clean_share,
        count.label("strokes"),
    ).select_from(
        takes.join(played, played.c.id == takes.c.instrument_id).outerjoin(
            heard, heard.c.take_id == takes.c.id
        )
    )


def _filed_take(row: Row[tuple[Any, ...]]) -> FiledTake:
    heard = row.heard is not None
    return FiledTake(
        id=row.id,
        student_id=row.student_id,
        original_name=row.original_name,
        sha256=row.sha256,
        size_bytes=row.size_bytes,
        sound_kept=row.sound_kept,
        taken_at=row.taken_at,
        purpose=row.purpose,
        accepted=row.accepted,
        status="heard" if heard else "pending",
        instrument=row.kind,
        size=row.size,
        duration_s=row.duration_s,
        strokes=row.strokes if heard else None,
        clean_share=row.clean_share,
    )


def _stroke_row(stroke: Stroke) -> dict[str, Any]:
    plain = to_plain(stroke)
    columns = {name: plain.pop(name) for name in _STROKE_COLUMNS}
    return columns | {"details": plain}


def _stroke(row: Row[tuple[Any, ...]]) -> Stroke:
    return from_plain(Stroke, row.details | {name: row._mapping[name] for name in _STROKE_COLUMNS})
