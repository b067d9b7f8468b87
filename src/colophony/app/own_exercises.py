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
from colophony.teaching.exercises.library import CLEAN_SHARE, LASTS_SHARE, library, read_exercises
from colophony.teaching.exercises.reading import Mistake, MistakesError
from colophony.teaching.findings import READERS

if TYPE_CHECKING:
    from colophony.records.studio import Studio

#: Fields of the form with two values, at the beginning and at the end of a bow.
_SPANS = ("points", "weight", "tilt_deg")
_LIMITS = ("level_within_db", "pitch_within_cents", "level_rises_db")
#: Fields of the form in percent, with the limits of the shares that they stand for.
_SHARES = {"clean_share": CLEAN_SHARE, "lasts_share": LASTS_SHARE}
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


def title_of(exercise: Exercise) -> str:
    """Return the title in the language of the moment; a teacher's own stands as it was written."""
    return exercise.title if exercise.is_own else _(exercise.title)


def keep_from_form(studio: Studio, fields: Mapping[str, str], *, key: str | None = None) -> Exercise:
    """Keep the exercise that a form describes, a new one or in place of that with a key.

    Raises `MistakesError` with every mistake, a line each; nothing is kept then.
    """
    own = {kept.key for kept in studio.own_exercises()}
    taken = {exercise.key for exercise in library()} | own
    name = key or _free_key(fields.get("title", ""), taken)
    content = exercise_file([{"key": name} | _table(fields)])
    try:
        (exercise,) = read_exercises(content, place=name, known=taken - {name})
    except MistakesError as error:
        raise MistakesError(tuple(_form_line(one, name, fields) for one in error.found)) from None
    studio.keep_exercise(name, content)
    return exercise


def _form_line(mistake: Mistake, key: str, fields: Mapping[str, str]) -> str:
    """Return a mistake as the form names it: its label, and shares in percent."""
    place = mistake.place.removeprefix(f"{key}.")
    name = place.rpartition(".")[2]
    message = mistake.message
    if name in _SHARES:
        words = _("{value!r} is out of range: choose {least:g} to {most:g}")
        least, most = _SHARES[name]
        message = words.format(value=fields.get(name, "")[:40], least=100 * least, most=100 * most)
    elif place == "aim":
        message = _("is missing: choose one of {choices}").format(choices=", ".join(map(_, AIMS.values())))
    elif place == "trains":
        message = _("needs a list of some of {choices}").format(choices=", ".join(_trainable().values()))
    elif place in ("say", "listen_for") or (place == "title" and not fields.get("title", "").strip()):
        message = _("is missing: write a sentence")
    return _("{label}: {message}").format(label=_form_labels().get(place, place), message=message)


def _form_labels() -> dict[str, str]:
    """Return what the form calls each place of a file."""
    return {
        "title": _("Title"),
        "aim": _("What it is for"),
        "trains": _("It trains"),
        "say": _("What to do"),
        "say.adult": _("For a parent or an older student"),
        "say.child": _("For a child"),
        "say.teacher": _("For a teacher"),
        "listen_for": _("What to listen for"),
        "listen_for.adult": _("A parent or an older student"),
        "listen_for.child": _("A child"),
        "listen_for.teacher": _("A teacher"),
        "stroke.beats": _("Beats in one bow"),
        "stroke.tempo": _("Beats a minute"),
        "stroke.part": _("Part of the bow"),
        "stroke.count": _("Strokes in one go"),
        "stroke.points": _("Sounding point at the beginning of a bow"),
        "stroke.weight": _("Weight at the beginning"),
        "stroke.tilt_deg": _("Tilt at the beginning, in degrees"),
        "stroke.strings": _("Strings, in the order they are played"),
        "stroke.semitones": _("Semitones above the open string"),
        "pass.at_least": _("Strokes that pass"),
        "pass.of": _("Of so many"),
        "pass.clean_share": _("Clean for so much of the time, in percent"),
        "pass.start": _("The start"),
        "pass.level_within_db": _("Loudness swings by at most, in dB"),
        "pass.pitch_within_cents": _("Pitch swings by at most, in cents"),
        "pass.level_rises_db": _("Grows louder by at least, in dB"),
        "pass.lasts_share": _("Lasts so much of its time, in percent"),
        "minutes": _("Minutes for one go"),
        "before": _("Only after these are passed"),
    }


def _trainable() -> dict[str, str]:
    return {
        "speed": _("speed"),
        "weight": _("weight"),
        "distance": _("place"),
        "tilt": _("tilt of the hair"),
    }


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
        name: {reader: told[name][reader] for reader in READERS if told[name][reader]}
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
    for reader in READERS:
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
    """Return what the form offers: variables, aims and parts of the bow, each with its words."""
    parts = {
        "whole": _("whole bow"),
        "lower-half": _("lower half"),
        "upper-half": _("upper half"),
        "middle": _("middle"),
        "frog": _("at the frog"),
        "tip": _("at the tip"),
    }
    return {
        "trainable": list(_trainable().items()),
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
    stroke["strings"] = [
        _number(word) for word in re.split(r"[\s,;\[\]]+", fields.get("strings", "")) if word
    ]
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
        "trains": [name for name in _trainable() if fields.get(f"trains_{name}")],
        "say": {reader: _line(fields[reader]) for reader in READERS if fields.get(reader)},
        "listen_for": {
            reader: _line(fields[f"listen_{reader}"]) for reader in READERS if fields.get(f"listen_{reader}")
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
