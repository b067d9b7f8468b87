"""Exercises of the teacher's own: written on a form or in a file, checked by the rules of the library.

What is kept is the text of a file (TOML), the form in which teachers may pass exercises on to each other.
"""

from __future__ import annotations

import json
import re
import tomllib
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Any

from colophony.language import _
from colophony.teaching.exercises.exercise import AIMS, PARTS, Exercise, PassRule, StrokeSpec
from colophony.teaching.exercises.library import library, read_exercises
from colophony.teaching.exercises.reading import MistakesError

if TYPE_CHECKING:
    from colophony.records.studio import Studio

_READERS = ("child", "adult", "teacher")
_VARIABLES = ("speed", "weight", "distance", "tilt")
#: Fields of the form with two values, at the begin and at the end of a bow.
_SPANS = ("points", "weight", "tilt_deg")
_LIMITS = ("level_within_db", "pitch_within_cents", "level_rises_db")
_NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?")


def own_exercises(studio: Studio) -> tuple[Exercise, ...]:
    """Return the studio's own exercises, by key; none waits for what is gone by now."""
    kept = studio.own_exercises()
    known = {exercise.key for exercise in library()} | {one.key for one in kept}
    found = (_kept_exercise(one.content, one.key, known) for one in kept)
    return tuple(replace(one, before=tuple(key for key in one.before if key in known)) for one in found)


def _kept_exercise(content: str, key: str, known: set[str]) -> Exercise:
    (table,) = tomllib.loads(content)["exercise"]
    named = known.union(table.get("before", ())) - {key}
    (exercise,) = read_exercises(content, place=key, known=named)
    return exercise


def every_exercise(studio: Studio) -> tuple[Exercise, ...]:
    """Return the shipped exercises, then the studio's own."""
    return (*library(), *own_exercises(studio))


def keep_from_form(studio: Studio, fields: Mapping[str, str], *, key: str | None = None) -> Exercise:
    """Keep the exercise that a form describes, a new one or in place of that with a key.

    Raises `MistakesError` with every mistake, a line each; nothing is kept then.
    """
    own = {kept.key for kept in studio.own_exercises()}
    taken = {exercise.key for exercise in library()} | own
    name = key or _free_key(fields.get("title", ""), taken)
    content = exercise_file([{"key": name} | _table(fields)])
    place = fields.get("title", "").strip()[:60] or _("this exercise")
    (exercise,) = read_exercises(content, place=place, known=taken - {name})
    studio.keep_exercise(name, content)
    return exercise


def keep_from_file(studio: Studio, text: str, *, place: str) -> tuple[Exercise, ...]:
    """Keep every exercise of a file; one of a key that the studio has already takes its place.

    Raises `MistakesError` with every mistake of the file, a line each; nothing is kept then.
    """
    own = {kept.key for kept in studio.own_exercises()}
    shipped = {exercise.key for exercise in library()}
    found = read_exercises(text, place=place, known=shipped)
    taken = [exercise.key for exercise in found if exercise.key in shipped]
    if taken:
        line = _("{file}: {keys}: these come with Colophony; give yours keys of their own")
        raise MistakesError((line.format(file=place, keys=", ".join(taken)),))
    for exercise in found:
        before = tuple(name for name in exercise.before if name in shipped | own)
        studio.keep_exercise(exercise.key, exercise_file([plain_table(exercise) | {"before": list(before)}]))
    return found


def exercise_file(tables: Sequence[Mapping[str, Any]]) -> str:
    """Return exercises as the text of a file that `read_exercises` reads."""
    return "\n".join(f"[[exercise]]\n{_lines(table)}" for table in tables)


def plain_table(exercise: Exercise) -> dict[str, Any]:
    """Return an exercise as the table that stands for it in a file."""
    told = asdict(exercise)
    words = {
        name: {reader: told[name][reader] for reader in _READERS if told[name][reader]}
        for name in ("say", "listen_for")
    }
    rule = {name: value for name, value in told["pass_rule"].items() if value is not None}
    kept = {name: value for name, value in told.items() if name not in ("pass_rule", "is_own")}
    return kept | words | {"pass": rule}


