"""The figures that are held against published ones, computed once: maps of the steady bow, starts, pitch.

The tests beside it and ``tools/make_physics.py`` read the same numbers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colophony.physics.gestures import Stroke, accelerate, steady
from colophony.physics.instruments import Instrument, find_instrument
from colophony.physics.limits import guettler_2002
from colophony.physics.regimes import Reading, Start, read_bridge_force, read_motion, read_start
from colophony.physics.simulation import Model, simulate, simulate_many
from colophony.physics.strings import BowedString

Array = NDArray[np.float64]

# --- the bowing machine's string of Schoonderwaldt, Guettler & Askenfelt (2008)

VIOLIN = find_instrument("violin")
_D = VIOLIN.string("D")
_MASS_KG_M = 1.29e-3
#: Steel D: 1.29 g/m, Z0 = 0.25 kg/s, so that L = 330 mm; losses, stiffness and torsion of the catalogue's D.
STEEL_D = replace(
    _D, mass_per_length_kg_m=_MASS_KG_M, sounding_length_m=0.25 / (2 * _MASS_KG_M * _D.open_frequency_hz)
)
#: A monochord: the bridge stands still.
STIFF_BRIDGE = Model(body=False)
ONE_HAIR = replace(STIFF_BRIDGE, points=1)

SPEEDS = (0.05, 0.10, 0.15, 0.20)
BETAS = tuple(np.geomspace(1 / 30, 1 / 6, 11).tolist())
#: Where models are compared: every second contact distance, two speeds.
FEW_BETAS, FEW_SPEEDS = BETAS[1::2], (0.10, 0.20)
FORCES = tuple(np.geomspace(0.03, 4.0, 30).tolist())
#: F_min beta^2 in N: the lower edge is looked for in this grid.
LOWER = tuple(np.geomspace(0.1e-3, 4e-3, 24).tolist())
#: Samples a period of the map, and of maps that are only compared with each other.
FINE, COARSE = 800, 400
_UPPER_PERIODS, _LOWER_PERIODS = 100, 400
_RAMP_PERIODS = 5


@dataclass(frozen=True)
class SteadyMap:
    """Readings over [contact distance][speed][weight] and the shares of the length as simulated."""

    betas: tuple[float, ...]
    speeds: tuple[float, ...]
    forces: tuple[tuple[float, ...], ...]  #: of each contact distance, N
    readings: tuple[tuple[tuple[Reading, ...], ...], ...]
    by_force: tuple[tuple[tuple[Reading, ...], ...], ...]  #: judged by bridge force alone

    def helmholtz(self) -> NDArray[np.bool_]:
        """Which cells are in Helmholtz motion, [beta, speed, force]."""
        return self._are(self.readings, "helmholtz")

    def helmholtz_by_force(self) -> NDArray[np.bool_]:
        return self._are(self.by_force, "helmholtz")

    def share(self, state: str) -> float:
        return float(self._are(self.readings, state).mean())

    @staticmethod
    def _are(readings: Any, state: str) -> NDArray[np.bool_]:
        return np.array([[[cell.state == state for cell in row] for row in plane] for plane in readings])


def steady_map(
    model: Model = STIFF_BRIDGE,
    *,
    betas: tuple[float, ...] = BETAS,
    speeds: tuple[float, ...] = SPEEDS,
    samples: int = FINE,
) -> SteadyMap:
    """The map from 0.03 to 4 N: 100 periods after a ramp of 5, the last 16 judged."""
    return _map(model, betas, speeds, tuple(FORCES for _ in betas), _UPPER_PERIODS, samples)


def lower_map(
    model: Model = STIFF_BRIDGE,
    *,
    betas: tuple[float, ...] = BETAS,
    speeds: tuple[float, ...] = SPEEDS,
    samples: int = 256,
    periods: int = _LOWER_PERIODS,
) -> SteadyMap:
    """The map around the least weight: weights in proportion to 1 / beta^2, 400 periods."""
    forces = tuple(tuple(x / beta**2 for x in LOWER) for beta in betas)
    return _map(model, betas, speeds, forces, periods, samples)


@cache
def _map(
    model: Model,
    betas: tuple[float, ...],
    speeds: tuple[float, ...],
    forces: tuple[tuple[float, ...], ...],
    periods: int,
    samples: int,
) -> SteadyMap:
    period_s = 1 / STEEL_D.open_frequency_hz
    played, planes, by_force = [], [], []
    for beta, row in zip(betas, forces, strict=True):
        strokes = [_steady(beta, vb, force) for vb in speeds for force in row]
        motions = simulate_many(
            VIOLIN,
            STEEL_D,
            strokes,
            seconds=periods * period_s,
            model=model,
            samples_per_period=samples,
            keep_periods=18,
        )
        played.append(motions[0].beta)
        for reader, into in ((read_motion, planes), (read_bridge_force, by_force)):
            cells = [reader(motion) for motion in motions]
            into.append(tuple(tuple(cells[k : k + len(row)]) for k in range(0, len(cells), len(row))))
    return SteadyMap(tuple(played), speeds, forces, tuple(planes), tuple(by_force))


# --- edges of a map


@dataclass(frozen=True)
class Edges:
    """The band of Helmholtz motion in one column of weights; nan where there is none."""

    least: float
    greatest: float
    wrong: int  #: cells that lie on the wrong side of an edge
    cells: int  #: in the band


def edges_of(good: NDArray[np.bool_], forces: Sequence[float]) -> Edges:
    """The edges that leave the fewest cells on the wrong side; midway (in ratio) between two weights.

    An edge at the grid's end is the end.
    """
    n = len(good)
    before = np.concatenate([[0], np.cumsum(good)])
    best = (int(before[-1]), 0, 0)
    for first in range(n):
        for after in range(first + 1, n + 1):
            inside = int(before[after] - before[first])
            wrong = (after - first - inside) + (int(before[-1]) - inside)
            best = min(best, (wrong, first, after))
    wrong, first, after = best
    if after == first:
        return Edges(math.nan, math.nan, wrong, 0)
    least = forces[0] if first == 0 else math.sqrt(forces[first - 1] * forces[first])
    greatest = forces[-1] if after == n else math.sqrt(forces[after - 1] * forces[after])
    return Edges(least, greatest, wrong, after - first)


@dataclass(frozen=True)
class Law:
    """A power law fitted to an edge at one speed, in logarithms."""

    constant: float  #: geometric mean of F beta^exponent / scale at the published exponent
    slope: float  #: log-log slope over beta, free
    points: int


def fit(values: Sequence[float], betas: Sequence[float], *, exponent: float) -> Law:
    """The constant in F = constant / beta^exponent, and the slope where that is left free."""
    y, x = np.log(np.asarray(values)), np.log(np.asarray(betas))
    kept = np.isfinite(y)
    y, x = y[kept], x[kept]
    if len(y) < 3:
        return Law(math.nan, math.nan, len(y))
    return Law(float(np.exp(np.mean(y + exponent * x))), float(np.polyfit(x, y, 1)[0]), len(y))


def columns(chart: SteadyMap, speed: float) -> list[Edges]:
    """The band at one speed, one for each contact distance."""
    good = chart.helmholtz()
    k = chart.speeds.index(speed)
    return [edges_of(good[i, k], chart.forces[i]) for i in range(len(chart.betas))]


def upper_law(chart: SteadyMap, speed: float) -> Law:
    """c in F_max = c vb / beta, kg/s, and the free slope."""
    return fit([e.greatest / speed for e in columns(chart, speed)], chart.betas, exponent=1)


def lower_law(chart: SteadyMap, speed: float) -> Law:
    """F_min beta^2 in N, and the free slope."""
    return fit([e.least for e in columns(chart, speed)], chart.betas, exponent=2)


def ragged_share(chart: SteadyMap) -> float:
    """Cells on the wrong side of their column's edges over the cells of the band."""
    every = [edge for speed in chart.speeds for edge in columns(chart, speed)]
    return sum(edge.wrong for edge in every) / max(sum(edge.cells for edge in every), 1)


