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
        "move-between-points": ("weight-stays", "too-near", "too-light"),
        "long-slow": ("bow-stops", "too-heavy"),
        "fast-light": ("too-light", "too-heavy"),
        "clean-start": ("creeps-in", "too-heavy"),
        "crescendo": ("weight-stays", "too-light", "too-heavy"),
        "wander": ("too-near", "too-light"),
        "crossing": ("too-light", "too-heavy"),
        "high-position": ("place-stays", "too-light", "too-heavy"),
        "tilt": ("too-light", "too-heavy"),
        "reference": ("too-heavy", "too-light"),
    }
)

#: How long a stroke is heard, s; tried for so long, and at least so many vibrations.
SECONDS = 1.5
_TRIED_S, _TRIED_PERIODS = 0.35, 60
_NEAREST_MM, _MOST_N = 3.0, 20.0
_SLOWEST_CM_S = 0.5
#: From the edge of the range on: how much worse each try is. Chosen.
_WORSE = (1.3, 1.7, 2.3, 3.2)
_LESS = (0.75, 0.55, 0.4, 0.25)
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

    A stroke that moves is played where it ends, which is where it is hardest to keep. Raises `InputError` for
    what the engine cannot play.
    """
    meant = _request(target, target.end, instrument, size)
    played = _best_start(meant)
    for failing in USUAL[exercise.aim]:
        for tried in _tries(failing, target, played.request):
            failed = _failed(tried)
            if failed is not None:
                return PlayedExercise(Stroke(_heard(played)), Stroke(_heard(failed), failing))
    return PlayedExercise(Stroke(_heard(played)), None)


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
            yield from _weights(good, first.weight_n, (1.0, *_LESS))
    elif failing == "too-near":
        nearest = (place.distance_span_mm or (0.6 * place.distance_mm, 0.0))[0]
        for share in (0.85, 0.7, 0.55, 0.4):
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


def _failed(request: Request) -> Bowed | None:
    """Return a stroke that did not sound as it should; None where it did, or cannot be played."""
    tried = _tried(request)
    if tried is None:
        return None
    if tried.told_state != "helmholtz":
        return tried
    return tried if tried.start.accepted is False else None


def _tried(request: Request) -> Bowed | None:
    assert request.start_ms is not None
    hertz = find_string(request.instrument, request.size, request.string or "A").open_frequency_hz
    seconds = request.start_ms / 1000.0 + max(_TRIED_S, _TRIED_PERIODS / hertz)
    try:
        bowed = bow(replace(request, seconds=math.ceil(100.0 * seconds) / 100.0))
    except InputError:
        return None
    return bowed if np.isfinite(bowed.motion.bridge_force_n).all() else None


def _heard(bowed: Bowed) -> Bowed:
    """Return the same stroke as long as it is heard; the try where the longer one went another way."""
    longer = bow(replace(bowed.request, seconds=max(SECONDS, bowed.request.seconds)))
    return longer if longer.told_state == bowed.told_state else bowed
