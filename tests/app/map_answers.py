"""What answers strokes in the tests of map commands: a plane whose limits are known, at once."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np

from colophony.app.asking import IsStopped, Survey
from colophony.physics.bowings import START_KINDS, Answers, Bowings
from colophony.physics.regimes import STATES

#: Of the plane: least weight a / beta^2, greatest c v / beta; of starts: clean between two N in m/s^2 a N.
A_N, C_KG_S = 1.0e-3, 0.75
LEAST_M_S2_N, GREATEST_M_S2_N = 2.0, 5.0


class Plane:
    """Stands in for `colophony.app.asking.asking`; ``stop_after`` strokes somebody presses Ctrl-C."""

    def __init__(self, *, stop_after: int | None = None) -> None:
        self.stop_after, self.strokes = stop_after, 0
        self.surveys: list[Survey] = []

    @contextmanager
    def asking(self, survey: Survey, *, is_stopped: IsStopped | None = None) -> Iterator[Any]:
        self.surveys.append(survey)
        length = survey.sounding.length_m

        def ask(bowings: Bowings) -> Answers:
            weight = np.asarray(bowings.weight_n, dtype=float)
            if self.stop_after is not None and self.strokes + len(weight) > self.stop_after:
                raise KeyboardInterrupt
            self.strokes += len(weight)
            beta = np.asarray(bowings.distance_m, dtype=float) / length
            least, greatest = A_N / beta**2, C_KG_S * np.asarray(bowings.speed_m_s) / beta
            state = np.where(
                weight < least,
                STATES.index("multiple-slip"),
                np.where(weight > greatest, STATES.index("raucous"), STATES.index("helmholtz")),
            )
            rate = np.asarray(bowings.acceleration_m_s2) / weight
            slow, quick = rate < LEAST_M_S2_N, rate > GREATEST_M_S2_N
            kind = np.where(slow, START_KINDS.index("creaking"), START_KINDS.index("clean"))
            kind = np.where(quick, START_KINDS.index("slipping"), kind)
            settling = np.where(slow, 14.0, np.where(quick, 25.0, 0.0))
            nothing = np.full(len(weight), np.nan, np.float32)
            return Answers(
                state.astype(np.int8), beta.astype(np.float32), *(nothing for _ in range(4)),
                settling.astype(np.float32), nothing, kind.astype(np.int8),
            )  # fmt: skip

        yield ask