# --- pitch and colour over weight

#: Contact distances and speeds at which pitch is followed over weight.
PITCHED = ((0.1, 0.05), (0.1, 0.1), (0.1, 0.2), (0.05, 0.1), (0.05, 0.2))
_SHARES = tuple(np.linspace(0.1, 1.65, 32).tolist())


@cache
def over_weight(beta: float, speed: float, *, stiffness: bool = True) -> tuple[tuple[float, Reading], ...]:
    """Weights in N from 0.1 to 1.65 of 0.75 vb / beta, and what the string did after 150 periods."""
    period_s = 1 / STEEL_D.open_frequency_hz
    weights = [0.75 * speed / beta * share for share in _SHARES]
    motions = simulate_many(
        VIOLIN,
        STEEL_D,
        [_steady(beta, speed, weight) for weight in weights],
        seconds=150 * period_s,
        samples_per_period=400,
        keep_periods=20,
        model=replace(STIFF_BRIDGE, stiffness=stiffness),
    )
    return tuple((weight, read_motion(motion)) for weight, motion in zip(weights, motions, strict=True))


def playable(beta: float, speed: float, *, stiffness: bool = True) -> list[tuple[float, Reading]]:
    """Weight and reading inside the band of Helmholtz motion."""
    return [
        (weight, reading)
        for weight, reading in over_weight(beta, speed, stiffness=stiffness)
        if reading.state == "helmholtz"
    ]


