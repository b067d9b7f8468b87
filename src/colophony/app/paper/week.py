"""The week's sheet: what to play on which day, how it should sound, when it is passed, and why.

One or two pages for the music stand; with large print as many as it takes. Set by Typst from ``week.typ``,
see `typeset`.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from colophony.app.look import INK
from colophony.app.look.figures import day
from colophony.app.own_exercises import title_of
from colophony.app.paper.strip import newtons
from colophony.app.paper.typeset import Paper, clean_name, look, typeset, write_pdf
from colophony.app.paper.week_picture import SAVING, picture_words, target_picture
from colophony.app.paper.week_words import (
    BOW,
    HAIR,
    LABELS,
    PLACE,
    ROLES,
    SPEED,
    WEEKDAYS,
    WEIGHT,
)
from colophony.app.paper.words import NAME_BY_HAND
from colophony.app.phrases import capital
from colophony.language import _, figures
from colophony.physics.strings import strings_of
from colophony.teaching.cautions import caution
from colophony.teaching.exercises.exercise import Target
from colophony.teaching.exercises.remarks import remark_words
from colophony.teaching.exercises.words import (
    place_words,
    rule_words,
    speed_words,
    string_words,
    stroke_words,
    tilt_words,
    weight_words,
)
from colophony.teaching.findings import Reader
from colophony.teaching.plans import Plan, PlanItem
from colophony.teaching.wording import hand_weight

_TEMPLATE = Path(__file__).with_name("week.typ")
#: Large print begins at 16 points (common practice, no source): the text's 11 times this.
LARGE = 1.5
#: Scales to try, and on how many pages all must fit then; 0 is any number.
_TRIES = (
    *((scale, 1) for scale in (1.0, 0.96, 0.92)),
    *((scale, 2) for scale in (1.0, 0.96, 0.92, 0.88, 0.84, 0.8)),
    (0.8, 0),
)
_DAYS = 7


def make_week_sheet(
    plan: Plan,
    out: Path,
    *,
    student: str | None,
    reader: Reader = "adult",
    large_print: bool = False,
    save_ink: bool = False,
    next_lesson: datetime.date | None = None,
    paper: Paper = "a4",
) -> None:
    """Write the week's sheet as a PDF.

    Parameters
    ----------
    plan : the week
    out : the file to write, replaced when it exists
    student : the name at the top, any text; a line to write on when None
    reader : in whose words
    large_print : text of 16 points and more, on as many pages as that takes
    save_ink : outlines in place of surfaces, thinner lines
    next_lesson : shown at the top when given
    paper : "a4" (ISO 216) or "us-letter"

    Raises `InputError` when the extra ``paper`` is not installed or the file cannot be written.
    """
    told = week_words(plan, reader=reader, save_ink=save_ink, next_lesson=next_lesson)
    told |= {
        "student": clean_name(student),
        "paper": paper,
        "tries": [(LARGE, 0)] if large_print else _TRIES,
        "large": large_print,
        "save_ink": save_ink,
    }
    if large_print:
        told["look"]["sizes"]["small"] = told["look"]["sizes"]["text"]  # nothing is smaller than the text
    date = datetime.date.fromordinal(plan.first_day)
    pdf = typeset(_TEMPLATE, told, date=date)
    if pdf is None and told["student"]:
        told |= {"student": "", "name_note": NAME_BY_HAND.to(reader)}
        pdf = typeset(_TEMPLATE, told, date=date)
    write_pdf(pdf, out)


def week_words(
    plan: Plan, *, reader: Reader, save_ink: bool = False, next_lesson: datetime.date | None = None
) -> dict[str, Any]:
    """Return all that the sheet says and draws, as plain JSON values; pictures are SVG text."""
    first = datetime.date.fromordinal(plan.first_day)
    last = first + datetime.timedelta(days=_DAYS - 1)
    theme = SAVING if save_ink else INK
    labels = {key: words.to(reader) for key, words in LABELS.items()}
    return {
        "reader": reader,
        "labels": labels,
        "week": _("{first} to {last}").format(first=day(first), last=day(last)),
        "next_lesson": day(next_lesson) if next_lesson else "",
        "instrument": _("{instrument} {size}").format(instrument=capital(_(plan.instrument)), size=plan.size),
        "minutes": _("{minutes} minutes a day, rests and all").format(minutes=_number(plan.minutes_a_day)),
        "headline": _headline(plan, reader),
        "keep": " ".join(remark_words(remark, reader) for remark in plan.keep),
        "invented": labels["invented"] if plan.is_invented and not _says_so(plan) else "",
        "items": [_item(item, plan, reader, theme) for item in plan.items],
        "weekdays": [_weekday(first + datetime.timedelta(days=k)) for k in range(_DAYS)],
        "cautions": [caution(name, reader=reader) for name in plan.cautions],
        "name_note": "",
        "look": look(),
    }


def _says_so(plan: Plan) -> bool:
    """Whether the plan's own words say already that nobody was heard."""
    return any(remark.kind == "nothing-heard" for remark in (*plan.keep, *plan.change))


