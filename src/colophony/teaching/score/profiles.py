"""How speed and place change along a stroke, and along a swell of several strokes.

Within a swell the bow goes one way over the string: nearer to the bridge as it grows, farther as it falls
(common practice, no source). The rhythm makes single strokes faster or slower than the swell; each alone
would then be placed to and fro, so the wanted points are put in order as little as that takes.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from typing import TypeAlias

from colophony.teaching.score.dynamics import speeds
from colophony.teaching.score.grouping import STEPS, Draft
from colophony.teaching.score.placing import wanted_point
from colophony.teaching.score.travel import Ride

#: Share of a stroke's time, place on the bow in mm, speed in mm/s, degree of the dynamic.
Point: TypeAlias = tuple[float, float, float, float]

#: A stroke whose dynamic changes by less, in degrees, is no part of a swell.
_LEAST_TURN = 0.05


def bowing_profile(draft: Draft, ride: Ride, instrument: str) -> list[Point]:
    """Return share of time, place, speed in mm/s and degree along a stroke.

    A steady stroke has two moments. Where the dynamic changes the speed follows it, as far as the hair that
    the stroke has allows: all speeds are scaled alike.
    """
    usual = [speeds(degree, instrument).usual for degree in draft.degrees]
    means = [(a + b) / 2.0 for a, b in itertools.pairwise(usual)]
    scale = ride.hair_mm / (draft.seconds * sum(means) / len(means))
    sign = 1.0 if ride.direction == "down" else -1.0
    points, at = [], ride.start_mm
    for k in range(STEPS):
        if k:
            at += sign * scale * means[k - 1] * draft.seconds / (STEPS - 1)
        points.append((k / (STEPS - 1), at, scale * usual[k], draft.degrees[k]))
    points[-1] = (1.0, ride.end_mm, *points[-1][2:])
    if max(draft.degrees) - min(draft.degrees) < 1e-9:
        return [points[0], points[-1]]
    return points


def swell_courses(drafts: Sequence[Draft], rides: Sequence[Ride], instrument: str) -> dict[int, list[float]]:
    """Return the sounding points wanted along every stroke of a swell, by the stroke's index.

    Of all courses that go one way over a swell the one that is nearest in ratio of distance (isotonic least
    squares): no stroke is moved farther than the order of its neighbours asks.

    Parameters
    ----------
    drafts : all strokes, plucked ones too
    rides : of the bowed ones, in order
    """
    courses: dict[int, list[float]] = {}
    bowed = [k for k, draft in enumerate(drafts) if not draft.is_plucked]
    ride_of = dict(zip(bowed, rides, strict=True))
    for group in _swells(drafts):
        profiles = [bowing_profile(drafts[k], ride_of[k], instrument) for k in group]
        wanted = [
            [wanted_point(degree, speed, instrument) for _share, _at, speed, degree in profile]
            for profile in profiles
        ]
        grows = drafts[group[0]].degrees[-1] > drafts[group[0]].degrees[0]
        ordered = iter(_one_way([point for course in wanted for point in course], falls=grows))
        for k, course in zip(group, wanted, strict=True):
            courses[k] = list(itertools.islice(ordered, len(course)))
    return courses


def _swells(drafts: Sequence[Draft]) -> Iterator[list[int]]:
    """Yield runs of neighbouring strokes whose dynamics turn the same way."""
    for turn, run in itertools.groupby(range(len(drafts)), lambda k: _turn(drafts[k])):
        if turn:
            yield list(run)


def _turn(draft: Draft) -> int:
    """Return 1 for a stroke that grows, -1 for one that falls, 0 for a steady or plucked one."""
    change = 0.0 if draft.is_plucked else draft.degrees[-1] - draft.degrees[0]
    return 0 if abs(change) < _LEAST_TURN else 1 if change > 0.0 else -1


def _one_way(points: Sequence[float], *, falls: bool) -> list[float]:
    """Return points that never turn back, as near as can be in ratio of their distance from the bridge."""
    from scipy.optimize import isotonic_regression

    logs = [math.log(point - 0.5) for point in points]
    fitted = isotonic_regression(logs, increasing=not falls).x
    return [0.5 + math.exp(float(value)) for value in fitted]