def flattening(beta: float, speed: float, *, stiffness: bool = True) -> list[tuple[float, float]]:
    """Weight and cents from the free string inside the band."""
    return [
        (weight, reading.cents_from_free_string)
        for weight, reading in playable(beta, speed, stiffness=stiffness)
        if reading.cents_from_free_string is not None
    ]


def flat_at(beta: float, speed: float, times_less: float, *, stiffness: bool = True) -> float:
    """Cents from the free string at a weight so many times less than the greatest of the same runs."""
    weights, cents = zip(*flattening(beta, speed, stiffness=stiffness), strict=True)
    return float(np.interp(weights[-1] / times_less, weights, cents))


def _steady(beta: float, speed: float, weight: float) -> Stroke:
    ramp_s = _RAMP_PERIODS / STEEL_D.open_frequency_hz
    return steady(speed, weight, beta * STEEL_D.sounding_length_m, ramp_s=ramp_s)


@cache
def bowed(beta: float, speed: float, weight: float) -> Reading:
    """What the monochord's string does after 100 periods."""
    motion = simulate(
        VIOLIN,
        STEEL_D,
        _steady(beta, speed, weight),
        seconds=100 / STEEL_D.open_frequency_hz,
        samples_per_period=400,
        model=STIFF_BRIDGE,
    )
    return read_motion(motion)


# --- what players know


@cache
def played_on_violin(string: str, distance_m: float, speed: float, weight: float) -> Reading:
    """What a violin's open string does after half a second of the full model."""
    return read_motion(simulate("violin", string, steady(speed, weight, distance_m), seconds=0.5))


def slips_in_a_second(string: str) -> int:
    """Slips in the second second of a stroke, counted plainly: the string under the bow turns back."""
    motion = simulate("violin", string, steady(0.2, 0.6, 0.03), seconds=2.0)
    back = np.asarray(motion.velocity_m_s[motion.times_s >= 1.0]) < -0.5
    return int(np.count_nonzero(back[1:] & ~back[:-1]))


# --- starts

START_FORCES = tuple(np.linspace(0.15, 3.0, 20).tolist())
START_STEPS = 32  #: accelerations for each weight: one block side by side
START_PERIODS = 45
POOLED = (400, 600, 800)
_FASTEST_M_S = 4.9  #: the bow gets no faster


@dataclass(frozen=True)
class StartMap:
    """Starts over [weight][acceleration]."""

    string: BowedString
    beta: float
    forces: tuple[float, ...]
    per_force: tuple[float, ...]  #: a / F in m/s^2 per N
    starts: tuple[tuple[Start, ...], ...]

    def settled(self, periods: float) -> NDArray[np.bool_]:
        return np.array([
            [s.settling_periods is not None and s.settling_periods <= periods for s in row]
            for row in self.starts
        ])  # fmt: skip


@cache
def start_map(
    instrument: Instrument,
    string: BowedString,
    beta: float,
    *,
    model: Model | None = None,
    samples: int = 400,
    forces: tuple[float, ...] = START_FORCES,
) -> StartMap:
    """Starts at constant acceleration; a / F from half the lesser published edge to twice the greater."""
    narrow, wide = wedge(string, beta, 0.4), wedge(string, beta, 0.3)
    per_force = tuple(np.geomspace(0.4 * narrow[0], 1.6 * wide[1], START_STEPS).tolist())
    seconds = START_PERIODS / string.open_frequency_hz
    rows = []
    played = beta
    for force in forces:
        motions = simulate_many(
            instrument, string,
            [
                accelerate(
                    x * force, force, beta * string.sounding_length_m,
                    seconds=min(seconds, _FASTEST_M_S / (x * force)),
                )
                for x in per_force
            ],
            seconds=seconds, model=model or STIFF_BRIDGE, samples_per_period=samples,
        )  # fmt: skip
        rows.append(tuple(read_start(motion) for motion in motions))
        played = motions[0].beta
    return StartMap(string, played, forces, per_force, tuple(rows))


