"""Where the string lets go of the bow: onsets of slips, between samples.

A slip begins where a signal in units of the ideal one (0 while sticking, 1 while slipping) rises above
one level after it had been below a lower one; ripples between the two levels do not count. Counting
such onsets in the bow-point velocity follows J. Woodhouse, "On the playability of violins. Part II",
Acustica 78, 137-153 (1993); counting flybacks in the bridge force follows P. M. Galluzzo, PhD thesis,
University of Cambridge (2004), and P. M. Galluzzo and J. Woodhouse, Acta Acust. u. Acust. 100, 139-153
(2014). Both are read in secondary texts; levels and gates are our own (`colophony.physics.regimes.rules`).

The loops here and beside take one column ``[:, lane]`` of arrays whose last axis is the lane, and ``n``, the
`Rules` in the precision of these arrays; ``period`` is the number of samples a period of the free string.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from colophony.physics.kernel.body import loop


class Slips(NamedTuple):
    """The slips in a window, in order of time."""

    count: Any
    first: Any  #: onset of the first, in samples with a fraction
    last: Any  #: onset of the last
    mean: Any  #: of the intervals between onsets, in periods
    spread: Any  #: standard deviation of the intervals, in periods
    period: Any  #: slope of onset against number by least squares, in periods: steadier than the mean
    height: Any  #: mean of the peaks but for the last, which the window may cut off; ideal 1


@loop(inlined=True)
def extent(signal, lane, first, after):  # type: ignore[no-untyped-def]
    """Return the least and the greatest sample from ``first`` to before ``after``."""
    # Four at a time, since each comparison waits for the one before it.
    low_a = low_b = low_c = low_d = signal[first, lane]
    high_a = high_b = high_c = high_d = low_a
    at = first
    while at + 4 <= after:
        a, b, c, d = signal[at, lane], signal[at + 1, lane], signal[at + 2, lane], signal[at + 3, lane]
        low_a = a if a < low_a else low_a
        low_b = b if b < low_b else low_b
        low_c = c if c < low_c else low_c
        low_d = d if d < low_d else low_d
        high_a = a if a > high_a else high_a
        high_b = b if b > high_b else high_b
        high_c = c if c > high_c else high_c
        high_d = d if d > high_d else high_d
        at += 4
    while at < after:
        a = signal[at, lane]
        low_a = a if a < low_a else low_a
        high_a = a if a > high_a else high_a
        at += 1
    return min(min(low_a, low_b), min(low_c, low_d)), max(max(high_a, high_b), max(high_c, high_d))


@loop(inlined=True)
def _quantile(ordered, lane, count, share):  # type: ignore[no-untyped-def]
    """Return the value that a share of the ordered ones do not exceed, with straight lines between them."""
    real = type(share)
    place = share * real(count - 1)
    below = min(int(place), count - 1)
    above = min(below + 1, count - 1)
    low = ordered[below, lane]
    return low + (place - real(below)) * (ordered[above, lane] - low)


@loop()
def top_of(lane, signal, samples, samples_per_period, tops, n):  # type: ignore[no-untyped-def]
    """Return the greatest value in a period, the median over whole periods.

    Where most periods hold no slip, because the string slips every second to fourth time, it is that of
    the periods that do. ``tops`` [periods, lanes] is written over.
    """
    zero = n.one - n.one
    periods = samples // samples_per_period
    if periods == 0:
        greatest = zero
        if samples > 0:
            greatest = max(greatest, extent(signal, lane, 0, samples)[1])
        return greatest
    for p in range(periods):
        first = p * samples_per_period
        greatest = extent(signal, lane, first, first + samples_per_period)[1]
        place = p
        while place > 0 and tops[place - 1, lane] > greatest:
            tops[place, lane] = tops[place - 1, lane]
            place -= 1
        tops[place, lane] = greatest
    middle = _quantile(tops, lane, periods, n.half)
    upper = _quantile(tops, lane, periods, n.upper)
    return middle if middle >= n.half * upper else upper


@loop(inlined=True)
def next_slip(signal, lane, at, after, stuck, peak, onset, release):  # type: ignore[no-untyped-def]
    """Go on from sample ``at`` to the next one that begins a slip, or to ``after``.

    Returns that place, whether the string was last seen to stick, and the greatest of ``peak`` and what was
    passed while it was not.
    """
    while at < after:
        if stuck:
            while at < after and not signal[at, lane] > onset:
                at += 1
            return at, stuck, peak
        while at < after and not signal[at, lane] < release:
            value = signal[at, lane]
            peak = value if value > peak else peak
            at += 1
        stuck = at < after
    return at, stuck, peak


@loop()
def count_slips(lane, signal, samples, period, top, levels, n):  # type: ignore[no-untyped-def]
    """Return the `Slips` in a signal that is 0 while the string sticks and 1 in the ideal slip.

    A slip that is under way as the window begins is not counted. ``top`` as `top_of` tells it.
    """
    real, zero = type(n.one), n.one - n.one
    onset = min(levels.onset, n.weak_share * max(top, n.least_top))
    release = min(levels.release, n.weak_release * onset)
    nearest = levels.merge * period
    count, rose = 0, 0
    first, last, peak, heights = zero, zero, zero, zero
    # Intervals less one period, and how far onsets stray from one slip a period: small in a tone.
    off, off_squared, stray, stray_by_number = zero, zero, zero, zero
    at, stuck = 0, False
    while True:
        at, stuck, peak = next_slip(signal, lane, at, samples, stuck, peak, onset, release)
        if at >= samples:
            break
        apart = count == 0 or real(at - rose) >= nearest
        rose, stuck = at, False
        if apart:
            below, above = signal[at - 1, lane], signal[at, lane]
            place = real(at - 1) + (onset - below) / (above - below)
            if count == 0:
                first = place
            else:
                interval = (place - last) / period - n.one
                off += interval
                off_squared += interval * interval
                heights += peak
                strays = (place - first) / period - real(count)
                stray += strays
                stray_by_number += real(count) * strays
            last, peak = place, above
            count += 1
    mean, spread, slope = zero, zero, zero
    if count > 1:
        intervals = real(count - 1)
        off /= intervals
        mean = n.one + off
        spread = math.sqrt(max(off_squared / intervals - off * off, zero))
        squares = intervals * (intervals + n.one) * (intervals + n.one + n.one) * n.twelfth
        slope = n.one + (stray_by_number - n.half * intervals * stray) / squares
        peak = heights / intervals
    return Slips(count, first, last, mean, spread, slope, peak)
