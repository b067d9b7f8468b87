"""Does a force repeat, and after how long: normalised autocorrelation of a few periods, by direct sums."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from colophony.physics.kernel.body import loop

#: So many points a period tell whether a force repeats; further detail only costs time.
POINTS = 200
#: Points that are taken together while a period is looked for roughly.
_COARSE = 4


class Points(NamedTuple):
    """The points that `thin` made of a force."""

    count: Any
    period: Any  #: points in a period of the free string
    deviation: Any  #: standard deviation, in the force's unit


@loop(sums=True)
def thin(lane, force, samples, samples_per_period, period, n):  # type: ignore[no-untyped-def]
    """Put means of a few samples each in the first rows of a force, less its straight trend."""
    real, zero = type(n.one), n.one - n.one
    wide = max(1, samples_per_period // POINTS)
    share = n.one / real(wide)
    count = samples // wide
    if count < 2:
        return Points(count, period * share, zero)
    if wide > 1:
        for i in range(count):
            total = zero
            for k in range(i * wide, (i + 1) * wide):
                total += force[k, lane]
            force[i, lane] = total * share
    number = real(count)
    half = n.half * (number - n.one)
    total, along, ramp = zero, zero, -half
    for i in range(count):
        total += force[i, lane]
        along += ramp * force[i, lane]
        ramp += n.one
    mean = total / number
    slope = along / (number * (number * number - n.one) * n.twelfth)
    energy, ramp = zero, -half
    for i in range(count):
        x = force[i, lane] - mean - slope * ramp
        force[i, lane] = x
        energy += x * x
        ramp += n.one
    return Points(count, period * share, math.sqrt(energy / number))


@loop(sums=True, inlined=True)
def _product(x, lane, first, after, lag, zero):  # type: ignore[no-untyped-def]
    """Return the sum of products of points with those a lag later."""
    column, total = np.uintp(lane), zero
    for i in range(after - lag - first):
        total += x[np.uintp(first + i), column] * x[np.uintp(first + lag + i), column]
    return total


@loop(sums=True, inlined=True)
def _four_products(x, lane, points, lag, zero):  # type: ignore[no-untyped-def]
    """Return the sums of products of all points with those a lag later, for this lag and the next three."""
    column = np.uintp(lane)
    a, b, c, d = zero, zero, zero, zero
    whole = points - lag - 3
    for i in range(whole):
        value = x[np.uintp(i), column]
        a += value * x[np.uintp(lag + i), column]
        b += value * x[np.uintp(lag + i + 1), column]
        c += value * x[np.uintp(lag + i + 2), column]
        d += value * x[np.uintp(lag + i + 3), column]
    # The shorter the lag, the more points have a partner.
    for k in range(3):
        value = x[whole + k, column]
        a += value * x[whole + k + lag, column]
        if k < 2:
            b += value * x[whole + k + lag + 1, column]
        if k < 1:
            c += value * x[whole + k + lag + 2, column]
    return a, b, c, d


@loop()
def _best_lag(x, lane, points, first, last, n):  # type: ignore[no-untyped-def]
    """Return the greatest correlation at a lag from first to last and that lag, between the points."""
    real, zero = type(n.one), n.one - n.one
    energy = _product(x, lane, 0, points, 0, zero)
    # Energies of the points at the beginning and at the end that have no partner.
    lag = first - 1
    head = _product(x, lane, 0, lag, 0, zero)
    tail = _product(x, lane, points - lag, points, 0, zero)
    before, best, left, right, at, latest = zero, -n.one - n.one, zero, zero, first, False
    while lag <= last + 1:
        products = _four_products(x, lane, points, lag, zero)
        for k in range(4):
            both = (energy - head) * (energy - tail)
            now = products[k] / math.sqrt(max(both, n.tiny))
            if latest:
                right, latest = now, False
            if first <= lag <= last and now > best:
                best, left, at, latest = now, before, lag, True
            before = now
            head += x[lag, lane] * x[lag, lane]
            tail += x[points - 1 - lag, lane] * x[points - 1 - lag, lane]
            lag += 1
    bend = left - (best + best) + right
    shift = zero
    if bend < zero:
        shift = min(max(n.half * (left - right) / bend, -n.half), n.half)
    return min(n.one, best - n.half * n.half * (left - right) * shift), real(at) + shift


@loop(inlined=True)
def _longest_lag(points, n):  # type: ignore[no-untyped-def]
    """Return the lag below which enough of the window is left to tell."""
    return min(int(n.long_to * points.period) + 2, points.count - int(points.period + points.period))


@loop()
def next_period(lane, x, points, silence, n):  # type: ignore[no-untyped-def]
    """Return how well points repeat after about one period, and after how long, in periods.

    What swings less than ``silence`` (standard deviation, in the force's unit) repeats nothing.
    """
    if _longest_lag(points, n) < n.next_to * points.period or points.deviation <= silence:
        return n.one - n.one, n.one
    first, last = int(n.next_from * points.period + n.half), int(n.next_to * points.period + n.half)
    best, lag = _best_lag(x, lane, points.count, first, last, n)
    return best, lag / points.period


@loop(sums=True)
def _coarsen(lane, x, count, coarse):  # type: ignore[no-untyped-def]
    for j in range(count):
        total = x[j * _COARSE, lane]
        for k in range(1, _COARSE):
            total += x[j * _COARSE + k, lane]
        coarse[j, lane] = total


@loop()
def long_period(lane, x, coarse, points, silence, near, n):  # type: ignore[no-untyped-def]
    """Return the first lag beyond one period at which the motion repeats clearly better, in periods, or 0.

    ``near`` is the correlation after one period. Looked for with sums of a few points, which are put into
    the first rows of ``coarse``, then near their crests with all.
    """
    zero = n.one - n.one
    wanted = max(n.long_correlation, near + n.long_gain)
    longest = _longest_lag(points, n)
    if longest < n.next_to * points.period or points.deviation <= silence or wanted > n.one:
        return zero
    count = points.count // _COARSE
    _coarsen(lane, x, count, coarse)
    energy = _product(coarse, lane, 0, count, 0, zero)
    lag = int(n.long_from * points.period) // _COARSE - 1
    head = _product(coarse, lane, 0, lag, 0, zero)
    tail = _product(coarse, lane, count - lag, count, 0, zero)
    before, crest = zero, zero
    while lag * _COARSE < longest:
        both = (energy - head) * (energy - tail)
        now = _product(coarse, lane, 0, count, lag, zero) / math.sqrt(max(both, n.tiny))
        if before < crest >= now and crest >= wanted - n.coarse_loss:
            middle = (lag - 1) * _COARSE
            best, at = _best_lag(x, lane, points.count, middle - _COARSE, middle + _COARSE, n)
            if best >= wanted and at >= n.long_from * points.period:
                return at / points.period
        before, crest = crest, now
        head += coarse[lag, lane] * coarse[lag, lane]
        tail += coarse[count - 1 - lag, lane] * coarse[count - 1 - lag, lane]
        lag += 1
    return zero
