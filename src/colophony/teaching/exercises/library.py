"""Exercises as data: the shipped library, and files that teachers write, checked line by line.

A file that cannot be used is refused with every mistake in it at once: where it stands, what the limit is,
what to do. See docs/exercises.md for the form.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields
from functools import cache
from importlib import resources
from typing import Any

from colophony.errors import InputError
from colophony.language import _
from colophony.teaching.exercises.exercise import AIMS, PARTS, Exercise, PassRule, StrokeSpec
from colophony.teaching.exercises.reading import Mistakes, MistakesError, Table
from colophony.teaching.findings import Say

#: Limits of what a stroke and a rule may ask: least and greatest.
BEATS, TEMPO, POINTS, TILT_DEG = (0.25, 32.0), (20.0, 240.0), (1.0, 5.0), (0.0, 45.0)
SEMITONES, COUNT, MINUTES = (0, 24), (1, 100), (0.5, 30.0)
CLEAN_SHARE, LASTS_SHARE = (0.0, 1.0), (0.1, 1.0)
_VARIABLES = ("speed", "weight", "distance", "tilt")
_READERS = ("child", "adult", "teacher")


@cache
def library() -> tuple[Exercise, ...]:
    """Return the shipped exercises, in the order of the file."""
    text = resources.files(__package__).joinpath("library.toml").read_text(encoding="utf-8")
    return read_exercises(text, place="library.toml", is_own=False)


def read_exercises(
    text: str, *, place: str, is_own: bool = True, known: Iterable[str] = ()
) -> tuple[Exercise, ...]:
    """Return the exercises that a TOML text holds.

    Parameters
    ----------
    text : the whole file
    place : its name, for messages
    is_own : a teacher's own; such texts are not translated
    known : keys of exercises elsewhere, which ``before`` may name and no exercise may take

    Raises `MistakesError` with every mistake of the file, a line each.
    """
    try:
        told = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise MistakesError((_("{place}: no TOML: {error}").format(place=place, error=error),)) from None
    mistakes = Mistakes(place)
    rows = _rows(told, mistakes)
    found = [_exercise(Table(row, _called(row, i), mistakes), is_own) for i, row in enumerate(rows)]
    _check_keys(found, tuple(known), mistakes)
    mistakes.refuse()
    return tuple(found)


def find_exercise(key: str, exercises: Iterable[Exercise]) -> Exercise:
    """Return the exercise with a key; raises `InputError` that names the nearest ones."""
    from difflib import get_close_matches

    by_key = {exercise.key: exercise for exercise in exercises}
    if key not in by_key:
        near = get_close_matches(key, by_key, n=3) or list(by_key)[:3]
        raise InputError(
            _("there is no exercise {key!r}: choose another, such as {near}").format(
                key=key, near=", ".join(near)
            )
        )
    return by_key[key]


def _rows(told: Mapping[str, Any], mistakes: Mistakes) -> list[Mapping[str, Any]]:
    for name in told:
        if name != "exercise":
            mistakes.add(name, _("is not known here: write every exercise under [[exercise]]"))
    rows = told.get("exercise", [])
    if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
        mistakes.add("exercise", _("there is none: begin each exercise with a line [[exercise]]"))
        return []
    return rows


def _called(row: Mapping[str, Any], index: int) -> str:
    key = row.get("key")
    return key if isinstance(key, str) and key else _("exercise {number}").format(number=index + 1)


def _exercise(row: Table, is_own: bool) -> Exercise:
    allowed = {field.name for field in fields(Exercise)} - {"pass_rule", "is_own"} | {"pass"}
    row.allow(allowed)
    return Exercise(
        key=row.slug("key"),
        title=row.text("title"),
        say=_say(row, "say"),
        listen_for=_say(row, "listen_for"),
        trains=row.choices("trains", _VARIABLES),
        aim=row.choice("aim", tuple(AIMS)),
        stroke=_stroke(row.table("stroke")),
        pass_rule=_rule(row.table("pass")),
        before=row.words("before"),
        minutes=row.number("minutes", MINUTES, default=3.0),
        is_own=is_own,
    )


def _say(row: Table, name: str) -> Say:
    """Return the words of a table; whom it leaves out hears what the nearest reader is told."""
    told = row.table(name)
    told.allow(set(_READERS))
    given = {reader: told.text(reader) for reader in _READERS if reader in told}
    if not given:
        row.mistake(name, _('is missing: write adult = "...", and child and teacher where they differ'))
    first = given.get("adult") or next(iter(given.values()), "")
    return Say(given.get("child", first), given.get("adult", first), given.get("teacher", first))


def _stroke(row: Table) -> StrokeSpec:
    row.allow({field.name for field in fields(StrokeSpec)})
    usual = StrokeSpec()
    return StrokeSpec(
        beats=row.number("beats", BEATS, default=usual.beats),
        tempo=row.number("tempo", TEMPO, default=usual.tempo),
        part=row.choice("part", tuple(PARTS), default=usual.part),
        points=row.span("points", POINTS, default=usual.points),
        weight=row.span("weight", (0.0, 1.0), default=usual.weight),
        tilt_deg=row.span("tilt_deg", TILT_DEG, default=usual.tilt_deg),
        strings=row.whole_numbers("strings", (1, 4), default=usual.strings),
        semitones=row.whole("semitones", SEMITONES, default=usual.semitones),
        count=row.whole("count", COUNT, default=usual.count),
    )


def _rule(row: Table) -> PassRule:
    row.allow({field.name for field in fields(PassRule)})
    usual = PassRule()
    rule = PassRule(
        at_least=row.whole("at_least", COUNT, default=usual.at_least),
        of=row.whole("of", COUNT, default=usual.of),
        clean_share=row.number("clean_share", CLEAN_SHARE, default=usual.clean_share),
        start=row.choice("start", ("clean", "slow"), default=None),
        level_within_db=row.number("level_within_db", (0.5, 30.0), default=None),
        pitch_within_cents=row.number("pitch_within_cents", (2.0, 200.0), default=None),
        level_rises_db=row.number("level_rises_db", (0.5, 30.0), default=None),
        lasts_share=row.number("lasts_share", LASTS_SHARE, default=None),
    )
    if rule.at_least > rule.of:
        row.mistake(
            "at_least", _("{value} of {of} cannot be: give at most {of}"), value=rule.at_least, of=rule.of
        )
    return rule


def _check_keys(found: Sequence[Exercise], known: tuple[str, ...], mistakes: Mistakes) -> None:
    keys = [exercise.key for exercise in found]
    for key in sorted({key for key in keys if key and (keys.count(key) > 1 or key in known)}):
        mistakes.add(key, _("this key is taken: give the exercise another one"))
    after: dict[str, tuple[str, ...]] = {exercise.key: exercise.before for exercise in found}
    for exercise in found:
        for name in exercise.before:
            if name not in keys and name not in known:
                mistakes.add(
                    f"{exercise.key}.before",
                    _("there is no exercise {name!r}: name one of this file or of the library").format(
                        name=name
                    ),
                )
        if _leads_to_itself(exercise.key, after):
            mistakes.add(
                f"{exercise.key}.before",
                _("these exercises wait for each other in a circle: take one of them out"),
            )


def _leads_to_itself(key: str, after: Mapping[str, tuple[str, ...]]) -> bool:
    seen: set[str] = set()
    waiting = list(after.get(key, ()))
    while waiting:
        name = waiting.pop()
        if name == key:
            return True
        if name not in seen:
            seen.add(name)
            waiting += after.get(name, ())
    return False
