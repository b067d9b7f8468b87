"""What speaks where: for each contact distance a stroke, and how far each variable may wander from it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from colophony.errors import InputError
from colophony.language import _
from colophony.physics.maps.bands import Floats
from colophony.physics.maps.grids import (
    check_tolerance,
    checked,
    contact_distances_m,
    sounding_length_m,
    weights_around_n,
)
from colophony.physics.maps.lines import SteadyLines, Variable
from colophony.physics.maps.questions import STROKES_AT_ONCE, Ask, Progress, Questions
from colophony.physics.maps.wander import LINE, WanderRoom, bands_along, room_of
from colophony.physics.strings import BowedString

#: Speeds looked at, m/s: from a crawl to faster than a whole bow is drawn.
SPEEDS_M_S = (0.01, 2.0)
#: Speeds among which one that speaks is sought where none is given, m/s: slow and quick playing.
FAMILY_M_S = tuple(np.geomspace(0.03, 1.0, 8).tolist())
_EACH = 8
_DB = 20.0


@dataclass(frozen=True, slots=True)
class SpeakingStroke:
    """A stroke that speaks at one contact distance, and the room around it; one variable moves at a time.

    Where the string has no clean band at this distance and speed, weight and room are nan or None.
    """

    distance_m: float  #: bow to bridge as asked
    beta: float  #: contact distance over length as simulated
    speed_m_s: float  #: as asked, or the middle, in ratio, of those that speak
    weight_n: float  #: the middle of the playable range, in ratio
    weight_min_n: float  #: at this speed
    weight_max_n: float
    speed_min_m_s: float  #: at this weight; nan where the middle of the range turns out not to be playable
    speed_max_m_s: float
    wander: WanderRoom | None  #: of contact distance, at this speed and weight
    weight_is_open: tuple[bool, bool]  #: least, greatest: nothing beyond was tried
    speed_is_open: tuple[bool, bool]
    is_finished: bool  #: False where somebody interrupted: what is nan or None may only be unanswered

    @property
    def speaks(self) -> bool:
        """Whether there is a clean band at all."""
        return not math.isnan(self.weight_n)

    @property
    def range_db(self) -> float:
        """Span of weight from least to greatest, dB; the weight may wander half of it either way."""
        return _DB * math.log10(self.weight_max_n / self.weight_min_n)


def speaking_strokes(
    string: BowedString,
    ask: Ask,
    *,
    distances_m: ArrayLike,
    speeds_m_s: ArrayLike | None = None,
    frequency_hz: float | None = None,
    tilt_deg: float = 0.0,
    tolerance: float = 0.03,
    progress: Progress | None = None,
    strokes_at_once: int = STROKES_AT_ONCE,
) -> tuple[SpeakingStroke, ...]:
    """Return a stroke that speaks at each contact distance, and its room in weight, speed and distance.

    First lines of weight, whose middles are the strokes; then a line of speed and one of distance through
    each of these.

    Parameters
    ----------
    string : the string asked about; ``ask`` must bow the same one at the same note
    distances_m : such as the middles of the sounding points, m, ascending, [n]. Where a finger shortens the
        string they draw together: give those of the stopped note
    speeds_m_s : one for all or one for each distance, m/s; where it is left out, at each distance that of
        `FAMILY_M_S` which lies in the middle, in ratio, of those at which the string speaks
    others : as in `playable_ranges`

    Raises `InputError` for values out of range.
    """
    check_tolerance(tolerance)
    distances = checked("distances", distances_m)
    families = _families(speeds_m_s, len(distances))
    questions = Questions(ask, tilt_deg=tilt_deg, strokes_at_once=strokes_at_once, progress=progress)
    speed, distance = families.ravel(), np.repeat(distances, families.shape[1])
    by_weight = SteadyLines(
        questions, string, "weight", speed_m_s=speed, distance_m=distance, frequency_hz=frequency_hz
    )
    grid = weights_around_n(string, speed_m_s=speed, distance_m=distance, frequency_hz=frequency_hz)
    every, _ = bands_along(by_weight, np.log(grid), tolerance=tolerance, each=_EACH)
    chosen = _middle_speaking(np.log(families), every.low.reshape(families.shape))
    of_weight, speeds, beta = every.some(chosen), speed[chosen], by_weight.beta[chosen]
    weights = np.exp(0.5 * (of_weight.low + of_weight.high))

    def lines(along: Variable) -> SteadyLines:
        return SteadyLines(
            questions,
            string,
            along,
            speed_m_s=speeds,
            weight_n=weights,
            distance_m=distances,
            frequency_hz=frequency_hz,
        )

    of_speed, _ = bands_along(
        lines("speed"),
        _same(np.geomspace(*SPEEDS_M_S, LINE), weights),
        tolerance=tolerance,
        each=_EACH,
    )
    usual = contact_distances_m(string, frequency_hz=frequency_hz, count=2)
    farther = np.geomspace(min(usual[0], distances[0]), max(usual[-1], distances[-1]), LINE)
    of_distance, _ = bands_along(lines("distance"), _same(farther, weights), tolerance=tolerance, each=_EACH)
    questions.finish()
    length = sounding_length_m(string, frequency_hz)
    low, high = np.exp(of_speed.low), np.exp(of_speed.high)
    around = (low <= speeds) & (speeds <= high)
    return tuple(
        SpeakingStroke(
            distance_m=float(distance),
            beta=float(beta[i]),
            speed_m_s=float(speeds[i]),
            weight_n=float(weights[i]),
            weight_min_n=float(np.exp(of_weight.low[i])),
            weight_max_n=float(np.exp(of_weight.high[i])),
            speed_min_m_s=float(low[i]) if around[i] else math.nan,
            speed_max_m_s=float(high[i]) if around[i] else math.nan,
            wander=room_of(of_distance, i, float(beta[i]) * length),
            weight_is_open=(bool(of_weight.low_is_open[i]), bool(of_weight.high_is_open[i])),
            speed_is_open=(bool(of_speed.low_is_open[i]), bool(of_speed.high_is_open[i])),
            is_finished=not questions.is_interrupted,
        )
        for i, distance in enumerate(distances)
    )


def _families(speeds_m_s: ArrayLike | None, count: int) -> Floats:
    """Return the speeds to choose from at each distance, [count, speeds]."""
    if speeds_m_s is None:
        return np.tile(FAMILY_M_S, (count, 1))
    speeds = np.atleast_1d(np.asarray(speeds_m_s, dtype=float))
    if speeds.shape not in ((1,), (count,)) or not np.all((speeds > 0.0) & np.isfinite(speeds)):
        raise InputError(
            _("{speeds} speeds for {count} distances: give one above 0 for all, or one for each").format(
                speeds=speeds.size, count=count
            )
        )
    return np.broadcast_to(speeds, (count,))[:, None].copy()


def _middle_speaking(log_speeds: Floats, low: Floats) -> NDArray[np.int64]:
    """Return which lines, [n], have the speed in the middle of those with a band (of all, if none has)."""
    speaks = np.isfinite(low)
    speaks |= ~speaks.any(axis=1, keepdims=True)
    first = np.where(speaks, log_speeds, np.inf).min(axis=1, keepdims=True)
    last = np.where(speaks, log_speeds, -np.inf).max(axis=1, keepdims=True)
    away = np.where(speaks, np.abs(log_speeds - 0.5 * (first + last)), np.inf)
    return np.argmin(away, axis=1) + np.arange(len(low)) * low.shape[1]


def _same(values: Floats, lines: Floats) -> Floats:
    """Return the places of a grid of values for every line, [n, m]."""
    return np.broadcast_to(np.log(values), (len(lines), len(values)))
