"""Use case: hear a take and say what to do about it. Command line and pages come through here."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from colophony.errors import InputError
from colophony.language import _
from colophony.listening.take import Direction, Instrument, Stroke
from colophony.teaching.findings import Findings

if TYPE_CHECKING:
    from colophony.app.kept_maps import KeptMaps
    from colophony.listening.colour import Reference
    from colophony.teaching.exercises.exercise import StrokeSpec
    from colophony.teaching.own_sound import Comparison
    from colophony.teaching.reference import MarkedStroke


@dataclass(frozen=True, slots=True)
class Request:
    """What is known of a take before it is heard; see `colophony.listening.listen.listen`.

    ``reference_strokes`` are strokes of this player that the teacher accepts, ``marked`` those of them that
    were played at marked places. With these it counts whether every stroke is a whole bow, whether the
    microphone lies where it lay for them, and which sounding point was asked for.
    """

    instrument: Instrument | None = None
    size: str = "4/4"
    string: str | None = None
    a4_hz: float | None = None
    reference_strokes: tuple[Stroke, ...] = ()
    expect: tuple[str, ...] = ()
    first_bow: Direction | None = None
    marked: tuple[MarkedStroke, ...] = ()
    whole_bows: bool = False
    same_microphone: bool = False
    point: float = 3.0


def hear(
    path: Path,
    request: Request,
    *,
    progress: Callable[[float], None] | None = None,
    kept: KeptMaps | None = None,
) -> Findings:
    """Hear a recording and judge it. Raises `TakeError` or `InputError` with one line for a person.

    ``kept`` holds what was computed for the advice of earlier takes, and keeps what this one asks for.
    """
    from colophony.app.rooms import ask_rooms
    from colophony.listening.listen import listen
    from colophony.teaching.advice import judge

    take = listen(
        path,
        instrument=request.instrument,
        size=request.size,
        string=request.string,
        a4_hz=request.a4_hz,
        reference=_reference(request),
        expect=request.expect,
        first_bow=request.first_bow,
        progress=progress,
    )
    return judge(
        take,
        instrument=request.instrument,
        size=request.size,
        string=request.string,
        rooms=ask_rooms(kept),
        comparison=_comparison(request),
    )


def _reference(request: Request) -> Reference | None:
    from colophony.listening.colour import make_reference

    if not request.reference_strokes and not request.marked:
        return None
    marked = [one.stroke for one in request.marked]
    places: dict[tuple[str, float], list[Stroke]] = {}
    for one in request.marked:
        places.setdefault((one.mark.string, one.mark.distance_mm), []).append(one.stroke)
    anywhere = [stroke for stroke in request.reference_strokes if stroke not in marked]
    return make_reference(anywhere, places=places.values())


def _comparison(request: Request) -> Comparison | None:
    from colophony.teaching.own_sound import Comparison, find_own_sound

    if not request.marked:
        return None
    own = find_own_sound(request.marked)
    return Comparison(own, request.point, request.whole_bows, request.same_microphone)


def for_stroke(request: Request, asked: StrokeSpec) -> Request:
    """Return the request for a take in which an exercise's stroke was asked: whole bows, and the place."""
    return replace(
        request, whole_bows=request.whole_bows or asked.part == "whole", point=float(asked.points[0])
    )


def listen_references(paths: Sequence[Path], request: Request) -> tuple[Stroke, ...]:
    """Hear reference takes and return the strokes that later takes are compared with."""
    from colophony.listening.colour import make_reference
    from colophony.listening.listen import listen

    strokes: list[Stroke] = []
    for path in paths:
        take = listen(path, instrument=request.instrument, size=request.size, a4_hz=request.a4_hz)
        strokes += make_reference(take.strokes).strokes
    return tuple(strokes)


def with_direction(findings: Findings, number: int, bow: Direction) -> Findings:
    """Return findings in which stroke ``number`` (from 0) goes ``bow``, and the others as their ``way`` says.

    Ways compare strokes of one note only (see `colophony.listening.take.Stroke`), so strokes of other notes
    stay as they are. Raises `InputError` when there is no such stroke.
    """
    strokes = findings.take.strokes
    if number >= len(strokes):
        line = _("There is no stroke {number} in this take: it has {n}.")
        raise InputError(line.format(number=number + 1, n=len(strokes)))
    named = strokes[number]
    other: Direction = "up" if bow == "down" else "down"

    def bow_of(stroke: Stroke) -> Direction | None:
        if stroke is named:
            return bow
        if stroke.note != named.note or stroke.way is None or named.way is None:
            return stroke.bow
        return bow if stroke.way == named.way else other

    changed = tuple(replace(stroke, bow=bow_of(stroke)) for stroke in strokes)
    return replace(findings, take=replace(findings.take, strokes=changed))
