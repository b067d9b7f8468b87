"""A small bowed string whose truth is counted: bridge force, and the slips of the string at the bow.

M. E. McIntyre, R. T. Schumacher & J. Woodhouse, *JASA* 74, 1325-1345 (1983): travelling waves on both
sides of the bow, the hyperbolic friction curve ``mu = mu_d + (mu_s - mu_d) v0 / (v0 + |v|)``, and their
hysteresis rule: where the load line cuts the curve more than once the string stays on the branch it is
on (stick or slip) until that branch ends. One-pole losses at both ends.

Torsional waves run beside the transverse ones, 5.2 times as fast (CCRMA, *Accounting for torsional waves*),
and soften the contact: 1/Z_eff = 1/Z0 + 1/Z_t. One hair, a stiff bow, no body: for tests only. It shares no
code with the program's own string.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import Literal

import numpy as np
from numba import njit
from scipy.fft import next_fast_len
from scipy.signal import resample_poly

from .strings import Curve, Signal, points

State = Literal["helmholtz", "multiple-slip", "raucous", "low-anomalous", "rest"]
_OVER = 4  # simulated at four times the rate


@dataclass(frozen=True, slots=True)
class Truth:
    """A stretch of the run and what the string did in it; "rest": the bow stands still."""

    start_s: float
    end_s: float
    state: State


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """Bridge force (N) at ``rate``; the times at which a slip began; the spans; how long it took to settle.

    ``settling_periods`` runs from the first slip to the last interval that is not Helmholtz before the
    first Helmholtz span of at least 12 periods; ``None`` if there is none.
    """

    force: Signal
    rate: int
    slips_s: Signal
    spans: tuple[Truth, ...]
    settling_periods: float | None


@njit(cache=True)  # type: ignore[misc]
def _bowed(vb, force, delays, gains, pole, z0, zt, mu_s, mu_d, v0):  # type: ignore[no-untyped-def]
    """Return the bridge force and the sliding velocity at the bow.

    Four sides (transverse nut, bridge; torsional nut, bridge): delay there and back in samples, and gain.
    """
    size = int(delays.max()) + 4
    lines, low, back = np.zeros((4, size)), np.zeros(4), np.zeros(4)
    out, slide = np.zeros(vb.size), np.zeros(vb.size)
    k = 2 / (1 / z0 + 1 / zt)
    sticking = True
    for i in range(vb.size):
        for side in range(4):
            whole = int(delays[side])
            part = delays[side] - whole
            wave = (1 - part) * lines[side, (i - whole) % size] + part * lines[side, (i - whole - 1) % size]
            low[side] += (1 - pole) * (wave - low[side])
            back[side] = -gains[side] * low[side]
        gap = vb[i] - back.sum()
        sign = 1.0 if gap >= 0 else -1.0
        gap = abs(gap)
        # Slip branch, sliding at s: k (gap - s)(v0 + s) = F (mu_d (v0 + s) + (mu_s - mu_d) v0).
        half = 0.5 * (gap - v0 - force[i] * mu_d / k)
        root = half * half + (gap - force[i] * mu_s / k) * v0
        s = half + np.sqrt(root) if root >= 0 else -1.0
        # Hysteresis: each branch is kept until it ends.
        sticking = k * gap <= force[i] * mu_s if sticking else s <= 0
        if sticking or s < 0:
            s = 0.0
        push = k * (gap - s) * sign
        slide[i] = s * sign
        lines[0, i % size] = back[1] + push / (2 * z0)
        lines[1, i % size] = back[0] + push / (2 * z0)
        lines[2, i % size] = back[3] + push / (2 * zt)
        lines[3, i % size] = back[2] + push / (2 * zt)
        out[i] = z0 * (1 + gains[1]) * low[1]
    return out, slide


def bow(
    frequency_hz: float,
    seconds: float,
    *,
    rate: int,
    speed: Curve,
    weight: Curve,
    beta: float = 0.1,
    impedance: float = 0.35,
    torsion: float = 3.0,
    mu_s: float = 0.8,
    mu_d: float = 0.35,
    v0: float = 0.1,
    rounding: float = 0.002,
    bridge_loss: float = 0.03,
    seed: int = 0,
) -> Run:
    """Bow a string. ``speed`` m/s and ``weight`` N are curves; ``torsion`` is Z_t / Z0 (2 to 4, Schumacher).

    ``rounding`` is the delay of the one-pole loss at each end in periods (how round the corner is);
    ``bridge_loss`` the part of a wave lost at the bridge.
    The weight trembles by 2 % (an arm is no machine). A string that never lets go counts as raucous.
    """
    fast = rate * _OVER
    count = round(seconds * rate) * _OVER
    rng = np.random.default_rng(seed)
    knots = np.arange(0, count + fast // 50, fast // 50)
    tremble = np.interp(np.arange(count), knots, 1 + 0.02 * rng.standard_normal(len(knots)))
    filter_delay = rounding * fast / frequency_hz  # of the one-pole, at low frequencies: pole / (1 - pole)
    sides = np.array([1 - beta, beta])
    delays = np.append(
        sides * (fast / frequency_hz - 2 * filter_delay),
        sides * (fast / frequency_hz / 5.2 - 2 * filter_delay),
    )
    gains = np.array([0.999, 1 - bridge_loss, 0.95, 0.95])  # torsional Q about 30
    pole = filter_delay / (1 + filter_delay)
    speeds, weights, delays = points(speed, count), points(weight, count) * tremble, np.maximum(delays, 1.0)
    force, slide = _bowed(
        speeds, weights, delays, gains, pole, impedance, torsion * impedance, mu_s, mu_d, v0
    )
    slips = _slips(slide, speeds, fast, frequency_hz)
    spans = _spans(slide.reshape(-1, _OVER).mean(axis=1), np.abs(speeds[::_OVER]), slips, rate, frequency_hz)
    return Run(
        np.asarray(resample_poly(force, 1, _OVER)), rate, slips, spans, _settling(slips, spans, frequency_hz)
    )


def _slips(slide: Signal, speed: Signal, fast: int, frequency_hz: float) -> Signal:
    """Return when each slip began: sliding faster than a fifth of the bow, at least 0.03 periods apart."""
    sliding = np.abs(slide) > 0.2 * np.abs(speed) + 1e-4
    begins = np.flatnonzero(sliding[1:] & ~sliding[:-1]) + 1
    ends = np.flatnonzero(~sliding[1:] & sliding[:-1]) + 1
    least = 0.03 * fast / frequency_hz
    kept = [b for i, b in enumerate(begins) if i == 0 or b - ends[i - 1] > least]
    return np.asarray(kept, dtype=float) / fast


def _state(slide: Signal, slips: Signal, period: float) -> State:
    """Judge one window by the bow-point velocity (J. Woodhouse, *Acustica* 78, 137-153, 1993)."""
    x = slide - slide.mean()
    size = next_fast_len(2 * len(x))
    # Normalised by the overlap, so that long lags are not punished.
    auto = np.fft.irfft(np.abs(np.fft.rfft(x, size)) ** 2)[: len(x)] / np.arange(len(x), 0, -1)
    auto = auto / max(auto[0], 1e-20)
    near = auto[int(0.95 * period) : int(1.12 * period)].max()
    far = auto[int(1.2 * period) : int(3.2 * period)].max()
    per_period = len(slips) * period / len(slide)
    if near > 0.8 and per_period > 0.5:
        return "helmholtz" if per_period < 1.3 else "multiple-slip"
    if near > 0.5 and per_period > 1.6:
        return "multiple-slip"
    if far > 0.8 and 0.2 < per_period < 1.5 and near < 0.5:
        return "low-anomalous"
    return "raucous"


def _spans(slide: Signal, speed: Signal, slips: Signal, rate: int, frequency_hz: float) -> tuple[Truth, ...]:
    """Judge windows of max(0.12 s, 12 periods) every 20 ms and join equal neighbours."""
    period = rate / frequency_hz
    window, hop = round(max(0.12 * rate, 12 * period)), rate // 50
    states: list[State] = []
    for at in range(0, len(slide) - window + 1, hop):
        inside = slips[(slips >= at / rate) & (slips < (at + window) / rate)]
        moves = np.median(speed[at : at + window]) > 0.005
        states.append(_state(slide[at : at + window], inside, period) if moves else "rest")
    spans, at = [], 0
    for state, run in groupby(states):
        number = len(list(run))
        start = 0.0 if not spans else spans[-1].end_s
        end = len(slide) / rate if at + number == len(states) else ((at + number) * hop + window / 2) / rate
        spans.append(Truth(start, end, state))
        at += number
    return tuple(spans)


def _settling(slips: Signal, spans: tuple[Truth, ...], frequency_hz: float) -> float | None:
    """Return periods from the first slip to the last interval off by over 10 % (as P. Galluzzo, PhD 2004)."""
    steady = next(
        (s for s in spans if s.state == "helmholtz" and (s.end_s - s.start_s) * frequency_hz > 12), None
    )
    if steady is None:
        return None
    early = slips[slips < steady.start_s + 0.5 * (steady.end_s - steady.start_s)]
    off = np.flatnonzero(np.abs(np.diff(early) * frequency_hz - 1) > 0.1)
    return float((early[off[-1] + 1] - early[0]) * frequency_hz) if len(off) else 0.0
