"""The map of starts: how the string sets in at every weight and acceleration of the bow from rest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from colophony.physics.bowings import START_KINDS
from colophony.physics.kernel.state import LANES
from colophony.physics.limits import guettler_1997, schoonderwaldt_2008
from colophony.physics.maps.bands import Floats, Trials, find_bands
from colophony.physics.maps.grids import (
    MU_D_HIGH,
    MU_D_LOW,
    check_tolerance,
    checked,
    guettler_window,
    sounding_length_m,
)
from colophony.physics.maps.grids import (
    accelerations_m_s2 as default_accelerations,
)
from colophony.physics.maps.questions import STROKES_AT_ONCE, Ask, Progress, Questions
from colophony.physics.maps.refining import refine
from colophony.physics.strings import BowedString

CLEAN, CREAKING, SLIPPING = (START_KINDS.index(kind) for kind in ("clean", "creaking", "slipping"))
#: Starts are ragged by nature: this share of clean ones already counts as part of the wedge.
RAGGED_CHANCE = 0.3
#: Weights of a map in N on a string of the machine's impedance, in proportion to it on others; and how many.
_WEIGHTS_N, _WEIGHTS = (0.1, 3.0), 24
_EACH = LANES // 4


@dataclass(frozen=True, slots=True, eq=False)
class Wedge:
    """Accelerations in m/s^2 of starts of one quality, by weight: arrays [n], nan where there are none.

    Such starts lie between ``least`` and ``greatest`` and are the share ``share`` of all that do; between
    ``sure_least`` and ``sure_greatest``, if there is such a stretch, all but single starts are such.
    """

    least_m_s2: Floats
    greatest_m_s2: Floats
    sure_least_m_s2: Floats
    sure_greatest_m_s2: Floats
    share: Floats
    least_is_open: NDArray[np.bool_]  #: nothing slower was tried
    greatest_is_open: NDArray[np.bool_]  #: nothing quicker was tried


@dataclass(frozen=True, slots=True, eq=False)
class StartMap:
    """Starts over weight [n] and acceleration [m] at one contact distance."""

    tilt_deg: float
    frequency_hz: float
    length_m: float  #: that sounds at this note
    distance_m: float  #: bow to bridge as asked
    beta: float  #: contact distance over length as simulated; nan where nothing was answered
    weight_n: Floats  #: ascending, [n]
    acceleration_m_s2: Floats  #: ascending, [m]
    settling_periods: Floats  #: from first slip to one slip a period, [n, m]; nan where it never came
    kind: NDArray[np.int8]  #: index into `bowings.START_KINDS`, [n, m]; -1 where nothing was answered
    accepted: NDArray[np.bool_]  #: players accept it (Guettler & Askenfelt 1997), [n, m]
    clean: Wedge  #: of clean starts, edges looked for within the tolerance
    bearable: Wedge  #: of accepted starts, from the same strokes
    guettler_low_m_s2: Floats  #: least and greatest by Guettler (2002) with friction 0.8 / 0.4, [n, 2]
    guettler_high_m_s2: Floats  #: the same with 0.8 / 0.3, [n, 2]
    strokes: int
    is_finished: bool  #: False where somebody interrupted


def start_map(
    string: BowedString,
    ask: Ask,
    *,
    distance_m: float,
    weights_n: ArrayLike | None = None,
    accelerations_m_s2: ArrayLike | None = None,
    frequency_hz: float | None = None,
    tilt_deg: float = 0.0,
    tolerance: float | None = 0.03,
    progress: Progress | None = None,
    strokes_at_once: int = STROKES_AT_ONCE,
) -> StartMap:
    """Return the map of starts from rest at constant acceleration.

    Parameters
    ----------
    string : the string asked about; ``ask`` must bow the same one at the same note, for about 45 periods
    ask : answers strokes, such as a survey with instrument, string and note given
    distance_m : bow to bridge, m
    weights_n : N, ascending, [n]; by default 24 from 0.1 to 3 N on a violin's D, in proportion to impedance
    accelerations_m_s2 : ascending, [m]; by default 48 as `grids.accelerations_m_s2`
    tilt_deg : of the hair, degrees from flat
    tolerance : width of the wedge's edges as a share of the acceleration, 0.002 to 0.5; None leaves them
        between two accelerations of the grid
    progress : called after every block with strokes done and expected
    strokes_at_once : strokes a block; what an interruption loses

    A `KeyboardInterrupt` while the string is asked ends the work: what was not answered is -1 in ``kind``.
    Raises `InputError` for values out of range.
    """
    if tolerance is not None:
        check_tolerance(tolerance)
    distance = float(checked("distances", distance_m)[0])
    weights = start_weights_n(string) if weights_n is None else checked("weights", weights_n)
    accelerations = checked(
        "accelerations",
        default_accelerations(string, weight_n=weights, distance_m=distance, frequency_hz=frequency_hz)
        if accelerations_m_s2 is None
        else accelerations_m_s2,
    )
    questions = Questions(ask, tilt_deg=tilt_deg, strokes_at_once=strokes_at_once, progress=progress)
    lines = _StartLines(questions, weights, distance)
    grid = np.broadcast_to(np.log(accelerations), (len(weights), len(accelerations)))
    trials = Trials.sort(*lines.ask(grid, more=2 * _EACH * len(weights) if tolerance else 0))
    kind, settling = lines.kinds[0], lines.settling[0]
    if tolerance is not None:
        trials = refine(
            trials, lines.ask, tolerance=float(np.log1p(tolerance)), each=_EACH, ragged_chance=RAGGED_CHANCE
        )
    questions.finish()
    bearable = Trials.sort(
        np.concatenate(lines.places, axis=1),
        np.concatenate(
            [accepted(k, s) for k, s in zip(lines.kinds, lines.settling, strict=True)], axis=1
        ).astype(float),
        np.concatenate([k >= 0 for k in lines.kinds], axis=1).astype(float),
        step=trials.step,
    )
    length = sounding_length_m(string, frequency_hz)
    played = distance if np.isnan(lines.beta) else lines.beta * length

    def windows(mu_d: float) -> Floats:
        return np.array(
            [guettler_window(string, w, played, frequency_hz, mu_d=mu_d) for w in weights.tolist()]
        )

    return StartMap(
        tilt_deg=tilt_deg,
        frequency_hz=frequency_hz or string.open_frequency_hz,
        length_m=length,
        distance_m=distance,
        beta=lines.beta,
        weight_n=weights,
        acceleration_m_s2=accelerations,
        settling_periods=settling,
        kind=kind,
        accepted=accepted(kind, settling),
        clean=_wedge(trials),
        bearable=_wedge(bearable),
        guettler_low_m_s2=windows(MU_D_LOW),
        guettler_high_m_s2=windows(MU_D_HIGH),
        strokes=questions.asked,
        is_finished=not questions.is_interrupted,
    )


def accepted(kind: NDArray[np.int8], settling_periods: Floats) -> NDArray[np.bool_]:
    """Return which starts players accept, by kind and length in periods (Guettler & Askenfelt 1997).

    A clean one always, a creaking one up to 10 periods, a slipping one up to 18; none of unknown kind.
    """
    longest = np.full(len(START_KINDS) + 1, -np.inf)  # the last for unanswered ones, -1
    longest[CLEAN] = np.inf
    longest[CREAKING] = guettler_1997.CREAKING_LIMIT_PERIODS
    longest[SLIPPING] = guettler_1997.SLIPPING_LIMIT_PERIODS
    return settling_periods <= longest[kind]


class _StartLines:
    """Lines of acceleration, each at one weight: asks along them and keeps all that was answered."""

    def __init__(self, questions: Questions, weights: Floats, distance: float) -> None:
        self._questions, self._weights, self._distance = questions, weights[:, None], distance
        self.places: list[Floats] = []
        self.kinds: list[NDArray[np.int8]] = []
        self.settling: list[Floats] = []
        self.beta = float("nan")

    def ask(self, place: Floats, *, more: int = 0) -> tuple[Floats, Floats, Floats]:
        found = self._questions.put(
            ("start_kind", "settling_periods", "beta"),
            speed_m_s=np.inf,  # the bow gets faster all the time
            weight_n=self._weights,
            distance_m=self._distance,
            acceleration_m_s2=np.exp(place),
            more=more,
        )
        kind = found["start_kind"]
        self.places.append(place)
        self.kinds.append(kind)
        self.settling.append(found["settling_periods"])
        self.beta = float(np.fmax(self.beta, np.fmax.reduce(found["beta"], axis=None)))
        return place, (kind == CLEAN).astype(float), (kind >= 0).astype(float)


def _wedge(trials: Trials) -> Wedge:
    bands = find_bands(trials, ragged_chance=RAGGED_CHANCE)
    return Wedge(
        np.exp(bands.outer_low),
        np.exp(bands.outer_high),
        np.exp(bands.low),
        np.exp(bands.high),
        bands.share,
        bands.low_is_open,
        bands.high_is_open,
    )


def start_weights_n(string: BowedString, *, count: int = _WEIGHTS) -> Floats:
    """Return weights in N, [count], in equal ratios: 0.1 to 3 N on a violin's D, as impedance goes."""
    share = string.impedance_kg_s / schoonderwaldt_2008.MEASURED_Z0_KG_S
    return np.geomspace(_WEIGHTS_N[0] * share, _WEIGHTS_N[1] * share, count)
