"""Exercises of the studio's own, plans, results, and marks of takes: the questions asked of the database."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from sqlalchemy import Connection, Row, delete, func, insert, select, update

from colophony.errors import StudioError
from colophony.language import _
from colophony.records import filing, people, tables
from colophony.records.domain import KeptPlan, OwnExercise, PassResult
from colophony.teaching.exercises.plain import to_plain

_KEY_LIMIT = 100
_CONTENT_LIMIT = 100_000


def keep_exercise(connection: Connection, key: str, content: str) -> OwnExercise:
    """Insert an exercise, or write its new text."""
    table = tables.exercises
    kept = OwnExercise(_clean_key(key), people.clean_text(content, _("the exercise"), limit=_CONTENT_LIMIT))
    changed = update(table).where(table.c.key == kept.key).values(content=kept.content)
    if not connection.execute(changed).rowcount:
        connection.execute(insert(table).values(key=kept.key, content=kept.content))
    return kept


def exercises(connection: Connection) -> list[OwnExercise]:
    """Return the studio's own exercises, by key."""
    table = tables.exercises
    return [
        OwnExercise(row.key, row.content) for row in connection.execute(select(table).order_by(table.c.key))
    ]


def remove_exercise(connection: Connection, key: str) -> None:
    """Delete an exercise. Raises `StudioError` when there is none of that key."""
    if not connection.execute(delete(tables.exercises).where(tables.exercises.c.key == key)).rowcount:
        raise StudioError(
            _("no exercise of this studio's own is called {key!r}: nothing was removed").format(key=key)
        )


def add_plan(
    connection: Connection, student_id: int, content: Mapping[str, Any], *, made_on: date
) -> KeptPlan:
    """Insert a plan."""
    values = {"student_id": student_id, "made_on": made_on, "content": to_plain(content)}
    return KeptPlan(id=tables.insert_row(connection, tables.plans, values), **values)


def plans(connection: Connection, student_id: int) -> list[KeptPlan]:
    """Return a student's plans, newest first."""
    people.get(connection, student_id)
    table = tables.plans
    newest = (table.c.made_on.desc(), table.c.id.desc())
    rows = connection.execute(select(table).where(table.c.student_id == student_id).order_by(*newest))
    return [KeptPlan(row.id, row.student_id, row.made_on, row.content) for row in rows]


def add_pass(connection: Connection, result: PassResult) -> PassResult:
    """Insert a result (whose number is ignored), in place of one of the same exercise in the same take."""
    if not 0 <= result.passed_strokes <= result.asked_strokes:
        raise StudioError(
            _("{passed} of {asked} strokes: of those asked for none, some or all can pass").format(
                passed=result.passed_strokes, asked=result.asked_strokes
            )
        )
    values = {
        "student_id": result.student_id,
        "exercise": _clean_key(result.exercise),
        "take_id": result.take_id,
        "done_on": result.on,
        "passed_strokes": result.passed_strokes,
        "asked_strokes": result.asked_strokes,
        "passed": result.passed,
        "detail": to_plain(result.detail),
    }
    table = tables.passes
    if result.take_id is not None:
        if filing.get(connection, result.take_id).student_id != result.student_id:
            raise StudioError(
                _("take {number} is another student's: choose one of this student's takes").format(
                    number=result.take_id
                )
            )
        same = (table.c.take_id == result.take_id) & (table.c.exercise == values["exercise"])
        connection.execute(delete(table).where(same))
    number = tables.insert_row(connection, table, values)
    return _pass_result(connection.execute(select(table).where(table.c.id == number)).one())


def passes(connection: Connection, student_id: int, *, exercise: str | None = None) -> list[PassResult]:
    """Return a student's results, newest first, of one exercise or of all."""
    people.get(connection, student_id)
    table = tables.passes
    question = select(table).where(table.c.student_id == student_id)
    if exercise is not None:
        question = question.where(table.c.exercise == exercise)
    newest = (table.c.done_on.desc(), table.c.id.desc())
    return [_pass_result(row) for row in connection.execute(question.order_by(*newest))]


def count(connection: Connection, student_id: int) -> int:
    """Return how many plans and results are kept of a student."""
    return sum(
        connection.execute(select(func.count()).where(table.c.student_id == student_id)).scalar_one()
        for table in (tables.plans, tables.passes)
    )


def _clean_key(key: str) -> str:
    return people.clean_line(key, _("the exercise's key"), limit=_KEY_LIMIT)


def _pass_result(row: Row[tuple[Any, ...]]) -> PassResult:
    return PassResult(
        id=row.id,
        student_id=row.student_id,
        exercise=row.exercise,
        take_id=row.take_id,
        on=row.done_on,
        passed_strokes=row.passed_strokes,
        asked_strokes=row.asked_strokes,
        passed=row.passed,
        detail=row.detail,
    )
