"""Read the start of a stroke: how long until the string slips once a period, and what went before.

The length is counted from the first slip to the last period that was not Helmholtz motion (P. M.
Galluzzo and J. Woodhouse, Acta Acust. u. Acust. 100, 139-153, 2014). The two kinds of poor start and the
lengths that players accept are those of K. Guettler and A. Askenfelt, J. Acoust. Soc. Am. 101(5),
2903-2913 (1997).

A stroke is read as it comes, piece by piece: `listen_on` takes a piece, `conclude` tells the start. All it
remembers are `ROWS` numbers a run, so that a start of any length can be read beside the engine.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from colophony.physics.kernel.body import loop
from colophony.physics.limits.guettler_1997 import is_accepted
from colophony.physics.motion import Motion
from colophony.physics.regimes.rules import (
    CLEAN,
    CREAKING,
    GOOD_PERIODS,
    SLIPPING,
    START_KINDS,
    UNKNOWN,
    StartKind,
    rules,
)
from colophony.physics.regimes.signals import column, ideal_jump_m_s, relative_velocity
from colophony.physics.regimes.slips import extent, next_slip

#: Rows of the memory. Of the run: its last sample, the greatest of the period under way, and how many periods
#: have passed and how many of them were tall.
_BEFORE, _GREATEST, _PERIODS, _TALL = range(4)
#: Of each of two counts of slips, the second by levels for weak ones: whether the string was seen to stick,
#: whether the judged periods are over, the sample of the last rise; slips, onset of the first and last,
#: height of the last; whether the interval before it was faulty; how many intervals in a row were good and
#: since which onset; periods undone in tall slips, and periods of faulty intervals.
_STUCK, _OVER, _ROSE, _SLIPS, _FIRST, _LAST, _PEAK, _FAULTY, _GOOD, _SINCE, _UNDONE, _FAULTS = range(12)
_COMMON, _COUNT = 4, 12
#: Numbers that are remembered of a run; all 0 before its first sample.
ROWS = _COMMON + 2 * _COUNT


class Told(NamedTuple):
    """How a start went; places and lengths in samples and periods, negative where there is none."""

    kind: Any  #: index into `START_KINDS`
    first_slip: Any  #: sample
    settling_periods: Any


@loop()
def listen_on(at, relative, first, samples, samples_per_period, period, memory, lane, n):  # type: ignore[no-untyped-def]
    """Take the next samples of the run in one lane, the first of which has the number ``first``.

    ``relative[:samples, at]`` velocity of the bow over the string, ideal 1 in the slip; ``memory``
    [`ROWS`, lanes]. Pieces come in order and without gaps, from the run's first sample on.
    """
    if samples == 0 or is_over(lane, memory, n):
        return
    _count_on(at, relative, first, samples, period, memory, lane, _COMMON, n.velocity, n)
    if memory[_TALL, lane] < (n.one - n.upper) * n.judged:
        _follow_periods(at, relative, first, samples, samples_per_period, memory, lane, n)
        _count_on(at, relative, first, samples, period, memory, lane, _COMMON + _COUNT, n.weak, n)
    memory[_BEFORE, lane] = relative[samples - 1, at]


@loop(inlined=True)
def is_over(lane, memory, n):  # type: ignore[no-untyped-def]
    """Whether nothing that comes can change how this run's start is told."""
    over = memory[_COMMON + _OVER, lane] > n.half
    weak_over = memory[_COMMON + _COUNT + _OVER, lane] > n.half
    return over and (weak_over or memory[_TALL, lane] >= (n.one - n.upper) * n.judged)


@loop()
def _follow_periods(at, relative, first, samples, samples_per_period, memory, lane, n):  # type: ignore[no-untyped-def]
    """Count the periods, and those that hold more than a weak slip."""
    row = 0
    while row < samples:
        end = min(samples, row + samples_per_period - (first + row) % samples_per_period)
        memory[_GREATEST, lane] = max(memory[_GREATEST, lane], extent(relative, at, row, end)[1])
        row = end
        if (first + row) % samples_per_period == 0:
            memory[_PERIODS, lane] += n.one
            if memory[_GREATEST, lane] >= n.weak_start:
                memory[_TALL, lane] += n.one
            memory[_GREATEST, lane] = n.one - n.one


@loop()
def _count_on(at, relative, first, samples, period, memory, lane, count, levels, n):  # type: ignore[no-untyped-def]
    """Count the slips of a piece by one set of levels; ``count`` is where its memory begins."""
    if memory[count + _OVER, lane] > n.half:
        return
    peak, rose = memory[count + _PEAK, lane], memory[count + _ROSE, lane]
    stuck = memory[count + _STUCK, lane] > n.half
    row, after = 0, samples
    while True:
        slips = memory[count + _SLIPS, lane]
        end = memory[count + _FIRST, lane] + n.judged * period
        if slips > n.half:
            after = min(samples, int(end) + 2 - first)
        row, stuck, peak = next_slip(relative, at, row, after, stuck, peak, levels.onset, levels.release)
        if row >= after:
            break
        below = relative[row - 1, at] if row > 0 else memory[_BEFORE, lane]
        above = relative[row, at]
        number = type(n.one)(first + row)
        place = number - n.one + (levels.onset - below) / (above - below)
        apart = slips < n.half or number - rose >= levels.merge * period
        rose, stuck = number, False
        if not apart:
            continue
        if slips < n.half:
            memory[count + _FIRST, lane] = place
            memory[count + _SINCE, lane] = place
        elif place > end:
            break
        else:
            interval = (place - memory[count + _LAST, lane]) / period
            _take_interval(lane, memory, count, place, interval, peak, n)
        memory[count + _SLIPS, lane] += n.one
        memory[count + _LAST, lane] = place
        peak = above
    if after < samples:
        memory[count + _OVER, lane] = n.one
    memory[count + _PEAK, lane] = peak
    memory[count + _ROSE, lane] = rose
    memory[count + _STUCK, lane] = n.one if stuck else n.one - n.one


