"""Read the state, pitch and strength of a motion from its last periods."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from colophony.physics.motion import Motion
from colophony.physics.regimes.rules import STATES, State, rules
from colophony.physics.regimes.signals import (
    bridge_drop,
    column,
    ideal_jump_m_s,
    relative_velocity,
    tops_for,
)
from colophony.physics.regimes.window import Seen, Setting, Slide, read_flybacks, read_velocity
from colophony.units import hz_to_cents

Array = NDArray[np.float64]

#: The centroid counts partials up to here, in Hz.
CENTROID_BELOW_HZ = 12_000.0


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
    jump = ideal_jump_m_s(window)
    relative = relative_velocity(window, jump)
    seen, slide = read_velocity(
        0,
        column(relative),
        column(window.bridge_force_n),
        len(relative),
        tops_for(window),
        _setting(window),
        rules(),
    )
    return _reading(window, seen, velocity_jump_m_s=_mean_jump_m_s(relative, jump, slide))


def read_bridge_force(motion: Motion, *, periods: float = 16) -> Reading:
    """Read the last periods of a motion by the force on the bridge alone.

    Flybacks are counted as by Galluzzo and Woodhouse (2014), see `colophony.physics.regimes.slips`.
    Bow speed, contact distance and impedance are taken as known; the velocity is not looked at.
    Parameters as in `read_motion`.
    """
    window = motion.last(periods)
    jump = ideal_jump_m_s(window)
    seen = read_flybacks(
        0,
        column(bridge_drop(window, jump)),
        column(window.bridge_force_n),
        len(jump),
        tops_for(window),
        _setting(window),
        rules(),
    )
    return _reading(window, seen, velocity_jump_m_s=seen.height * float(jump.mean()))


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


def _setting(window: Motion) -> Setting:
    """Return what is known of a window beside its waveforms."""
    count = len(window.bow_speed_m_s)
    speed = float(np.mean(np.abs(window.bow_speed_m_s))) if count else 0.0
    return Setting(
        samples_per_period=window.samples_per_period,
        period=float(window.samples_per_period),
        beta=window.beta,
        ideal_step=2.0 * window.impedance_kg_s * speed / window.beta,
        bowed=bool(count and np.mean(window.weight_n > 0.0) > 0.5),
    )


def _reading(window: Motion, seen: Seen, *, velocity_jump_m_s: float) -> Reading:
    """Return what the loops saw in the units of a reading."""
    frequency = window.frequency_hz / seen.period if seen.period > 0.0 else None
    return Reading(
        state=STATES[seen.state],
        frequency_hz=frequency,
        cents_from_free_string=None if frequency is None else hz_to_cents(frequency, window.frequency_hz),
        slips_per_period=seen.slips_per_period,
        slip_fraction=seen.slip_fraction,
        velocity_jump_m_s=velocity_jump_m_s if seen.slips_per_period > 0.0 else 0.0,
        bridge_force_peak_to_peak_n=seen.step_n,
        centroid_hz=centroid_hz(np.asarray(window.bridge_force_n, dtype=float), rate_hz=window.rate_hz),
        correlation=seen.correlation,
    )


def _mean_jump_m_s(relative: Array, jump: Array, slide: Slide) -> float:
    """Return the mean relative velocity over the slips, in m/s."""
    cycle, scale = (signal[slide.first : slide.last + 1] for signal in (relative, jump))
    slid = cycle > slide.half
    inner = slid.copy()  # an edge lies somewhere within its sample and would count as a slow slip
    inner[1:] &= slid[:-1]
    inner[:-1] &= slid[1:]
    chosen = inner if inner.any() else slid
    return float((cycle * scale)[chosen].mean()) if chosen.any() else 0.0


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


def _cut(motion: Motion, first: int, after: int) -> Motion:
    """Return the samples from first to after (exclusive) as views."""
    names = ("bow_speed_m_s", "weight_n", "velocity_m_s", "slipping", "bridge_force_n", "sound")
    arrays = {name: getattr(motion, name)[first:after] for name in names}
    return replace(motion, start_s=motion.start_s + first / motion.rate_hz, **arrays)
