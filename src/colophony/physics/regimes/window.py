"""Read one window of one run: the loops behind `read_motion`, `read_bridge_force` and `read_block`.

They use up the arrays they are given.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from colophony.physics.kernel.body import loop
from colophony.physics.regimes.judge import ASK_LONGER, Evidence, judge
from colophony.physics.regimes.repetition import long_period, next_period, thin
from colophony.physics.regimes.rules import HELMHOLTZ, LOW_ANOMALOUS, MULTIPLE_SLIP, NOISE, RAUCOUS, S_MOTION
from colophony.physics.regimes.slips import count_slips, extent, top_of


class Setting(NamedTuple):
    """What is known of a run beside its waveforms."""

    samples_per_period: Any  #: whole number
    period: Any  #: the same in the run's precision
    beta: Any
    ideal_step: Any  #: 2 Z0 |vb| / beta, mean over the window, N; 0 where the bow stands
    bowed: Any  #: the bow lies on the string


class Slide(NamedTuple):
    """How the bow slides over the string in the whole cycles between the first and the last onset."""

    first: Any  #: sample of the first onset
    last: Any
    half: Any  #: half the mean height of the slips: above it the string slips
    fraction: Any  #: of the time
    travel_share: Any  #: of the relative motion, made in slips


class Seen(NamedTuple):
    """What one window shows."""

    state: Any  #: index into `STATES`
    period: Any  #: after which the motion repeats, in periods of the free string; 0 where it does not
    slips_per_period: Any
    slip_fraction: Any
    height: Any  #: mean height of the slips but for the last, ideal 1
    step_n: Any  #: of the bridge force within a period, mean over periods, N
    correlation: Any  #: of the bridge force from period to period


@loop(sums=True)
def slide_of(lane, relative, samples, slips, top, n):  # type: ignore[no-untyped-def]
    """Return the `Slide` of a velocity of the bow over the string, ideal 1 in the slip."""
    real, zero = type(n.one), n.one - n.one
    first, last = 0, samples - 1
    if samples == 0:
        return Slide(first, last, zero, zero, zero)
    if slips.count > 1:
        first, last = int(slips.first), int(slips.last)
    level = n.half * top
    column, samples = np.uintp(lane), last - first + 1
    total, number = zero, zero
    for i in range(samples):
        value = relative[np.uintp(first + i), column]
        counts = n.one if value > level else zero  # as a factor, which becomes vector instructions
        total += counts * value
        number += counts
    half = n.half * total / max(number, n.one)
    # Of the time and of the travel; between the samples the time goes by straight lines.
    above, travel, slid = zero, max(relative[last, lane], zero), zero
    if travel > half:
        slid = travel
    for i in range(samples - 1):
        value = relative[np.uintp(first + i), column]
        a, b = value - half, relative[np.uintp(first + i + 1), column] - half
        high, low = (a, b) if a > b else (b, a)
        above += n.one if low >= zero else (high / (high - low) if high > zero else zero)
        travel += value if value > zero else zero
        slid += value if value > half else zero
    return Slide(first, last, half, above / max(real(samples - 1), n.one), slid / max(travel, n.tiny))


@loop()
def read_velocity(lane, relative, force, samples, tops, setting, n):  # type: ignore[no-untyped-def]
    """Return what a window shows in one lane by the velocity under the bow, and its `Slide`.

    ``relative`` is in units of the ideal jump, ``force`` in N, ``tops`` [periods, lanes] is written over.
    """
    top = top_of(lane, relative, samples, setting.samples_per_period, tops, n)
    slips = count_slips(lane, relative, samples, setting.period, top, n.velocity, n)
    slide = slide_of(lane, relative, samples, slips, top, n)
    seen = _conclude(
        lane, force, relative, samples, slips, top, slide.fraction, slide.travel_share, False, setting, n
    )
    return seen, slide


@loop()
def read_flybacks(lane, drop, force, samples, tops, setting, n):  # type: ignore[no-untyped-def]
    """Return what a window shows in one lane by the force on the bridge alone.

    ``drop`` is how far the force falls within a short while, in units of the ideal flyback.
    """
    zero = n.one - n.one
    top = top_of(lane, drop, samples, setting.samples_per_period, tops, n)
    slips = count_slips(lane, drop, samples, setting.period, top, n.flyback, n)
    # The string comes back to its place: what it loses in slips it regains at the speed of the bow.
    fraction = min(n.one, setting.beta / slips.height) if slips.height > zero else zero
    return _conclude(lane, force, drop, samples, slips, top, fraction, n.one, True, setting, n)


@loop()
def _conclude(  # type: ignore[no-untyped-def]
    lane, force, spare, samples, slips, top, fraction, travel_share, by_force, setting, n
):
    """Judge a window and gather what is read from the bridge force whichever reader asks.

    Read by the force, the step at the bridge tells the strength: a flyback that takes its time, as on a short
    string, is a full one none the less.
    """
    real, zero = type(n.one), n.one - n.one
    ideal_step, period = setting.ideal_step, setting.period
    length = min(int(max(n.one, slips.mean) * period + n.half), samples)
    step, stretches = zero, samples // max(length, 1)
    for stretch in range(stretches):
        low, high = extent(force, lane, stretch * length, (stretch + 1) * length)
        step += high - low
    step /= real(max(stretches, 1))
    points = thin(lane, force, samples, setting.samples_per_period, period, n)
    silence = n.silence * ideal_step
    correlation, next_one = next_period(lane, force, points, silence, n)
    state, repeats, longer = NOISE, zero, zero
    if setting.bowed and samples > 0 and ideal_step > zero:
        ratio = step / ideal_step
        strength = ratio if by_force else top
        evidence = Evidence(top, strength, correlation, travel_share, fraction / setting.beta, ratio)
        state = judge(slips, evidence, n)
        if state in (ASK_LONGER, LOW_ANOMALOUS):
            longer = long_period(lane, force, spare, points, silence, correlation, n)
            state = LOW_ANOMALOUS if state == LOW_ANOMALOUS or longer > zero else RAUCOUS
        if state in (HELMHOLTZ, S_MOTION):
            repeats = slips.period
        elif state == LOW_ANOMALOUS:
            repeats = longer if longer > zero else slips.period
        elif state == MULTIPLE_SLIP and slips.spread < n.steady * slips.period:
            repeats = slips.period
        elif state == MULTIPLE_SLIP and correlation >= n.drifts:
            repeats = next_one
    rate = real(slips.count) * period / real(max(samples, 1))
    if slips.count > 1:
        rate = real(slips.count - 1) * period / (slips.last - slips.first)
    return Seen(state, repeats, rate, fraction if slips.count > 0 else zero, slips.height, step, correlation)
