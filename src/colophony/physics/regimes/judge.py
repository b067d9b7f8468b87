"""From counted slips to a state: the same questions whether velocity or bridge force was read.

The order of the questions follows the published classifiers: is there a slip cycle; does the motion
repeat from period to period; how many slips are there in a period (J. Woodhouse, Acustica 78, 137-153,
1993); is the step at the bridge that of the ideal motion (Galluzzo and Woodhouse, Acta Acust. u. Acust.
100, 139-153, 2014); is the period longer than the string's own (Hanson, Schneider and Halgedahl, Catgut
Acoust. Soc. J. 2(6), 1994). The numbers are our own.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from colophony.physics.kernel.body import loop
from colophony.physics.regimes.rules import (
    HELMHOLTZ,
    LOW_ANOMALOUS,
    MULTIPLE_SLIP,
    NOISE,
    RAUCOUS,
    S_MOTION,
)

#: Not a state: the motion is low-anomalous if it repeats after a longer period, raucous if not.
ASK_LONGER = -1


class Evidence(NamedTuple):
    """What a reader measured in one window."""

    top: Any  #: height of the slips, ideal 1
    strength: Any  #: of the motion as a whole, ideal 1: height of the slips or step at the bridge
    correlation: Any  #: of the bridge force from one period to the next
    travel_share: Any  #: of the relative motion that is made in slips
    slip_ratio: Any  #: slip fraction / beta
    step_ratio: Any  #: peak to peak at the bridge / ideal


@loop()
def judge(slips, seen, n):  # type: ignore[no-untyped-def]
    """Return the state that the evidence speaks for, or `ASK_LONGER`."""
    if slips.count < 3 or seen.top < n.least or seen.travel_share < n.least_share:
        return NOISE
    if n.once_from <= slips.mean <= n.once_to and slips.spread < n.steady:
        return _once_a_period(seen, n)
    if slips.mean > n.long_period and slips.spread < n.long_steady * slips.mean:
        return LOW_ANOMALOUS
    if slips.mean > n.once_from:
        return ASK_LONGER
    if slips.mean < n.once_from and seen.top < n.shared and seen.correlation >= n.drifts:
        return MULTIPLE_SLIP
    return RAUCOUS


@loop(inlined=True)
def _once_a_period(seen, n):  # type: ignore[no-untyped-def]
    if seen.correlation < n.repeats:
        return RAUCOUS
    if seen.strength < n.full:
        return NOISE
    if seen.slip_ratio < n.short_slip or seen.step_ratio > n.tall_step:
        return S_MOTION
    return HELMHOLTZ
