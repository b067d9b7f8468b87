"""Use case: a score in, the bow plan of one part out."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from colophony.app.score.reading import read_part
from colophony.app.score.rooms import asking_rooms
from colophony.app.score.values import PlannedScore, Request, Score
from colophony.errors import InputError
from colophony.language import _
from colophony.physics.bows import find_bow
from colophony.teaching.findings import Reader
from colophony.teaching.score import words
from colophony.teaching.score.piece import Part
from colophony.teaching.score.placing import AskRoom, hold, published_room
from colophony.teaching.score.planning import make_plan
from colophony.teaching.score.sketch import Setting
from colophony.teaching.score.strokes import Alternative, Stroke

if TYPE_CHECKING:
    from colophony.app.kept_maps import KeptMaps

#: What a plan may ask for.
BOW_LIMITS_MM = (200.0, 800.0)
TEMPO_LIMITS = (20.0, 400.0)
A4_LIMITS_HZ = (380.0, 480.0)

#: Told what is done, of how much, and of what: a key of `STAGES`.
Progress = Callable[[str, int, int], None]
STAGES = ("maps", "strokes")


def plan_score(
    score: Score,
    request: Request,
    *,
    kept: KeptMaps | None = None,
    computed: bool = True,
    progress: Progress | None = None,
) -> PlannedScore:
    """Return the bow plan of a part of a score.

    Parameters
    ----------
    score : from `opening.read_score`
    request : part, instrument, bow and tempo
    kept : where the maps of strings are kept; None keeps none
    computed : ask the string itself how much room it has; False goes by the published limits, at once
    progress : told after every map and every stroke

    Raises `InputError` with one line: no such part, a value out of range, an unknown instrument or size.
    """
    check(request)
    part = read_part(score, request.part, instrument=request.instrument)
    return plan_part(score, part, request, kept=kept, computed=computed, progress=progress)


def plan_part(
    score: Score,
    part: Part,
    request: Request,
    *,
    kept: KeptMaps | None = None,
    computed: bool = True,
    progress: Progress | None = None,
) -> PlannedScore:
    """Return the plan of a part that was read before; otherwise as `plan_score`."""
    from colophony.physics.instruments import find_instrument

    check(request)
    instrument = find_instrument(request.instrument, request.size, a4_hz=request.a4_hz)
    bow_mm = request.bow_mm or 1000.0 * find_bow(request.instrument, request.size).hair_length_m
    setting = Setting(instrument.strings, bow_mm, request.a4_hz, request.tempo)
    held = {hold(event, instrument.strings, a4_hz=request.a4_hz) for event in part.events if event.pitches}
    if not any(one.strings for one in held):
        raise InputError(
            _("no note of {part} lies on a {instrument}: choose another part or instrument").format(
                part=part.name, instrument=instrument.name
            )
        )

    def told(stage: str) -> Callable[[int, int], None] | None:
        if progress is None:
            return None
        return lambda done, whole: progress(stage, done, whole)

    ask: AskRoom = published_room
    if computed:
        notes = {
            (string.name, hertz)
            for one in held
            for string, hertz in zip(one.strings, one.frequencies_hz, strict=True)
        }
        ask = asking_rooms(instrument, kept=kept, expected=notes, progress=told("maps"))
    return PlannedScore(request, score, part, make_plan(part, setting, ask=ask, progress=told("strokes")))


def check(request: Request) -> None:
    """Raise `InputError` for the first value of a request that is out of range."""
    find_bow(request.instrument, request.size)
    limits = (
        (
            request.bow_mm,
            BOW_LIMITS_MM,
            _("a bow of {value} mm of hair is out of range: give {low} to {high}"),
        ),
        (
            request.tempo,
            TEMPO_LIMITS,
            _("a tempo of {value} is out of range: give {low} to {high} quarter notes a minute"),
        ),
        (request.a4_hz, A4_LIMITS_HZ, _("a tuning of {value} Hz is out of range: give {low} to {high}")),
    )
    for value, (low, high), message in limits:
        if value is not None and not low <= value <= high:
            raise InputError(message.format(value=f"{value:g}", low=f"{low:g}", high=f"{high:g}"))


def planned_to_json(planned: PlannedScore, *, reader: Reader = "teacher") -> dict[str, Any]:
    """Return a plan as plain JSON values; ``docs/score.schema.json`` describes it."""
    plan = planned.plan
    return {
        "title": planned.score.title,
        "part": plan.part,
        "parameters": {
            "instrument": plan.instrument,
            "size": plan.size,
            "bow_mm": round(plan.bow_mm, 1),
            "tempo": round(plan.quarters_per_minute, 2),
            "tempo_is_given": plan.is_tempo_given,
            "a4_hz": planned.request.a4_hz,
        },
        "strokes": [_stroke(stroke, reader) for stroke in plan.strokes],
        "warnings": [words.remark(one, reader=reader) for one in plan.remarks],
    }


def _stroke(stroke: Stroke, reader: Reader) -> dict[str, Any]:
    bowed = not stroke.is_plucked
    return {
        "measure": stroke.measure,
        "time_through": stroke.passing,
        "beat": round(stroke.beat, 3),
        "direction": stroke.direction if bowed else None,
        "given": stroke.is_given,
        "rule": stroke.rule,
        "retake": stroke.is_retake,
        "linked": stroke.is_linked,
        "notes": list(stroke.notes),
        "note_ids": list(stroke.element_ids),
        "dynamic": stroke.dynamic,
        "string": stroke.string or None,
        "seconds": round(stroke.seconds, 3),
        "hair_used_mm": round(stroke.hair_used_mm, 1) if bowed else None,
        "speed_cm_s": round(stroke.speed_cm_s, 2) if bowed else None,
        "start_at_mm": round(stroke.start_at_mm, 1) if bowed else None,
        "end_at_mm": round(stroke.end_at_mm, 1) if bowed else None,
        "sounding_point": round(stroke.sounding_point, 2) if bowed else None,
        "distance_mm": round(stroke.distance_mm, 1) if bowed else None,
        "weight_n": round(stroke.weight_n, 3) if bowed else None,
        "range_db": None if stroke.range_db is None else round(stroke.range_db, 1),
        "tilt_deg": round(stroke.tilt_deg, 1) if bowed else None,
        "changes": list(stroke.means),
        "path": [
            {
                "share": round(moment.share, 3),
                "at_mm": round(moment.at_mm, 1),
                "speed_cm_s": round(moment.speed_cm_s, 2),
                "weight_n": round(moment.weight_n, 3),
                "sounding_point": round(moment.sounding_point, 2),
            }
            for moment in stroke.path
        ],
        "warnings": [words.remark(one, reader=reader) for one in stroke.remarks],
        "alternatives": [_alternative(one, stroke, reader) for one in stroke.alternatives],
    }


def _alternative(one: Alternative, stroke: Stroke, reader: Reader) -> dict[str, Any]:
    return {
        "change": one.change,
        "after_notes": list(one.after_notes),
        "bows": one.bows,
        "start_at_mm": None if one.start_at_mm is None else round(one.start_at_mm, 1),
        "sounding_point": one.sounding_point,
        "tempo": one.tempo,
        "remaining": one.remaining,
        "say": words.alternative(one, stroke, reader=reader),
    }