def form_fields(exercise: Exercise | None = None) -> dict[str, str]:
    """Return the fields of the form that describe an exercise; those of the usual stroke without one."""
    stroke = exercise.stroke if exercise else StrokeSpec()
    rule = exercise.pass_rule if exercise else PassRule()
    fields = {
        "title": exercise.title if exercise else "",
        "aim": exercise.aim if exercise else "",
        "minutes": f"{exercise.minutes if exercise else 3:g}",
        "before": ", ".join(exercise.before) if exercise else "",
        "strings": ", ".join(map(str, stroke.strings)),
        "part": stroke.part,
        "start": rule.start or "",
        "clean_share": f"{100 * rule.clean_share:g}",
        "lasts_share": "" if rule.lasts_share is None else f"{100 * rule.lasts_share:g}",
    }
    for reader in _READERS:
        fields[reader] = getattr(exercise.say, reader) if exercise else ""
        fields[f"listen_{reader}"] = getattr(exercise.listen_for, reader) if exercise else ""
    fields |= {f"trains_{name}": "yes" for name in (exercise.trains if exercise else ())}
    for name in ("beats", "tempo", "semitones", "count"):
        fields[name] = f"{getattr(stroke, name):g}"
    for name in _SPANS:
        begin, end = getattr(stroke, name)
        fields |= {f"{name}_begin": f"{begin:g}", f"{name}_end": f"{end:g}"}
    for name in ("at_least", "of", *_LIMITS):
        value = getattr(rule, name)
        fields[name] = "" if value is None else f"{value:g}"
    return fields


def choices() -> dict[str, list[tuple[str, str]]]:
    """Return what the form offers: aims and parts of the bow, each with its words."""
    parts = {
        "whole": _("whole bow"),
        "lower-half": _("lower half"),
        "upper-half": _("upper half"),
        "middle": _("middle"),
        "frog": _("at the frog"),
        "tip": _("at the tip"),
    }
    return {
        "aims": [(aim, _(words)) for aim, words in AIMS.items()],
        "parts": [(part, parts[part]) for part in PARTS],
    }


def _table(fields: Mapping[str, str]) -> dict[str, Any]:
    """Return the table of a file that says what the fields say; what was left empty is left out."""
    stroke: dict[str, Any] = {
        name: _number(fields[name]) for name in ("beats", "tempo", "semitones", "count") if fields.get(name)
    }
    for name in _SPANS:
        begin, end = fields.get(f"{name}_begin", ""), fields.get(f"{name}_end", "")
        if begin or end:
            stroke[name] = [_number(begin or end), _number(end or begin)]
    stroke["strings"] = [_number(word) for word in fields.get("strings", "").replace(",", " ").split()]
    stroke["part"] = fields.get("part", "whole")
    rule: dict[str, Any] = {
        name: _number(fields[name]) for name in ("at_least", "of", *_LIMITS) if fields.get(name)
    }
    for name in ("clean_share", "lasts_share"):
        if fields.get(name):
            percent = _number(fields[name])
            rule[name] = percent / 100 if isinstance(percent, int | float) else percent
    if fields.get("start"):
        rule["start"] = fields["start"]
    table: dict[str, Any] = {
        "title": _line(fields.get("title", "")),
        "aim": fields.get("aim", ""),
        "trains": [name for name in _VARIABLES if fields.get(f"trains_{name}")],
        "say": {reader: _line(fields[reader]) for reader in _READERS if fields.get(reader)},
        "listen_for": {
            reader: _line(fields[f"listen_{reader}"]) for reader in _READERS if fields.get(f"listen_{reader}")
        },
        "stroke": stroke,
        "pass": rule,
    }
    if fields.get("minutes"):
        table["minutes"] = _number(fields["minutes"])
    if fields.get("before"):
        table["before"] = fields["before"].replace(",", " ").split()
    return table


def _number(text: str) -> float | int | str:
    """Return the number that somebody wrote, with a decimal point or comma; else the text, to be refused."""
    text = text.strip()
    if not _NUMBER.fullmatch(text) or len(text) > 20:
        return text[:40]
    value = float(text.replace(",", "."))
    return int(value) if value == int(value) else value


def _line(text: str) -> str:
    """Return a text on one line in Unicode's composed form, without characters that print nothing."""
    text = unicodedata.normalize("NFC", text)
    kept = "".join(" " if unicodedata.category(c) in {"Cc", "Cs", "Co", "Cn"} else c for c in text)
    return " ".join(kept.split())


def _free_key(title: str, taken: set[str]) -> str:
    """Return a key from a title: small letters, digits and hyphens, not taken."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    stem = "-".join(re.findall(r"[a-z0-9]+", plain))[:60].strip("-") or "exercise"
    numbered = (f"{stem}-{number}" for number in range(2, len(taken) + 3))
    return next(key for key in (stem, *numbered) if key not in taken)


def _lines(table: Mapping[str, Any]) -> str:
    return "".join(f"{name} = {_toml(value)}\n" for name, value in table.items())


def _toml(value: Any) -> str:
    """Return a value as TOML writes it; a JSON string is a TOML string too (TOML 1.0, "String")."""
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{name} = {_toml(one)}" for name, one in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return json.dumps(value, ensure_ascii=False)
