"""Read the state, pitch and strength of a motion from its last periods."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from colophony.physics.motion import Motion
from colophony.physics.regimes import slips as slip
from colophony.physics.regimes.judge import DRIFTS, STEADY_PERIODS, Evidence, State, judge
from colophony.physics.regimes.repetition import Repetition, find_repetition
from colophony.physics.regimes.slips import Slips
from colophony.units import hz_to_cents

Array = NDArray[np.float64]

#: The centroid counts partials up to here, in Hz.
CENTROID_BELOW_HZ = 12_000.0
#: A bridge force below this share of the ideal peak is silence, in which no period is looked for.
_SILENCE = 1e-3


@dataclass(frozen=True, slots=True)
class Reading:
    """What a string did in a window.

    ``frequency_hz`` is the rate at which the motion repeats, ``None`` where it does not: slips a second
    in Helmholtz motion, within 0.25 cent at 200 samples a period. ``slip_fraction`` and
    ``velocity_jump_m_s`` (mean of the relative velocity over the slip) are 0 where nothing slips; read
    from the bridge force they are inferred through the ideal motion. ``correlation`` is that of the
    bridge force from period to period.
    """

    state: State
    frequency_hz: float | None
    cents_from_free_string: float | None
    slips_per_period: float
    slip_fraction: float  #: share of time, 0 to 1
    velocity_jump_m_s: float
    bridge_force_peak_to_peak_n: float  #: within a period, mean over periods
    centroid_hz: float  #: of the bridge force, weighted by amplitude, below 12 kHz
    correlation: float  #: -1 to 1


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of a motion in one state, seconds since the bow touched the string."""

    start_s: float
    end_s: float
    state: State


def read_motion(motion: Motion, *, periods: float = 16) -> Reading:
    """Read the last periods of a motion by the string's velocity under the bow.

    Slips are counted as by Woodhouse (1993), see `colophony.physics.regimes.slips`. The speed may vary
    within the window and the bow may turn. A window with two states in it reads as one of them or as
    neither: `spans` takes them apart.

    Parameters
    ----------
    periods : length of the window in periods of the free string, at least 4; a shorter motion is read
        whole
    """
    window = motion.last(periods)
    jump = slip.ideal_jump_m_s(window)
    relative = slip.relative_velocity(window, jump)
    found = slip.find_slips(relative, samples_per_period=window.samples_per_period, levels=slip.VELOCITY)
    first, last = _whole_cycles(found, len(relative))
    cycle, scale = relative[first : last + 1], jump[first : last + 1]
    half = 0.5 * _mean_where(cycle, cycle > 0.5 * found.top)
    slid = cycle > half
    inner = slid.copy()  # an edge lies somewhere within its sample and would count as a slow slip
    inner[1:] &= slid[:-1]
    inner[:-1] &= slid[1:]
    travel = np.maximum(cycle, 0.0)
    return _conclude(
        window,
        found,
        slip_fraction=_share_above(cycle, half),
        velocity_jump_m_s=_mean_where(cycle * scale, inner if inner.any() else slid),
        travel_share=float(travel[slid].sum() / max(travel.sum(), 1e-12)),
        strength=found.top,
    )


def read_bridge_force(motion: Motion, *, periods: float = 16) -> Reading:
    """Read the last periods of a motion by the force on the bridge alone.

    Flybacks are counted as by Galluzzo and Woodhouse (2014), see `colophony.physics.regimes.slips`.
    Bow speed, contact distance and impedance are taken as known; the velocity is not looked at.
    Parameters as in `read_motion`.
    """
    window = motion.last(periods)
    jump = slip.ideal_jump_m_s(window)
    drop = slip.bridge_drop(window, jump)
    found = slip.find_slips(drop, samples_per_period=window.samples_per_period, levels=slip.FLYBACK)
    whole = found.peaks[:-1] if len(found.peaks) > 1 else found.peaks  # the window may cut off the last
    height = float(np.mean(whole)) if len(whole) else 0.0
    # The string comes back to its place: what it loses in slips it regains at the speed of the bow.
    fraction = min(1.0, window.beta / height) if height > 0.0 else 0.0
    return _conclude(
        window,
        found,
        slip_fraction=fraction,
        velocity_jump_m_s=height * float(jump.mean()),
        travel_share=1.0,
    )


