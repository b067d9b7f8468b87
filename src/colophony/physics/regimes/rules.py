"""The states of a bowed string, and every number by which motions are read.

The numbers are our own where no source is named. They go into the loops as arguments in the run's precision
(`colophony.physics.kernel.body`).
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Literal, NamedTuple, get_args

import numpy as np

State = Literal["helmholtz", "s-motion", "multiple-slip", "raucous", "low-anomalous", "noise"]
STATES: tuple[State, ...] = get_args(State)
HELMHOLTZ, S_MOTION, MULTIPLE_SLIP, RAUCOUS, LOW_ANOMALOUS, NOISE = range(6)

StartKind = Literal["clean", "creaking", "slipping", "unknown"]
START_KINDS: tuple[StartKind, ...] = get_args(StartKind)
CLEAN, CREAKING, SLIPPING, UNKNOWN = range(4)


class Levels(NamedTuple):
    """A slip begins above ``onset``, is over below ``release``; nearer ones than ``merge`` are one.

    In units of the ideal jump; ``merge`` in periods: the hairs of a ribbon let go one after another.
    """

    onset: Any
    release: Any
    merge: Any


class Rules(NamedTuple):
    """Limits of the readers; lengths of time in periods of the free string, heights of slips ideal 1."""

    one: Any = 1.0
    half: Any = 0.5
    twelfth: Any = 1.0 / 12.0
    tiny: Any = 1e-30  #: guards divisions
    # --- counting slips
    velocity: Levels = Levels(onset=0.25, release=0.10, merge=0.03)
    flyback: Levels = Levels(onset=0.35, release=0.15, merge=0.06)
    #: In a start whose slips are hardly ever as tall as `weak_start` they are counted by these levels.
    weak: Levels = Levels(onset=0.11, release=0.044, merge=0.03)
    weak_start: Any = 0.45
    #: Weaker slips than the ideal one shift both levels down to this share of their own height.
    weak_share: Any = 0.45
    weak_release: Any = 0.4  #: of the shifted onset
    least_top: Any = 1e-3
    #: Of four periods in a row, at least one holds a slip: the height that one in five exceeds tells of it.
    upper: Any = 0.8
    #: Slower than this share of its top speed the bow counts as this fast: around a bow change every
    #: velocity would be great beside its own.
    slowest: Any = 0.05
    # --- does the bridge force repeat
    #: Where the next period is looked for.
    next_from: Any = 0.94
    next_to: Any = 1.06
    #: A motion that repeats less often than the string is looked for from and up to so many periods ...
    long_from: Any = 1.3
    long_to: Any = 4.2
    #: ... and must correlate so well there, and so much better than after one period ...
    long_correlation: Any = 0.90
    long_gain: Any = 0.10
    #: ... or at most this worse where it is looked for with a fourth of the points.
    coarse_loss: Any = 0.10
    #: A bridge force below this share of the ideal peak is silence, in which no period is looked for.
    silence: Any = 1e-3
    # --- one slip a period
    #: Slips come once a period if their mean interval is between these ...
    once_from: Any = 0.9
    once_to: Any = 1.1
    #: ... and the interval's standard deviation below this share of the period.
    steady: Any = 0.03
    #: Longer than this, and steady within a share of itself: a period that is not the string's own.
    long_period: Any = 1.4
    long_steady: Any = 0.10
    #: From one period to the next the bridge force correlates at least so in a tone ...
    repeats: Any = 0.90
    #: ... and at least so in several slips that drift through the period.
    drifts: Any = 0.80
    #: Several slips that share the way of one period are each lower than this: the light bow. A taller one
    #: with others beside it comes from a string that was held too long: the heavy bow. Light strokes on
    #: eight strings of four instruments reached 0.83, heavy ones had 1.0 in the mean.
    shared: Any = 0.85
    #: Weaker than this share of the ideal motion a slip a period is creep.
    full: Any = 0.50
    #: One slip a period with a shorter slip than this share of beta, or more than this times the ideal
    #: step at the bridge, is an S-motion.
    short_slip: Any = 0.70
    tall_step: Any = 1.5
    #: The least height of any slip, and the least share of the bow's travel over the string made in slips.
    least: Any = 0.12
    least_share: Any = 0.5
    # --- starts
    #: The longest transient that still is a clean start.
    clean: Any = 1.5
    #: The slips have ceased if so long none came before the end of what is judged.
    ceased: Any = 1.2
    #: A start is judged up to so many periods after the first slip.
    judged: Any = 40.0


#: A start has settled once so many periods in a row were good and none of those judged is bad later on.
GOOD_PERIODS = 5


@lru_cache(maxsize=8)
def rules(real: Any = np.float64, *, judged: float | None = None) -> Rules:
    """Return the rules in a precision, such as ``numpy.float32``, and for so many ``judged`` periods."""
    plain = Rules() if judged is None else Rules(judged=judged)
    return Rules(
        *(
            Levels(*(real(level) for level in value)) if isinstance(value, Levels) else real(value)
            for value in plain
        )
    )
