"""How far may the bow wander from its contact distance at a given speed and weight?

Two ways that must agree: read from the playable ranges of neighbouring distances, and asked along a line of
distances.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from colophony.errors import InputError
from colophony.language import _, figures
from colophony.physics.maps.bands import Bands, Floats, Trials, find_bands
from colophony.physics.maps.grids import check_tolerance, checked, contact_distances_m
from colophony.physics.maps.lines import SteadyLines
from colophony.physics.maps.questions import STROKES_AT_ONCE, Ask, Progress, Questions
from colophony.physics.maps.ranges import PlayableRanges
from colophony.physics.maps.refining import refine
from colophony.physics.strings import BowedString

#: Distances of a line, and strokes an edge and round when it is refined.
LINE, _EACH = 24, 6
_SLACK = 1e-6  # what a distance may differ by and still be the same


@dataclass(frozen=True, slots=True)
class WanderRoom:
    """The span of contact distance around a point in which the string keeps one slip a period."""

    nearest_m: float
    farthest_m: float
    nearest_is_open: bool  #: nothing nearer to the bridge was tried
    farthest_is_open: bool  #: nothing farther was tried

    @property
    def width_m(self) -> float:
        """From the nearest to the farthest, m; at least so much where an end is open."""
        return self.farthest_m - self.nearest_m


def wander_room(ranges: PlayableRanges, *, distance_m: float, weight_n: float) -> WanderRoom | None:
    """Return the room around a contact distance at the speed of some playable ranges.

    Least and greatest weight run straight between contact distances in logarithms. A distance without a clean
    band bounds the room halfway, in ratio, to its neighbour.

    Parameters
    ----------
    ranges : of two or more contact distances
    distance_m : where the hair touches the string, m, as in ``played_distance_m`` and within it. A tilted bow
        touches up to half its ribbon farther from the bridge than its middle lies
    weight_n : N, above 0

    Returns
    -------
    `WanderRoom`, or None where this point is not playable itself

    Raises `InputError` outside the ranges' distances.
    """
    x, kept = ranges.rows()
    here = math.log(distance_m) if distance_m > 0.0 else -math.inf
    if len(x) < 2 or not x[0] - _SLACK <= here <= x[-1] + _SLACK:
        near, far = 1000.0 * math.exp(x[0]), 1000.0 * math.exp(x[-1])
        raise InputError(
            _("a contact distance of {distance} mm lies outside the map: choose {near} to {far} mm").format(
                distance=figures(f"{1000.0 * distance_m:.1f}"),
                near=figures(f"{near:.1f}"),
                far=figures(f"{far:.1f}"),
            )
        )
    here = min(max(here, x[0]), x[-1])
    force = math.log(weight_n)
    # How far the weight lies inside each limit, [2, n].
    inside = np.stack([force - np.log(ranges.weight_min_n[kept]), np.log(ranges.weight_max_n[kept]) - force])
    at_here = np.array([np.interp(here, x, row) for row in inside])
    if not np.all(at_here >= 0.0):
        return None
    nearer, farther = x < here, x > here
    nearest, near_open = _walk(here, at_here, x[nearer][::-1], inside[:, nearer][:, ::-1])
    farthest, far_open = _walk(here, at_here, x[farther], inside[:, farther])
    return WanderRoom(math.exp(nearest), math.exp(farthest), near_open, far_open)


def wander_rooms(ranges: PlayableRanges) -> tuple[WanderRoom | None, ...]:
    """Return the room around each contact distance, None where it has none, at the middle of its weights."""
    return tuple(
        None if np.isnan(weight) else wander_room(ranges, distance_m=float(distance), weight_n=float(weight))
        for distance, weight in zip(ranges.played_distance_m, ranges.middle_n, strict=True)
    )


def ask_wander_room(
    string: BowedString,
    ask: Ask,
    *,
    distance_m: float,
    weight_n: float,
    speed_m_s: float,
    distances_m: ArrayLike | None = None,
    frequency_hz: float | None = None,
    tilt_deg: float = 0.0,
    tolerance: float = 0.02,
    progress: Progress | None = None,
    strokes_at_once: int = STROKES_AT_ONCE,
) -> WanderRoom | None:
    """Return the room around a contact distance, found by bowing along a line of distances.

    Parameters
    ----------
    distance_m, weight_n, speed_m_s : where the bow is, and how it is drawn
    distances_m : the line, m, ascending; by default 24 as `grids.contact_distances_m`
    others : as in `playable_ranges`; no edge is finer than the steps in which the engine plays distances

    Returns
    -------
    `WanderRoom`, or None where this point is not playable

    Raises `KeyboardInterrupt` when interrupted: half a line tells nothing.
    """
    check_tolerance(tolerance)
    if distances_m is None:
        distances = contact_distances_m(string, frequency_hz=frequency_hz, count=LINE)
    else:
        distances = checked("distances", distances_m)
    questions = Questions(ask, tilt_deg=tilt_deg, strokes_at_once=strokes_at_once, progress=progress)
    lines = SteadyLines(
        questions, string, "distance", speed_m_s=speed_m_s, weight_n=weight_n, frequency_hz=frequency_hz
    )
    own = float(checked("distances", distance_m)[0])
    distances = np.union1d(distances, own)
    bands, played = bands_along(lines, np.log(distances)[None, :], tolerance=tolerance, each=_EACH)
    questions.finish()
    if questions.is_interrupted:
        raise KeyboardInterrupt
    return room_of(bands, 0, math.exp(played[0, np.searchsorted(distances, own)]))


def bands_along(lines: SteadyLines, places: Floats, *, tolerance: float, each: int) -> tuple[Bands, Floats]:
    """Return the bands of lines asked at places [n, m] and then around their edges; and these as played."""
    played, clean, runs = lines.ask(places, more=2 * each * len(places))
    trials = refine(Trials.sort(played, clean, runs), lines.ask, tolerance=math.log1p(tolerance), each=each)
    return find_bands(trials), played


def room_of(bands: Bands, line: int, distance_m: float) -> WanderRoom | None:
    """Return the room of one line of distances if a distance in m lies in its clean band."""
    nearest, farthest = math.exp(bands.low[line]), math.exp(bands.high[line])
    if not nearest * (1.0 - _SLACK) <= distance_m <= farthest * (1.0 + _SLACK):
        return None
    return WanderRoom(nearest, farthest, bool(bands.low_is_open[line]), bool(bands.high_is_open[line]))


def _walk(start: float, at_start: Floats, x: Floats, inside: Floats) -> tuple[float, bool]:
    """Return where the weight leaves a limit on the way from a start through x [n], and if it never does."""
    lost = ~np.all(inside >= 0.0, axis=0)  # beyond a limit, or no band
    if not lost.any():
        return (float(x[-1]) if len(x) else start), True
    k = int(np.argmax(lost))
    place, margin = (float(x[k - 1]), inside[:, k - 1]) if k else (start, at_start)
    there, following = float(x[k]), inside[:, k]
    if np.isnan(following).any():
        return 0.5 * (place + there), False
    left = following < 0.0
    share = float(np.min(margin[left] / (margin[left] - following[left])))
    return place + share * (there - place), False
