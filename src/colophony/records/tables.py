"""The tables of the studio's database. The migrations build the same; a test compares them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    Connection,
    Date,
    DateTime,
    Float,
    ForeignKey,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(column_0_label)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)


class Moment(TypeDecorator[datetime]):
    """A point in time: any time zone goes in (none means this machine's), UTC is stored and comes out."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return the moment in UTC, without a zone, as it is stored."""
        return None if value is None else value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return the stored moment with its zone, UTC."""
        return None if value is None else value.replace(tzinfo=UTC)


def _of(table_column: str) -> ForeignKey:
    return ForeignKey(table_column, ondelete="CASCADE")


students = Table(
    "students",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", String(200), nullable=False),
    Column("name_key", String(400), nullable=False),  # the name as it is compared: one student a name
    Column("minor", Boolean, nullable=False),
    Column("reader", String(10), nullable=False),
    Column("age_group", String(20)),
    UniqueConstraint("name_key"),
    sqlite_autoincrement=True,  # a number is never given twice: an old link cannot show another child
)

#: Every instrument a student has played; the one entered last is played now.
instruments = Table(
    "instruments",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("student_id", Integer, _of("students.id"), nullable=False, index=True),
    Column("kind", String(10), nullable=False),
    Column("size", String(10), nullable=False),
    Column("strings", JSON, nullable=False),  # open strings from low to high
    sqlite_autoincrement=True,
)

consents = Table(
    "consents",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("student_id", Integer, _of("students.id"), nullable=False, index=True),
    Column("given_by", String(200), nullable=False),
    Column("relation", String(200), nullable=False),
    Column("given_on", Date, nullable=False),
    Column("keep_sound", Boolean, nullable=False),
    Column("note", String(2000), nullable=False),
    Column("withdrawn_on", Date),
    sqlite_autoincrement=True,
)

#: A take without a row in ``findings`` is pending.
takes = Table(
    "takes",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("student_id", Integer, _of("students.id"), nullable=False),
    Column("instrument_id", Integer, _of("instruments.id"), nullable=False, index=True),
    Column("sha256", String(64), nullable=False, index=True),
    Column("size_bytes", Integer, nullable=False),
    Column("original_name", String(1000), nullable=False),
    Column("sound_kept", Boolean, nullable=False),
    Column("taken_at", Moment, nullable=False),
    Column("purpose", String(10), nullable=False),
    Column("accepted", Boolean, nullable=False),
    UniqueConstraint("student_id", "sha256"),
    CheckConstraint("purpose IN ('practice', 'reference')", name="purpose"),
    sqlite_autoincrement=True,
)

findings = Table(
    "findings",
    metadata,
    Column("take_id", Integer, _of("takes.id"), primary_key=True),
    Column("heard_at", Moment, nullable=False),
    Column("program", String(40), nullable=False),  # version that heard the take
    Column("file", String(1000), nullable=False),
    Column("duration_s", Float, nullable=False),
    Column("a4_hz", Float, nullable=False),
    Column("instrument", String(10)),
    Column("clean_share", Float),
    Column("details", JSON, nullable=False),  # what the other columns do not hold, see filing.py
    Column("track", LargeBinary),
)

strokes = Table(
    "strokes",
    metadata,
    Column("take_id", Integer, _of("findings.take_id"), primary_key=True),
    Column("position", Integer, primary_key=True),  # from 0
    Column("start_s", Float, nullable=False),
    Column("end_s", Float, nullable=False),
    Column("note", String(10)),
    Column("frequency_hz", Float),
    Column("cents", Float),
    Column("state", String(20), nullable=False, index=True),
    Column("confidence", Float, nullable=False),
    Column("bow", String(10)),
    Column("reversal", Boolean, nullable=False),
    Column("harmonicity_db", Float),
    Column("details", JSON, nullable=False),
    Column("advice", JSON, nullable=False),
)

#: Where and how fast the strokes of a marked reference take were played, see `colophony.teaching.reference`.
marks = Table(
    "marks",
    metadata,
    Column("take_id", Integer, _of("takes.id"), primary_key=True),
    Column("mark", JSON, nullable=False),
)

#: Exercises that the teacher wrote; those of the program are in none of these tables.
exercises = Table(
    "exercises",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("key", String(100), nullable=False),
    Column("content", Text, nullable=False),
    UniqueConstraint("key"),
)

plans = Table(
    "plans",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("student_id", Integer, _of("students.id"), nullable=False, index=True),
    Column("made_on", Date, nullable=False),
    Column("content", JSON, nullable=False),
    sqlite_autoincrement=True,
)

#: How exercises went. What was heard in a take goes with the take.
passes = Table(
    "passes",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("student_id", Integer, _of("students.id"), nullable=False, index=True),
    Column("exercise", String(100), nullable=False),  # key of one of the program's exercises or of an own one
    Column("take_id", Integer, _of("takes.id"), index=True),
    Column("done_on", Date, nullable=False),
    Column("passed_strokes", Integer, nullable=False),
    Column("asked_strokes", Integer, nullable=False),
    Column("passed", Boolean, nullable=False),
    Column("detail", JSON, nullable=False),
    UniqueConstraint("take_id", "exercise"),
    sqlite_autoincrement=True,
)

#: Erasures whose traces are not wiped yet, a token each: the next opening finishes what a dead run left.
erasures = Table("erasures", metadata, Column("token", String(32), primary_key=True))


def insert_row(connection: Connection, table: Table, values: Mapping[str, object]) -> int:
    """Insert a row into a table that numbers its rows, and return the number."""
    key = connection.execute(table.insert().values(**values)).inserted_primary_key
    assert key is not None  # every table here has one
    return int(key[0])
