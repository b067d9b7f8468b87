"""Lines through the plane of steady bowing: one variable runs, the others are held."""

from __future__ import annotations

from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from colophony.physics.maps.bands import Floats
from colophony.physics.maps.grids import MOST_N, sounding_length_m
from colophony.physics.maps.questions import Questions
from colophony.physics.regimes import STATES
from colophony.physics.strings import BowedString

Variable: TypeAlias = Literal["speed", "weight", "distance"]

#: The one state that counts as a playable tone. S-motion, which also slips once a period, does not: its
#: tone is another one, thin and nasal (docs/decisions/0160).
PLAYABLE = STATES.index("helmholtz")
#: The bow reaches its speed in so many periods of the note, all weight on from the beginning.
RAMP_PERIODS = 5


class SteadyLines:
    """Lines along one variable: asks at places of them and keeps where the bow was played.

    A place is the logarithm of the variable in SI units.
    """

    def __init__(
        self,
        questions: Questions,
        string: BowedString,
        along: Variable,
        *,
        speed_m_s: ArrayLike = 1.0,
        weight_n: ArrayLike = 1.0,
        distance_m: ArrayLike = 1.0,
        frequency_hz: float | None = None,
    ) -> None:
        """Hold the other variables of each line, numbers or arrays [n]; the one that runs is not read."""
        held = np.broadcast_arrays(
            *(np.atleast_1d(np.asarray(a, float)) for a in (speed_m_s, weight_n, distance_m))
        )
        self.questions, self.along = questions, along
        self._speed, self._weight, self._distance = (a[:, None] for a in held)
        self._per_speed = (frequency_hz or string.open_frequency_hz) / RAMP_PERIODS
        self._length = sounding_length_m(string, frequency_hz)
        #: Contact distance over length as simulated, the same along a line unless distance runs, [n].
        self.beta = np.full(len(self._speed), np.nan)

    def states(self, place: Floats, *, seed: int = 0, more: int = 0) -> tuple[NDArray[np.int8], Floats]:
        """Return the states at places [n, k], nan not asked, -1 unanswered; and the places as played."""
        value = np.exp(place)
        if self.along == "weight":  # a closer look beside the last weight may lie beyond what a bow weighs
            value = np.where(value > MOST_N * (1.0 + 1e-9), np.nan, np.minimum(value, MOST_N))
        speed = value if self.along == "speed" else self._speed
        found = self.questions.put(
            ("state", "beta"),
            speed_m_s=speed,
            weight_n=value if self.along == "weight" else self._weight,
            distance_m=value if self.along == "distance" else self._distance,
            acceleration_m_s2=speed * self._per_speed,
            seed=seed,
            more=more,
        )
        self.beta = np.fmax(self.beta, np.fmax.reduce(found["beta"], axis=1))
        if self.along == "distance":  # the engine plays places in steps of its own
            place = np.log(np.where(found["beta"] > 0.0, found["beta"] * self._length, value))
        return found["state"], place

    def ask(self, place: Floats, *, more: int = 0) -> tuple[Floats, Floats, Floats]:
        """Ask as `refining.AskAlong`."""
        states, played = self.states(place, more=more)
        return played, (states == PLAYABLE).astype(float), (states >= 0).astype(float)
