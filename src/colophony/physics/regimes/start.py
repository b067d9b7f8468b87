"""Read the start of a stroke: how long until the string slips once a period, and what went before.

The length is counted from the first slip to the last period that was not Helmholtz motion (P. M.
Galluzzo and J. Woodhouse, Acta Acust. u. Acust. 100, 139-153, 2014). The two kinds of poor start and the
lengths that players accept are those of K. Guettler and A. Askenfelt, J. Acoust. Soc. Am. 101(5),
2903-2913 (1997).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from colophony.physics.limits.guettler_1997 import is_accepted
from colophony.physics.motion import Motion
from colophony.physics.regimes import slips as slip
from colophony.physics.regimes.judge import FULL, ONCE_A_PERIOD

Array = NDArray[np.float64]
StartKind = Literal["clean", "creaking", "slipping", "unknown"]

#: The longest transient that still is a clean start, in periods.
CLEAN_PERIODS = 1.5
#: A start has settled once so many periods in a row were good ...
GOOD_PERIODS = 5
#: ... and none of those judged, up to so many after the first slip, is bad later on.
JUDGED_PERIODS = 40


@dataclass(frozen=True, slots=True)
class Start:
    """How a stroke began. Times in seconds since the bow touched the string; lengths from the first slip.

    ``kind`` says what prevailed before the motion settled, or throughout if it never did: prolonged
    periods (``creaking``: too heavy for how fast the bow set out) or several slips a period
    (``slipping``: too light for it). ``unknown`` if the string never slipped, or slipped once a period
    too weakly.
    ``accepted`` says whether players accept a start of this kind and length (Guettler and Askenfelt
    1997); ``None`` where that question does not arise.
    """

    first_slip_s: float | None
    settling_s: float | None
    settling_periods: float | None
    kind: StartKind
    accepted: bool | None


def read_start(motion: Motion, *, judged_periods: float = JUDGED_PERIODS) -> Start:
    """Read the start of a motion that begins with the bow on the string at rest.

    Parameters
    ----------
    judged_periods : how many periods after the first slip are judged; what happens later, a bow change
        say, is no part of the start
    """
    K = motion.samples_per_period
    jump = slip.ideal_jump_m_s(motion)
    relative = slip.relative_velocity(motion, jump)
    found = slip.find_slips(relative, samples_per_period=K, levels=slip.VELOCITY)
    if len(found.onsets) == 0:
        return Start(None, None, None, "unknown", None)
    first = float(found.onsets[0])
    end = min(len(relative) - 1.0, first + judged_periods * K)
    heard = found.onsets <= end
    onsets, peaks = found.onsets[heard], found.peaks[heard]
    intervals = np.diff(onsets) / K
    if (end - onsets[-1]) / K > 1.2:  # the slips ceased before the end: a prolonged period too
        intervals = np.append(intervals, (end - onsets[-1]) / K)
    good = (intervals >= ONCE_A_PERIOD[0]) & (intervals <= ONCE_A_PERIOD[1])
    good &= peaks[: len(intervals)] >= FULL
    bad = np.flatnonzero(~good)
    settled = int(bad[-1]) + 1 if len(bad) else 0  # number of intervals before the good ones
    first_slip_s = motion.start_s + first / motion.rate_hz
    if len(good) - settled < GOOD_PERIODS:
        return Start(first_slip_s, None, None, _prevails(intervals, peaks, clean=False), None)
    periods = float(onsets[settled] - first) / K
    seconds = periods * K / motion.rate_hz
    kind = _prevails(intervals[:settled], peaks[: settled + 1], clean=periods <= CLEAN_PERIODS)
    accepted = True if kind == "clean" else None
    if kind == "creaking" or kind == "slipping":
        accepted = is_accepted(kind, settling_s=seconds, f0=motion.frequency_hz)
    return Start(first_slip_s, seconds, periods, kind, accepted)


def _prevails(intervals: Array, heights: Array, *, clean: bool) -> StartKind:
    """Return which fault prevailed before the motion settled.

    A string held too long lets go in a slip taller than the ideal one, and often in short ones after it,
    so that counting intervals alone would call it slipping. How tall a slip is, ideal 1, is how many
    periods of the bow's way it undoes: a start creaks if tall slips undo half of the faulty time or more.
    """
    if clean:
        return "clean"
    bad = (intervals < ONCE_A_PERIOD[0]) | (intervals > ONCE_A_PERIOD[1])
    if not bad.any():
        return "unknown"
    beside = (np.append(bad, False) | np.insert(bad, 0, False))[: len(heights)]
    tall = beside & (heights > ONCE_A_PERIOD[1])
    hanging = float(intervals[len(heights) - 1 :].sum())  # after the last slip
    undone = float(heights[tall].sum()) + hanging
    return "creaking" if undone >= 0.5 * float(intervals[bad].sum()) else "slipping"