def spans(motion: Motion, *, periods: float = 8) -> tuple[Span, ...]:
    """Return the states of a motion from its beginning to its end, equal neighbours as one span.

    Parameters
    ----------
    periods : length of a window in periods of the free string, at least 4; what is left over at the
        end belongs to the last window
    """
    length = round(periods * motion.samples_per_period)
    count = len(motion.bow_speed_m_s)
    edges = [*(k * length for k in range(max(count // length, 1))), count]
    result: list[Span] = []
    for first, after in pairwise(edges):
        state = read_motion(_cut(motion, first, after), periods=count).state
        start_s, end_s = (motion.start_s + edge / motion.rate_hz for edge in (first, after))
        if result and result[-1].state == state:
            start_s = result.pop().start_s
        result.append(Span(start_s, end_s, state))
    return tuple(result)


def _conclude(
    window: Motion,
    found: Slips,
    *,
    slip_fraction: float,
    velocity_jump_m_s: float,
    travel_share: float,
    strength: float | None = None,
) -> Reading:
    """Judge a window and gather what is read from the bridge force whichever reader asks.

    Without a ``strength`` the step at the bridge tells it: a flyback that takes its time, as on a short
    string, is a full one none the less.
    """
    K = window.samples_per_period
    speed = np.abs(window.bow_speed_m_s)
    ideal_step = 2.0 * window.impedance_kg_s * float(speed.mean()) / window.beta
    force = np.asarray(window.bridge_force_n, dtype=float)
    bowed = len(force) > 0 and ideal_step > 0.0 and float(np.mean(window.weight_n > 0.0)) > 0.5
    repetition = find_repetition(force, samples_per_period=K, least=_SILENCE * ideal_step)
    intervals = np.diff(found.onsets) / K
    longest = max(1.0, float(intervals.mean())) if len(intervals) else 1.0
    step = _peak_to_peak(force, min(round(longest * K), len(force)))
    state: State = "noise"
    if bowed:
        state = judge(
            Evidence(
                intervals=intervals,
                top=found.top,
                strength=step / ideal_step if strength is None else strength,
                correlation=repetition.correlation,
                long_period=repetition.long_period,
                travel_share=travel_share,
                slip_ratio=slip_fraction / window.beta,
                step_ratio=step / ideal_step,
            )
        )
    frequency = _frequency(state, found, repetition, window) if bowed else None
    return Reading(
        state=state,
        frequency_hz=frequency,
        cents_from_free_string=None if frequency is None else hz_to_cents(frequency, window.frequency_hz),
        slips_per_period=_slips_per_period(found, len(force) / K),
        slip_fraction=slip_fraction if len(found.onsets) else 0.0,
        velocity_jump_m_s=velocity_jump_m_s if len(found.onsets) else 0.0,
        bridge_force_peak_to_peak_n=step,
        centroid_hz=centroid_hz(force, rate_hz=window.rate_hz),
        correlation=repetition.correlation,
    )


def _frequency(state: State, found: Slips, repetition: Repetition, window: Motion) -> float | None:
    """Return the rate at which the motion repeats in Hz, if the state has one."""
    if len(found.onsets) < 2:
        return None
    slip_period = _mean_interval(found.onsets) / window.samples_per_period
    spread = float(np.diff(found.onsets).std()) / window.samples_per_period
    if state in ("helmholtz", "s-motion"):
        period = slip_period
    elif state == "low-anomalous":
        period = repetition.long_period or slip_period
    elif state == "multiple-slip" and spread < STEADY_PERIODS * slip_period:
        period = slip_period
    elif state == "multiple-slip" and repetition.correlation >= DRIFTS:
        period = repetition.period
    else:
        return None
    return window.frequency_hz / period


def centroid_hz(force: Array, *, rate_hz: float, below_hz: float = CENTROID_BELOW_HZ) -> float:
    """Return the mean frequency of a signal in Hz, weighted by amplitude, below a limit; 0 in silence."""
    n = len(force)
    if n < 2:
        return 0.0
    # Hann: a partial between two bins must not leak into the gaps, which outnumber the partials.
    hann = 0.5 - 0.5 * np.cos(2.0 * math.pi * np.arange(n) / n)
    count = min(n // 2, int(below_hz * n / rate_hz)) + 1
    amplitude = np.abs(np.fft.rfft((force - force.mean()) * hann)[:count])
    total = float(amplitude.sum())
    return float(amplitude @ np.arange(count)) * rate_hz / n / total if total > 1e-12 * n else 0.0


def _whole_cycles(found: Slips, count: int) -> tuple[int, int]:
    """Return the samples of the first and last onset: between them lie whole cycles."""
    if len(found.onsets) < 2:
        return 0, count - 1
    return int(found.onsets[0]), int(found.onsets[-1])


def _mean_interval(onsets: Array) -> float:
    """Return the slope of onset against number by least squares: steadier than first to last."""
    number = np.arange(len(onsets)) - 0.5 * (len(onsets) - 1)
    return float(number @ onsets / (number @ number))


def _slips_per_period(found: Slips, periods: float) -> float:
    """Return the mean rate of slips per period of the free string."""
    onsets = found.onsets
    if len(onsets) < 2:
        return len(onsets) / periods if periods > 0.0 else 0.0
    return float((len(onsets) - 1) / (onsets[-1] - onsets[0]) * found.samples_per_period)


def _share_above(signal: Array, level: float) -> float:
    """Return the share of time above a level, with straight lines between the samples."""
    over = signal - level
    positive = np.maximum(over, 0.0)
    size = np.abs(over)
    span = size[:-1] + size[1:]
    share = (positive[:-1] + positive[1:]) / np.maximum(span, 1e-300)
    return float(share.mean()) if len(share) else 0.0


def _mean_where(signal: Array, chosen: NDArray[np.bool_]) -> float:
    return float(signal[chosen].mean()) if chosen.any() else 0.0


def _peak_to_peak(force: Array, length: int) -> float:
    """Return greatest less least within a stretch of so many samples, mean over the whole stretches."""
    if length == 0:
        return 0.0
    count = len(force) // length
    return float(np.ptp(force[: count * length].reshape(count, length), axis=1).mean())


def _cut(motion: Motion, first: int, after: int) -> Motion:
    """Return the samples from first to after (exclusive) as views."""
    names = ("bow_speed_m_s", "weight_n", "velocity_m_s", "slipping", "bridge_force_n", "sound")
    arrays = {name: getattr(motion, name)[first:after] for name in names}
    return replace(motion, start_s=motion.start_s + first / motion.rate_hz, **arrays)