def _headline(plan: Plan, reader: Reader) -> str:
    """Return what to work on, else what to keep, in one or two sentences."""
    remarks = plan.change or plan.keep
    return " ".join(remark_words(remark, reader) for remark in remarks[:2])


def _item(item: PlanItem, plan: Plan, reader: Reader, theme: Any) -> dict[str, Any]:
    exercise = item.exercise
    strings = [string.name for string in strings_of(plan.instrument, plan.size)]
    return {
        "title": title_of(exercise),
        "role": ROLES[item.role].to(reader),
        "minutes": _("{minutes} min").format(minutes=_number(item.minutes)),
        "rest": _("then {minutes} min rest").format(minutes=_number(item.rest_minutes))
        if item.rest_minutes
        else "",
        "do": exercise.say.to(reader),
        "asked": asked(item.targets, reader),
        "listen": exercise.listen_for.to(reader),
        "passed": rule_words(exercise.pass_rule, reader),
        "why": " ".join(remark_words(remark, reader) for remark in item.why),
        "picture": target_picture(item.targets, strings, turned=plan.instrument == "cello", theme=theme),
        "alt": picture_words(item.targets),
        "days": [number in item.days for number in range(1, _DAYS + 1)],
    }


def asked(targets: Sequence[Target], reader: Reader) -> list[dict[str, str]]:
    """Return what is asked as (name, words): bow, place, weight, hair; a teacher reads the speed too.

    Of several strings the words that differ are told for each.
    """
    first = targets[0]
    rows = [
        (_(BOW), [_joined(string_words(one) for one in targets), stroke_words(first)]),
        (_(PLACE), [_places(targets, reader)]),
        (_(WEIGHT), [_weights(targets, reader)]),
        (_(HAIR), [tilt_words(first)]),
    ]
    if reader == "teacher":
        rows.append((_(SPEED), [speed_words(first)]))
    rest = [remark_words(remark, reader) for one in targets for remark in one.instead]
    if rest:
        rows[1][1].extend(dict.fromkeys(rest))
    return [{"name": name, "words": " ".join(words)} for name, words in rows]


def _joined(told: Any) -> str:
    return " ".join(dict.fromkeys(told))


def _by_string(targets: Sequence[Target], say: Any) -> str:
    """Return one text where all strings share it, else one a string, the string's letter before it."""
    told = {one.string: say(one) for one in targets}
    if len(set(told.values())) == 1:
        return str(say(targets[0]))
    line = _("{string}: {words}")
    return " ".join(line.format(string=string, words=words) for string, words in told.items())


def _places(targets: Sequence[Target], reader: Reader) -> str:
    """Return where the bow runs; strings with one place are told together, with the room that all have."""
    first = targets[0]
    places = {one.begin.distance_mm for one in targets} | {one.end.distance_mm for one in targets}
    if len(targets) == 1 or len(places) > 1:
        return _by_string(targets, lambda one: " ".join(place_words(one, reader)))
    spans = [one.begin.distance_span_mm for one in targets]
    known = [span for span in spans if span is not None]
    shared = (max(span[0] for span in known), min(span[1] for span in known)) if known == spans else None
    place = replace(first.begin, distance_span_mm=shared)
    return " ".join(place_words(replace(first, places=(place,)), reader))


def _weights(targets: Sequence[Target], reader: Reader) -> str:
    """Return the weight; of several strings in short, those of one weight together."""
    if len({one.string for one in targets}) == 1 or any(len(one.places) > 1 for one in targets):
        return _by_string(targets, lambda one: " ".join(weight_words(one, reader)))
    by_weight: dict[str, list[str]] = {}
    for one in targets:
        weight = newtons(one.begin.weight_n) if reader == "teacher" else hand_weight(one.begin.weight_n)
        strings = by_weight.setdefault(weight, [])
        if one.string not in strings:
            strings.append(one.string)
    if len(by_weight) == 1 and reader != "teacher":
        return " ".join(weight_words(targets[0], reader))
    line = _("{strings}: {weight}.")
    return " ".join(
        line.format(strings=", ".join(strings), weight=weight) for weight, strings in by_weight.items()
    )


def _weekday(date: datetime.date) -> dict[str, str]:
    return {"name": _(WEEKDAYS[date.weekday()]), "day": str(date.day)}


def _number(value: float) -> str:
    return figures(f"{value:g}")


__all__ = ["LARGE", "asked", "make_week_sheet", "week_words"]