def wedge(string: BowedString, beta: float, mu_d: float) -> tuple[float, float]:
    """Guettler's least and greatest a / F for mu_s = 0.8, m/s^2 per N."""
    return guettler_2002.acceleration_window_m_s2(
        F=1.0, Z0=string.impedance_kg_s, f0=string.open_frequency_hz, beta=beta, mu_s=0.8, mu_d=mu_d
    )


def start_edges(chart: StartMap, periods: float = 1.5) -> list[tuple[float, float, float]]:
    """Weight, least and greatest a / F of the starts that settle within so many periods.

    Midway (in ratio) between the outermost such start and the next one.
    """
    half_step = math.sqrt(chart.per_force[1] / chart.per_force[0])
    found = []
    for force, row in zip(chart.forces, chart.settled(periods), strict=True):
        inside = np.flatnonzero(row)
        if len(inside):
            least, greatest = chart.per_force[inside[0]], chart.per_force[inside[-1]]
            found.append((force, least / half_step, greatest * half_step))
    return found


def pooled_edges(string: BowedString, beta: float, *, model: Model) -> tuple[float, float]:
    """Median least and greatest a / F of clean starts on a violin over weights and `POOLED` samples.

    One map's edges move by a tenth when nothing but the samples a period change.
    """
    maps = [start_map(VIOLIN, string, beta, model=model, samples=samples) for samples in POOLED]
    edges = np.array([edge for chart in maps for edge in start_edges(chart)])
    return float(np.median(edges[:, 1])), float(np.median(edges[:, 2]))


def wedge_tip_n(chart: StartMap) -> float:
    """Weight in N at which a straight line through the middles of the clean starts meets no acceleration."""
    F, least, greatest = np.array(start_edges(chart)).T
    slope, at_zero = np.polyfit(F, F * np.sqrt(least * greatest), 1)
    return float(-at_zero / slope)


def kinds_outside(chart: StartMap) -> dict[str, tuple[int, int]]:
    """Creaking and slipping starts well below and well above the wedge (a fifth beyond the wider bracket)."""
    low, high = 0.8 * wedge(chart.string, chart.beta, 0.4)[0], 1.2 * wedge(chart.string, chart.beta, 0.3)[1]
    counts = {"below": [0, 0], "above": [0, 0]}
    for row in chart.starts:
        for x, start in zip(chart.per_force, row, strict=True):
            side = "below" if x < low else "above" if x > high else None
            if side and start.kind in ("creaking", "slipping"):
                counts[side][start.kind == "slipping"] += 1
    return {side: (creaking, slipping) for side, (creaking, slipping) in counts.items()}


def middle_edges(chart: StartMap, periods: float = 1.5) -> tuple[float, float]:
    """Median over weights of the least and greatest a / F."""
    found = start_edges(chart, periods)
    if not found:
        return math.nan, math.nan
    return float(np.median([e[1] for e in found])), float(np.median([e[2] for e in found]))


#: The cello D of P. M. Galluzzo's bowing machine as J. Woodhouse gives it: Z0 = 0.55 kg/s, L = 690 mm,
#: EI = 3e-4 N m^2, that is B = pi^2 EI / (T L^2) = 5.6e-5.
CELLO = find_instrument("cello")
CELLO_D = replace(
    CELLO.string("D"),
    mass_per_length_kg_m=0.55 / (2 * 0.69 * CELLO.string("D").open_frequency_hz),
    sounding_length_m=0.69,
    inharmonicity=5.6e-5,
)


@cache
def cello_starts(weight: float) -> tuple[Start, ...]:
    """Starts at 1.56 m/s^2, beta = 0.0899 and weights within 4 % of one, on the machine's cello D."""
    motions = simulate_many(
        CELLO,
        CELLO_D,
        [
            accelerate(1.56, weight * share, 0.0899 * CELLO_D.sounding_length_m, seconds=0.3)
            for share in np.linspace(0.96, 1.04, 9).tolist()
        ],
        seconds=0.3,
        samples_per_period=400,
    )
    return tuple(read_start(motion) for motion in motions)
