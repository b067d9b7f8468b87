"""From counted slips to a state: the same questions whether velocity or bridge force was read.

The order of the questions follows the published classifiers: is there a slip cycle; does the motion
repeat from period to period; how many slips are there in a period (J. Woodhouse, Acustica 78, 137-153,
1993); is the step at the bridge that of the ideal motion (Galluzzo and Woodhouse, Acta Acust. u. Acust.
100, 139-153, 2014); is the period longer than the string's own (Hanson, Schneider and Halgedahl, Catgut
Acoust. Soc. J. 2(6), 1994). The numbers are our own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

State = Literal["helmholtz", "s-motion", "multiple-slip", "raucous", "low-anomalous", "noise"]
STATES: tuple[State, ...] = get_args(State)

#: Slips come once a period if their mean interval is within this of the string's period ...
ONCE_A_PERIOD = (0.9, 1.1)
#: ... and the interval's standard deviation below this share of the period.
STEADY_PERIODS = 0.03
#: Longer than this, and steady within a share of itself: a period that is not the string's own.
LONG_PERIODS, LONG_STEADY = 1.4, 0.10
#: From one period to the next the bridge force correlates at least so in a tone ...
REPEATS = 0.90
#: ... and at least so in several slips that drift through the period.
DRIFTS = 0.80
#: Several slips that share the way of one period are each lower than this, ideal 1: the light bow. A
#: taller one with others beside it comes from a string that was held too long: the heavy bow. Light
#: strokes on eight strings of four instruments reached 0.83, heavy ones had 1.0 in the mean.
SHARED = 0.85
#: Weaker than this share of the ideal motion a slip a period is creep.
FULL = 0.50
#: One slip a period with a shorter slip than this share of beta, or more than this times the ideal
#: step at the bridge, is an S-motion.
SHORT_SLIP, TALL_STEP = 0.70, 1.5
#: The least height of any slip, and the least share of the bow's travel over the string made in slips.
LEAST, LEAST_SHARE = 0.12, 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """What a reader measured in one window; lengths of time in periods of the free string."""

    intervals: Array  #: between onsets of slips
    top: float  #: height of the slips, ideal 1
    strength: float  #: of the motion as a whole, ideal 1: height of the slips or step at the bridge
    correlation: float  #: of the bridge force from one period to the next
    long_period: float | None  #: after which the force repeats, if it does not after one period
    travel_share: float  #: of the relative motion that is made in slips
    slip_ratio: float  #: slip fraction / beta
    step_ratio: float  #: peak to peak at the bridge / ideal


def judge(seen: Evidence) -> State:
    """Return the state that the evidence speaks for."""
    if len(seen.intervals) < 2 or seen.top < LEAST or seen.travel_share < LEAST_SHARE:
        return "noise"
    mean, spread = float(seen.intervals.mean()), float(seen.intervals.std())
    if ONCE_A_PERIOD[0] <= mean <= ONCE_A_PERIOD[1] and spread < STEADY_PERIODS:
        return _once_a_period(seen)
    if mean > LONG_PERIODS and spread < LONG_STEADY * mean:
        return "low-anomalous"
    if mean > ONCE_A_PERIOD[0] and seen.long_period is not None:
        return "low-anomalous"
    if mean < ONCE_A_PERIOD[0]:
        shared = seen.top < SHARED and seen.correlation >= DRIFTS
        return "multiple-slip" if shared else "raucous"
    return "raucous"


def _once_a_period(seen: Evidence) -> State:
    if seen.correlation < REPEATS:
        return "raucous"
    if seen.strength < FULL:
        return "noise"
    if seen.slip_ratio < SHORT_SLIP or seen.step_ratio > TALL_STEP:
        return "s-motion"
    return "helmholtz"