@loop()
def _take_interval(lane, memory, count, place, interval, height, n):  # type: ignore[no-untyped-def]
    """Judge the interval that ends at ``place`` and the slip at its beginning.

    A string held too long lets go in a slip taller than the ideal one, and often in short ones after it,
    so that counting intervals alone would call it slipping. How tall a slip is, ideal 1, is how many
    periods of the bow's way it undoes.
    """
    faulty = interval < n.once_from or interval > n.once_to
    if (faulty or memory[count + _FAULTY, lane] > n.half) and height > n.once_to:
        memory[count + _UNDONE, lane] += height
    if faulty:
        memory[count + _FAULTS, lane] += interval
    if faulty or height < n.full:
        memory[count + _GOOD, lane] = n.one - n.one
        memory[count + _SINCE, lane] = place
    else:
        memory[count + _GOOD, lane] += n.one
    memory[count + _FAULTY, lane] = n.one if faulty else n.one - n.one


@loop()
def conclude(lane, samples, period, memory, n):  # type: ignore[no-untyped-def]
    """Return the `Told` start of a run of so many samples; its memory is used up.

    Where fewer than one period in five holds more than a weak slip, weak ones are counted too. A start creaks
    if tall slips undo half of the faulty time or more.
    """
    zero = n.one - n.one
    count = _COMMON
    if memory[_TALL, lane] < (n.one - n.upper) * min(memory[_PERIODS, lane], n.judged):
        count += _COUNT
    if memory[count + _SLIPS, lane] < n.half:
        return Told(UNKNOWN, -n.one, -n.one)
    first = memory[count + _FIRST, lane]
    end = min(samples - n.one, first + n.judged * period)
    hanging = (end - memory[count + _LAST, lane]) / period
    height = memory[count + _PEAK, lane]
    if hanging > n.ceased:  # the slips ceased before the end: a prolonged period too
        _take_interval(lane, memory, count, end, hanging, height, n)
        memory[count + _UNDONE, lane] += hanging
    elif memory[count + _FAULTY, lane] > n.half and height > n.once_to:
        memory[count + _UNDONE, lane] += height
    settling = -n.one
    if memory[count + _GOOD, lane] >= GOOD_PERIODS:
        settling = (memory[count + _SINCE, lane] - first) / period
    if zero <= settling <= n.clean:
        return Told(CLEAN, first, settling)
    faults = memory[count + _FAULTS, lane]
    kind = UNKNOWN
    if faults > zero:
        kind = CREAKING if memory[count + _UNDONE, lane] >= n.half * faults else SLIPPING
    return Told(kind, first, settling)


@dataclass(frozen=True, slots=True)
class Start:
    """How a stroke began. Times in seconds since the bow touched the string; lengths from the first slip.

    ``kind`` says what prevailed before the motion settled, or throughout if it never did: prolonged
    periods (``creaking``: too heavy for how fast the bow set out) or several slips a period
    (``slipping``: too light for it). ``unknown`` if the string never slipped, or slipped once a period
    too weakly.
    ``accepted`` says whether players accept a start of this kind and length (Guettler and Askenfelt
    1997); ``None`` where that question does not arise.
    """

    first_slip_s: float | None
    settling_s: float | None
    settling_periods: float | None
    kind: StartKind
    accepted: bool | None


def read_start(motion: Motion, *, judged_periods: float = 40.0) -> Start:
    """Read the start of a motion that begins with the bow on the string at rest.

    Parameters
    ----------
    judged_periods : how many periods after the first slip are judged; what happens later, a bow change
        say, is no part of the start
    """
    K = motion.samples_per_period
    relative = column(relative_velocity(motion, ideal_jump_m_s(motion)))
    memory, n = np.zeros((ROWS, 1)), rules(judged=float(judged_periods))
    listen_on(0, relative, 0, len(relative), K, float(K), memory, 0, n)
    told = conclude(0, len(relative), float(K), memory, n)
    if told.first_slip < 0.0:
        return Start(None, None, None, "unknown", None)
    kind = START_KINDS[told.kind]
    first_slip_s = motion.start_s + told.first_slip / motion.rate_hz
    if told.settling_periods < 0.0:
        return Start(first_slip_s, None, None, kind, None)
    seconds = told.settling_periods * K / motion.rate_hz
    accepted = True if kind == "clean" else None
    if kind == "creaking" or kind == "slipping":
        accepted = is_accepted(kind, settling_s=seconds, f0=motion.frequency_hz)
    return Start(first_slip_s, seconds, told.settling_periods, kind, accepted)
