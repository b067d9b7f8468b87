"""An invented student, recordings that hold no sound, and findings for them, for tests of the studio."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from sqlalchemy import text

from colophony.records import database
from colophony.records.domain import Student
from colophony.records.store import identify
from colophony.records.studio import DATABASE_NAME, Studio
from colophony.teaching.findings import Advice, Findings, Say, Summary
from factories import make_take

#: An invented name, rare enough to be searched for in files.
NAME = "Anna Quillfeather"
NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
TODAY = date(2026, 3, 2)
#: Rare words, to be searched for in files.
PLAN_WORDS, PASS_WORDS = "planned-quillwort", "passed-quillwort"
SAY = Say("Let the bow fly.", "A faster bow, the same weight.", "Raise bow speed.")
ADVICE = Advice("speed", "more", "force-above-maximum", SAY)


def make_findings(file: str = "lesson.m4a") -> Findings:
    take = make_take(file=file)
    return Findings(take, ((), (ADVICE,)), Summary(0.65, len(take.strokes), ADVICE, SAY, SAY))


def write_recording(folder: Path, name: str = "lesson.m4a", content: bytes = b"sound") -> Path:
    path = folder / name
    path.write_bytes(content * 5000)
    return path


def add_consented(studio: Studio, name: str = NAME, *, keep_sound: bool = True) -> Student:
    student = studio.add_student(name, instrument="violin", size="1/2", minor=True, reader="child")
    studio.record_consent(student.id, given_by="Eva", relation="mother", on=TODAY, keep_sound=keep_sound)
    return student


def practise(studio: Studio, student: Student) -> None:
    """Keep a plan, a result of the last take, and the same result again."""
    studio.keep_plan(student.id, {"minutes": 15, "why": [PLAN_WORDS]}, made_on=TODAY)
    take = next(iter(studio.takes(student.id)), None)
    for _ in range(2):
        studio.record_pass(
            student.id,
            "hold-point-middle",
            on=TODAY,
            passed_strokes=8,
            asked_strokes=10,
            passed=True,
            take_id=take.id if take else None,
            detail={"outcome": "passed", "why": PASS_WORDS},
        )


def make_older_studio(folder: Path) -> None:
    """Make a studio of the first form, with one student and a number that was given and erased."""
    from alembic import command

    folder.mkdir(mode=0o700)
    engine = database._make_engine(folder / DATABASE_NAME, foreign_keys=False)
    with database._write(engine) as connection:
        config = database._alembic_config()
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
        for number, name in ((1, NAME), (2, "Erased")):
            values = {"id": number, "name": name, "key": name.casefold()}
            connection.execute(
                text("INSERT INTO students VALUES (:id, :name, :key, 1, 'child')").bindparams(**values)
            )
            connection.execute(
                text("INSERT INTO instruments VALUES (:id, :id, 'violin', '1/2', :strings)").bindparams(
                    id=number, strings='["G3","D4","A4","E5"]'
                )
            )
        connection.execute(
            text("INSERT INTO consents VALUES (1, 1, 'Eva', 'mother', '2026-03-02', 1, '', NULL)")
        )
        connection.execute(text("DELETE FROM instruments WHERE id = 2"))
        connection.execute(text("DELETE FROM students WHERE id = 2"))
    engine.dispose()
    (folder / DATABASE_NAME).chmod(0o600)


def assert_whole(folder: Path) -> None:
    """Assert, on the bare files and before any opening could repair them, that nothing is half filed."""
    with closing(sqlite3.connect(folder / DATABASE_NAME)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        if not connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'takes'").fetchall():
            return  # killed before the first migration was kept
        sounds = connection.execute("SELECT sha256, size_bytes FROM takes WHERE sound_kept").fetchall()
        strokes = connection.execute(
            "SELECT json_extract(details, '$.summary.strokes'), "
            "(SELECT count(*) FROM strokes WHERE strokes.take_id = findings.take_id) FROM findings"
        ).fetchall()
    for sha256, size_bytes in sounds:
        assert identify(folder / "recordings" / sha256[:2] / sha256) == (sha256, size_bytes)
    assert all(said == filed for said, filed in strokes)


def files_with(folder: Path, words: bytes) -> list[str]:
    """Return the names of all files below a folder whose bytes hold ``words``."""
    return [path.name for path in folder.rglob("*") if path.is_file() and words in path.read_bytes()]


def keep_weeks(studio: Studio, student: Student, shares: Sequence[float], folder: Path) -> None:
    """Keep a take a week from `NOON` on, each with a share of clean time; below a half the bow pressed."""
    for week, share in enumerate(shares):
        findings = make_findings(f"week {week}.m4a")
        pressed = replace(ADVICE, fault="pressed") if share < 0.5 else None
        summary = replace(findings.summary, clean_share=share)
        findings = replace(findings, summary=summary, advice=((), (pressed,) if pressed else ()))
        recording = write_recording(folder, f"week {week}.m4a", f"sound {week}".encode())
        studio.file_take(student.id, recording, findings, taken_at=NOON + timedelta(weeks=week))
