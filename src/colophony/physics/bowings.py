"""Many strokes of one string, and what the string did under each: the values a survey takes and gives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

#: What `Answers.start_kind` counts through.
START_KINDS = ("clean", "creaking", "slipping", "unknown")


@dataclass(frozen=True, slots=True, eq=False)
class Bowings:
    """Strokes on one string at one note: arrays [n], or numbers that hold for all.

    The bow sets out from rest at ``acceleration_m_s2`` until it has its speed and keeps that; where only the
    start is asked for, the speed lies out of reach (infinity is allowed).
    """

    speed_m_s: Floats | float  #: m/s, 0 or more
    weight_n: Floats | float  #: normal force of bow on string, 0 to 20 N
    distance_m: Floats | float  #: bow to bridge, 0.0005 to 1 m, within the sounding length
    tilt_deg: Floats | float  #: from flat hair, -60 to 60 degrees
    acceleration_m_s2: Floats | float  #: from rest, m/s^2, 0 or more; infinite: at its speed at once
    #: 0: the string is at rest; else small waves run on it at the beginning, the same for the same seed.
    seed: NDArray[np.int64] | int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Answers:
    """What the string did under each stroke: arrays [n] in the order asked, nan where there is no figure."""

    state: NDArray[np.int8]  #: index into `regimes.STATES`, read from the last periods
    beta: Singles  #: contact distance over sounding length, as simulated
    slips_per_period: Singles
    slip_fraction: Singles  #: share of the time spent slipping
    step_ratio: Singles  #: peak to peak of the force at the bridge over the ideal motion's
    cents: Singles  #: from the free string
    settling_periods: Singles  #: from the first slip to one slip a period; nan where it never settled
    first_slip_s: Singles
    start_kind: NDArray[np.int8]  #: index into `START_KINDS`


class Interrupted(KeyboardInterrupt):
    """Somebody interrupts; some strokes are answered, the others are -1 in ``state`` and ``start_kind``."""

    def __init__(self, answers: Answers) -> None:
        """Hold what is there."""
        super().__init__()
        self.answers = answers
