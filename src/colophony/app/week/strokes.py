"""The engine plays an exercise: as it is meant, and as it usually fails.

A failure is sought, not assumed: of the ways in which an exercise usually fails, each a little worse from try
to try, the first is taken that the string itself answers with another state, or with a start that players
do not accept.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal

import numpy as np

from colophony.app.bow import Bowed, Request, bow, settle
from colophony.errors import InputError
from colophony.physics.strings import find_string
from colophony.teaching.exercises.exercise import Aim, Exercise, Target, TargetPlace

#: What goes wrong: a word for each way.
Failing = Literal[
    "too-heavy", "too-light", "too-near", "weight-stays", "place-stays", "bow-stops", "creeps-in"
]
#: How each kind of exercise usually fails, the likeliest first. Common practice, no source.
USUAL: Mapping[Aim, tuple[Failing, ...]] = MappingProxyType(
    {
        "hold-point": ("too-near", "too-light", "too-heavy"),
        "move-between-points": ("weight-stays", "too-near", "too-light", "too-heavy"),
        "long-slow": ("bow-stops", "too-heavy"),
        "fast-light": ("too-light", "too-heavy"),
        "clean-start": ("creeps-in", "too-heavy"),
        "crescendo": ("weight-stays", "too-light", "too-heavy"),
        "wander": ("too-near", "too-light", "too-heavy"),
        "crossing": ("too-light", "too-heavy"),
        "high-position": ("place-stays", "too-light", "too-heavy"),
        "tilt": ("too-light", "too-heavy"),
        "reference": ("too-heavy", "too-light"),
    }
)

#: How long a stroke is heard, s, and one that moves; tried for so long, and at least so many vibrations.
SECONDS, MOVING_SECONDS = 1.5, 2.8
#: A stroke that moves stays where it begins for the first of these, where it ends for the second, s.
_STAYS_S = (0.3, 0.7)
_TRIED_S, _TRIED_PERIODS = 0.35, 60
_NEAREST_MM, _MOST_N = 3.0, 20.0
_SLOWEST_CM_S = 0.5
#: From the edge of the range on: how much worse each try is. Chosen.
_WORSE = (1.3, 1.7, 2.3, 3.2)
_LESS = (0.75, 0.55, 0.4, 0.25)
#: Shapes of the string over two vibrations.
_FRAMES = 240
_WHOLLY = 7  # sings, from a start that is accepted and clean
_STARTS_MS = (150.0, 300.0, 600.0, 900.0)


@dataclass(frozen=True, slots=True, eq=False)
class Stroke:
    """One stroke as the engine played it; ``failing`` is None for the target, else what was done wrong."""

    bowed: Bowed
    failing: Failing | None = None

    @property
    def is_target(self) -> bool:
        """Whether it is the tone to look for."""
        return self.failing is None


@dataclass(frozen=True, slots=True, eq=False)
class PlayedExercise:
    """The target of an exercise on its first string, and its usual failure where one was found."""

    target: Stroke
    failure: Stroke | None


def play_exercise(exercise: Exercise, target: Target, *, instrument: str, size: str) -> PlayedExercise:
    """Return an exercise played by the engine on one string.

    A stroke that moves is tried where it ends, which is where it is hardest to keep, and heard as a whole.
    Raises `InputError` for what the engine cannot play.
    """
    good = _best_start(_request(target, target.end, instrument, size))
    heard = _moving(good, good.request, target) if _moves(target) else _steady(good.request)
    if heard is None or heard.told_state != good.told_state:
        heard = good
    for moves in (True, False) if _moves(target) else (False,):
        for failing in USUAL[exercise.aim]:
            for tried in _tries(failing, target, good.request):
                short = _tried(tried)
                if short is None or (short.told_state == "helmholtz" and not _fails(short, moves=moves)):
                    continue  # what speaks from rest speaks on in a stroke that comes there
                failed = _moving(good, tried, target) if moves else _steady(tried)
                if failed is not None and _fails(failed, moves=moves):
                    return PlayedExercise(Stroke(heard), Stroke(failed, failing))
    return PlayedExercise(Stroke(heard), None)


def _fails(bowed: Bowed, *, moves: bool) -> bool:
    """Whether a stroke did not end as it should, or, where it stays in one place, did not begin so.

    A string that creeps (told as hair noise) often has a pitch still, thin and weak: no failure that a parent
    would tell from the target by its name.
    """
    if bowed.told_state == "helmholtz":
        return not moves and bowed.start.accepted is False
    return bowed.told_state != "noise"


def _request(target: Target, place: TargetPlace, instrument: str, size: str) -> Request:
    string = find_string(instrument, size, target.string)
    return settle(
        Request(
            instrument=instrument,
            size=size,
            string=target.string,
            note=None if target.note == string.note else target.note,
            distance_mm=round(place.distance_mm, 1),
            speed_cm_s=max(_SLOWEST_CM_S, target.speed_cm_s),
            weight_n=place.weight_n,
            tilt_deg=abs(target.tilt_deg[1]),
        ),
        string,
    )


def _best_start(meant: Request) -> Bowed:
    """Return the target with a start that players accept, if one of a few lengths gives it."""
    assert meant.start_ms is not None
    best, best_fits = None, -1
    for factor in (1.0, 0.7, 1.4, 0.5, 2.0):
        tried = _tried(replace(meant, start_ms=max(5.0, float(round(meant.start_ms * factor)))))
        if tried is None:
            continue
        sings, start = tried.told_state == "helmholtz", tried.start
        fits = 4 * sings + 2 * (start.accepted is not False) + (start.kind == "clean")
        if fits > best_fits:
            best, best_fits = tried, fits
        if fits == _WHOLLY:
            break
    return bow(meant) if best is None else best


def _tries(failing: Failing, target: Target, good: Request) -> Iterator[Request]:
    """Yield strokes that fail in one way, each worse than the one before."""
    place, first = target.end, target.begin
    least, greatest = place.weight_span_n
    if failing == "too-heavy":
        yield from _weights(good, greatest, _WORSE)
    elif failing == "too-light":
        yield from _weights(good, least, _LESS)
    elif failing == "weight-stays":
        if first.weight_n < place.weight_n:
            for tried in _weights(good, first.weight_n, (1.0, *_LESS)):
                if (tried.weight_n or 0.0) >= first.weight_span_n[0]:  # lighter would not speak at the begin
                    yield tried
    elif failing == "too-near":
        nearest = (place.distance_span_mm or (0.6 * place.distance_mm, 0.0))[0]
        for share in (0.95, 0.85, 0.75, 0.65, 0.55, 0.45, 0.35):
            if (distance := round(nearest * share, 1)) >= _NEAREST_MM:
                yield replace(good, distance_mm=distance)
    elif failing == "place-stays":
        if place.distance_open_mm > 1.05 * place.distance_mm:
            far = replace(good, distance_mm=round(place.distance_open_mm, 1))
            yield far
            yield from _weights(far, place.weight_n, (*_WORSE, *_LESS))
    elif failing == "bow-stops":
        for share in (0.6, 0.4, 0.25, 0.15):
            yield replace(good, speed_cm_s=max(_SLOWEST_CM_S, float(f"{good.speed_cm_s * share:.3g}")))
    elif failing == "creeps-in":
        for start_ms in _STARTS_MS:
            for weight in (place.weight_n, min(greatest, 1.5 * place.weight_n)):
                yield replace(good, start_ms=start_ms, weight_n=weight)


def _weights(good: Request, weight_n: float, factors: Sequence[float]) -> Iterator[Request]:
    for factor in factors:
        yield replace(good, weight_n=float(f"{min(weight_n * factor, _MOST_N):.2g}"))


def _tried(request: Request, *, least_s: float = _TRIED_S) -> Bowed | None:
    assert request.start_ms is not None
    hertz = find_string(request.instrument, request.size, request.string or "A").open_frequency_hz
    seconds = request.start_ms / 1000.0 + max(least_s, _TRIED_PERIODS / hertz)
    try:
        bowed = bow(replace(request, seconds=math.ceil(100.0 * seconds) / 100.0))
    except InputError:
        return None
    return bowed if np.isfinite(bowed.motion.bridge_force_n).all() else None


def _steady(request: Request) -> Bowed | None:
    """Return a stroke as long as it is heard; None where it cannot be played."""
    return _tried(request, least_s=SECONDS)


def _moves(target: Target) -> bool:
    begin, end = target.begin, target.end
    places = ((begin.distance_mm, end.distance_mm), (begin.weight_n, end.weight_n), target.tilt_deg)
    return any(abs(one - other) > 0.01 * max(abs(one), abs(other)) for one, other in places)


def _moving(good: Bowed, wanted: Request, target: Target) -> Bowed | None:
    """Return a stroke on the string of a good one that begins where the target begins and ends as wanted.

    None where it cannot be played.
    """
    from colophony.physics.gestures import Curve
    from colophony.physics.gestures import Stroke as Gesture
    from colophony.physics.regimes import read_motion, read_start
    from colophony.physics.simulation import simulate

    request, begin = replace(wanted, seconds=MOVING_SECONDS), target.begin
    assert request.distance_mm is not None
    assert request.weight_n is not None
    assert request.start_ms is not None
    times = (_STAYS_S[0], MOVING_SECONDS - _STAYS_S[1])
    speed = Curve((0.0, request.start_ms / 1000.0), (0.0, request.speed_cm_s / 100.0))
    # A weight that stays behind does not begin heavier than it ends.
    weight = min(begin.weight_n, request.weight_n) if begin.weight_n < target.end.weight_n else begin.weight_n
    motion = simulate(
        good.instrument,
        good.string,
        Gesture(
            speed,
            Curve(times, (weight, request.weight_n)),
            Curve(times, (begin.distance_mm / 1000.0, request.distance_mm / 1000.0)),
            Curve(times, (abs(target.tilt_deg[0]), request.tilt_deg)),
        ),
        frequency_hz=good.frequency_hz,
        seconds=MOVING_SECONDS,
        frames=_FRAMES,
    )
    if not np.isfinite(motion.bridge_force_n).all():
        return None
    return Bowed(request, good.instrument, good.string, motion, read_motion(motion), read_start(motion))
