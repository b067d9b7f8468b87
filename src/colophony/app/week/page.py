"""The week's sheet as one HTML page that sounds: per exercise what to do, the tone to look for, the failure.

Every tone is a simulation of this instrument's string, and the drawn string is the one that is heard.
"""

from __future__ import annotations

import datetime
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from markupsafe import Markup

from colophony.app.bench.answer import Answer
from colophony.app.bench.pictures import moving, scale_of, sign, string_picture
from colophony.app.bench.setting import Setting
from colophony.app.bow import Bowed
from colophony.app.look.alone import data_address, policy
from colophony.app.look.figures import day
from colophony.app.look.stylesheet import stylesheet
from colophony.app.look.templates import environment
from colophony.app.own_exercises import title_of
from colophony.app.paper.week import asked, week_words
from colophony.app.paper.week_picture import picture_words, target_picture
from colophony.app.paper.week_words import LABELS
from colophony.app.report.sound import MIME
from colophony.app.week.sound import Tones, join_tones
from colophony.app.week.strokes import PlayedExercise, Stroke, play_exercise
from colophony.app.week.words import FAILURE, TARGET, failing_words, target_words
from colophony.errors import InputError
from colophony.language import _, figures
from colophony.physics.strings import strings_of
from colophony.teaching.cautions import CAUTIONS
from colophony.teaching.exercises.exercise import Exercise, Target
from colophony.teaching.exercises.remarks import remark_words
from colophony.teaching.exercises.words import rule_words
from colophony.teaching.findings import READERS, Reader, Say, said
from colophony.teaching.plans import Plan, PlanItem

_HERE = Path(__file__).parent
#: How many times slower the tones and the string are shown; sound and picture alike.
SLOWER = 4
#: Plays an exercise; another one stands in where the engine is not what is asked about.
Player = Callable[..., PlayedExercise]


@dataclass(frozen=True, slots=True)
class _Tone:
    """One tone as the page shows it."""

    title: str
    sign: Markup
    told: Say
    figures: Say
    picture: Markup
    moving: str
    start_s: float
    end_s: float
    kind: str


def make_week_page(
    plan: Plan,
    *,
    student: str | None = None,
    reader: Reader = "adult",
    play: Player = play_exercise,
) -> str:
    """Return the week as one HTML page that works alone and offline.

    Parameters
    ----------
    plan : the week
    student : whose week it is
    reader : in whose words the page opens; the page can switch
    play : what plays an exercise, as `strokes.play_exercise`

    An exercise that the engine cannot play, or plays without the clear tone it asks for, is told without
    sound, and the page says so.
    """
    played = [_played(item.exercise, item.targets[0], plan, play) for item in plan.items]
    strokes = [stroke for one in played if one is not None for stroke in _strokes(one)]
    tones = join_tones(strokes) if strokes else None
    style = stylesheet(fonts=None) + "\n" + (_HERE / "week.css").read_text(encoding="utf-8")
    script = (_HERE / "week.js").read_text(encoding="utf-8") if tones else ""
    page = environment(_HERE / "templates").get_template("week.html.j2")
    told = week_words(plan, reader=reader)
    first = datetime.date.fromordinal(plan.first_day)
    return page.render(
        title=_("The week from {day}").format(day=day(first)),
        student=student,
        told=told,
        reader=reader,
        headline=said(lambda one: _headline(plan, one)),
        items=_items(plan, played, tones),
        cautions=[CAUTIONS[name] for name in plan.cautions],
        sound_address=data_address(tones.content, MIME) if tones else None,
        slower=SLOWER,
        style=Markup(style),
        script=Markup(script),
        policy=policy(style, script),
    )


def _headline(plan: Plan, reader: Reader) -> str:
    """Return what the week is about, in the words of a reader."""
    return " ".join(remark_words(remark, reader) for remark in (plan.change or plan.keep)[:2])


def _played(exercise: Exercise, target: Target, plan: Plan, play: Player) -> PlayedExercise | None:
    """Return an exercise played; None where there is no clear tone to be heard."""
    try:
        played = play(exercise, target, instrument=plan.instrument, size=plan.size)
    except InputError:
        return None
    return played if played.target.bowed.told_state == "helmholtz" else None


def _strokes(played: PlayedExercise) -> list[Stroke]:
    return [played.target] if played.failure is None else [played.target, played.failure]


def _items(plan: Plan, played: list[PlayedExercise | None], tones: Tones | None) -> list[dict[str, Any]]:
    strings = [string.name for string in strings_of(plan.instrument, plan.size)]
    spans = iter(tones.spans_s if tones else ())
    rows = []
    for item, one in zip(plan.items, played, strict=True):
        shown = [] if one is None else _tones(one, spans)
        rows.append(_item(item, plan, strings) | {"tones": shown})
    return rows


def _item(item: PlanItem, plan: Plan, strings: list[str]) -> dict[str, Any]:
    exercise = item.exercise
    return {
        "title": title_of(exercise),
        "do": exercise.say,
        "asked": {reader: _rows(item, reader) for reader in READERS},
        "passed": said(lambda reader: rule_words(exercise.pass_rule, reader)),
        "why": said(lambda reader: " ".join(remark_words(remark, reader) for remark in item.why)),
        "minutes": _("{minutes} min").format(minutes=figures(f"{item.minutes:g}")),
        "picture": Markup(
            target_picture(item.targets, strings, turned=plan.instrument == "cello", theme=None)
        ),
        "alt": picture_words(item.targets),
    }


def _rows(item: PlanItem, reader: Reader) -> list[dict[str, str]]:
    """Return what is asked and what to listen for, as (name, words)."""
    listen = {"name": LABELS["listen"].to(reader), "words": item.exercise.listen_for.to(reader)}
    return [*asked(item.targets, reader), listen]


def _tones(played: PlayedExercise, spans: Any) -> list[_Tone]:
    strokes = _strokes(played)
    answers = [Answer(_setting(stroke.bowed), stroke.bowed) for stroke in strokes]
    scale = scale_of(answers)
    tones = []
    for stroke, answer in zip(strokes, answers, strict=True):
        start, end = next(spans)
        tones.append(
            _Tone(
                title=_(TARGET) if stroke.is_target else _(FAILURE),
                sign=sign(answer.state, answer.word, size=18),
                told=said(stroke.bowed.says),
                figures=target_words(stroke) if stroke.is_target else failing_words(stroke, played.target),
                picture=string_picture(answer, scale),
                moving=json.dumps(moving(answer, scale), separators=(",", ":")),
                start_s=start,
                end_s=end,
                kind="target" if stroke.is_target else "failure",
            )
        )
    return tones


def _setting(bowed: Bowed) -> Setting:
    """Return a stroke as the bench names it, for its pictures."""
    request = bowed.request
    assert request.distance_mm is not None
    assert request.weight_n is not None
    return Setting(
        request.instrument,
        request.size,
        bowed.string.name,
        "" if request.note in (None, bowed.string.note) else str(request.note),
        request.distance_mm,
        request.speed_cm_s,
        request.weight_n,
        request.tilt_deg,
    )
