"""What a strip beside the string shows: the sounding points of a string at a note, and their wander room."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from colophony.app import bow
from colophony.app.asking import Sounding, Survey, asking, find_sounding
from colophony.app.ranges import points_m
from colophony.errors import InputError
from colophony.language import _

if TYPE_CHECKING:
    from colophony.app.kept_maps import KeptMaps
    from colophony.physics.maps import SpeakingStroke, WanderRoom

#: An ordinary stroke, as `colophony.teaching.room.TYPICAL_SPEED_M_S`.
USUAL_SPEED_CM_S = 20.0
_SPEEDS_CM_S = (1.0, 200.0)
_WEIGHTS_N = (0.02, 20.0)
_PERIODS = 100
_TOLERANCE = 0.03
#: Distances at which the published limits are read where the engine cannot say.
_PUBLISHED = 48


@dataclass(frozen=True, slots=True)
class PointMark:
    """One sounding point on a strip.

    Attributes
    ----------
    number : 1 (at the bridge) to 5 (at the fingerboard's end)
    distance_m : of its middle from the bridge
    weight_n : at which it was asked; None where no weight speaks there
    room_m : nearest and farthest place at which the tone holds with this weight; None where it does not speak
    is_open : nearest, farthest: nothing beyond was tried
    """

    number: int
    distance_m: float
    weight_n: float | None
    room_m: tuple[float, float] | None
    is_open: tuple[bool, bool] = (False, False)


@dataclass(frozen=True, slots=True)
class PointStrip:
    """The marks of one strip; ``is_computed`` is False where the published limits stand in for the engine."""

    sounding: Sounding
    speed_cm_s: float
    marks: tuple[PointMark, ...]
    is_computed: bool

    @property
    def bowable_m(self) -> float:
        """From the bridge to the end of the fingerboard, where it stays whatever note is stopped."""
        return self.sounding.string.bowable_length_m


def find_strip(
    request: bow.Request,
    *,
    speed_cm_s: float = USUAL_SPEED_CM_S,
    weight_n: float | None = None,
    kept: KeptMaps | None = None,
) -> PointStrip:
    """Return the strip of a string and note.

    Parameters
    ----------
    request : instrument, size, string, note, tuning; the rest of the stroke is not looked at
    speed_cm_s : of the bow, 1 to 200
    weight_n : on the string, the same at every point, 0.02 to 20; None takes at each point the middle of the
        weights that speak there
    kept : where computed rooms are kept

    Raises `InputError` for a value out of range or an unknown name.
    """
    _check(speed_cm_s, "cm/s", _SPEEDS_CM_S)
    if weight_n is not None:
        _check(weight_n, "N", _WEIGHTS_N)
    sounding = find_sounding(request)
    key = ""
    if kept is not None:
        content = {"sounding": sounding, "speed_cm_s": speed_cm_s, "weight_n": weight_n}
        key = kept.key("strip", content | {"periods": _PERIODS, "tolerance": _TOLERANCE})
        if (found := kept.find(key)) is not None:
            return PointStrip(sounding, speed_cm_s, _marks(sounding, found, weight_n), is_computed=True)
    try:
        answers = _ask(sounding, speed_cm_s / 100.0, weight_n)
    except InputError:  # the engine cannot play this string
        marks = _published(sounding, speed_cm_s / 100.0, weight_n)
        return PointStrip(sounding, speed_cm_s, marks, is_computed=False)
    if kept is not None:
        kept.keep(key, answers)
    return PointStrip(sounding, speed_cm_s, _marks(sounding, answers, weight_n), is_computed=True)


def _check(value: float, unit: str, limits: tuple[float, float]) -> None:
    if not limits[0] <= value <= limits[1]:
        raise InputError(
            _("{value:g} {unit} is out of range for a strip: choose {least:g} to {most:g} {unit}").format(
                value=value, unit=unit, least=limits[0], most=limits[1]
            )
        )


_Answers = tuple["SpeakingStroke | WanderRoom | None", ...]


def _ask(sounding: Sounding, speed_m_s: float, weight_n: float | None) -> _Answers:
    """Return what the engine finds at each sounding point."""
    from colophony.physics.maps import ask_wander_room, speaking_strokes

    places, frequency_hz = points_m(sounding), sounding.frequency_hz
    with asking(Survey(sounding, _PERIODS)) as ask:
        if weight_n is None:
            return speaking_strokes(
                sounding.string,
                ask,
                distances_m=places,
                speeds_m_s=speed_m_s,
                frequency_hz=frequency_hz,
                tolerance=_TOLERANCE,
            )
        return tuple(
            ask_wander_room(
                sounding.string,
                ask,
                distance_m=place,
                weight_n=weight_n,
                speed_m_s=speed_m_s,
                frequency_hz=frequency_hz,
                tolerance=_TOLERANCE,
            )
            for place in places
        )


def _marks(sounding: Sounding, answers: Any, weight_n: float | None) -> tuple[PointMark, ...]:
    return tuple(
        _mark(number, place, answer, weight_n)
        for number, (place, answer) in enumerate(zip(points_m(sounding), answers, strict=True), start=1)
    )


def _mark(number: int, place_m: float, answer: Any, weight_n: float | None) -> PointMark:
    room = answer if weight_n is not None else answer.wander
    if weight_n is None and answer.speaks:
        weight_n = float(answer.weight_n)
    if room is None:
        return PointMark(number, place_m, weight_n, None)
    is_open = (room.nearest_is_open, room.farthest_is_open)
    return PointMark(number, place_m, weight_n, (room.nearest_m, room.farthest_m), is_open)


def _published(sounding: Sounding, speed_m_s: float, weight_n: float | None) -> tuple[PointMark, ...]:
    """Return the marks by the published limits (Schoonderwaldt, Guettler and Askenfelt 2008)."""
    import numpy as np

    from colophony.physics.maps import closed_form_ranges, contact_distances_m, wander_room

    string, frequency_hz = sounding.string, sounding.frequency_hz
    places = points_m(sounding)
    usual = contact_distances_m(string, frequency_hz=frequency_hz, count=_PUBLISHED)
    every = np.union1d(usual, places)
    ranges = closed_form_ranges(string, speed_m_s=speed_m_s, distances_m=every, frequency_hz=frequency_hz)
    marks = []
    for number, place in enumerate(places, start=1):
        least, greatest = ranges.limits_at(place)
        weight = float(np.sqrt(least * greatest)) if weight_n is None else weight_n
        room = None if np.isnan(weight) else wander_room(ranges, distance_m=place, weight_n=weight)
        if room is None:
            marks.append(PointMark(number, place, weight_n, None))
        else:
            is_open = (room.nearest_is_open, room.farthest_is_open)
            marks.append(PointMark(number, place, weight, (room.nearest_m, room.farthest_m), is_open))
    return tuple(marks)
