"""How a stroke began: the time until the periods look like those that follow.

The published limits are K. Guettler and A. Askenfelt, "Acceptance limits for the duration of
pre-Helmholtz transients in bowed string attacks", JASA 101(5), 2903-2913 (1997). Sound through a body and
a room resolves the settling time only to about 15 periods, so a grade is given, with its uncertainty.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from colophony.listening.take import Onset
from colophony.listening.warp import Periods
from colophony.physics.limits import guettler_1997

_ALIKE = 0.85
_ALIKE_SPREAD = 0.04
_LEAST_ALIKE = 0.5
_UNCERTAIN_PERIODS = 15
_UNCERTAIN_S = 0.03
#: After a turn of the bow the last stroke still rings in body and room.
_RINGS_S = 0.15
_HEARD_S = 1.0
_LEAST_KIND_S = 0.05
_HIGHEST = 24

UNKNOWN_ONSET = Onset(None, None, None, "unknown", None)


def judge_onset(
    periods: Periods,
    *,
    octave_high_s: float,
    low_s: float,
    after_turn: bool,
    rough_start: bool,
) -> Onset:
    """Judge the start of a stroke whose periods begin with its first sound, or with the turn of the bow.

    ``octave_high_s`` and ``low_s`` tell how long the first moments sounded an octave or more above, or
    more than a semitone below, the settled note.
    ``rough_start`` tells that the periods were irregular: what a tracker heard in them then counts little.
    """
    pitch = periods.centre_hz
    if rough_start:
        octave_high_s = 0.0
    early = periods.per(_HEARD_S, least=20)
    likeness, alike = _likeness_and_limit(periods, 0.04, 0.10)
    if alike < _LEAST_ALIKE:
        likeness, alike = _likeness_and_limit(periods, 0.0, 0.012)
    if len(likeness) < 12 or alike < _LEAST_ALIKE:
        return UNKNOWN_ONSET
    likeness = likeness[:early]
    hold = periods.per(0.040, least=5)
    good = likeness > alike
    total = np.cumsum(np.concatenate([[0], good]))
    stays = np.flatnonzero(total[hold:] - total[:-hold] >= 0.9 * hold)
    uncertain_s = max(_UNCERTAIN_PERIODS / pitch, _UNCERTAIN_S) + (_RINGS_S if after_turn else 0.0)
    if len(stays) == 0:
        return Onset("very-slow", None, None, _kind(octave_high_s, low_s), None)
    # `stays` finds where a good stretch begins; a bad period right at its head still belongs to the start.
    first = int(stays[0])
    while first < len(good) - 1 and not good[first]:
        first += 1
    settling_s = float(periods.times_s[first] - periods.times_s[0])
    limit_slip = guettler_1997.acceptance_limit_s("slipping", pitch)
    limit_creak = guettler_1997.acceptance_limit_s("creaking", pitch)
    if settling_s <= limit_slip + uncertain_s:
        grade, kind = "clean", "clean"
    else:
        grade = "slow" if settling_s <= 2.5 * limit_slip + uncertain_s else "very-slow"
        kind = _kind(octave_high_s, low_s)
    limit = limit_creak if kind == "creaking" else limit_slip
    within: bool | None = None
    if settling_s + uncertain_s <= limit:
        within = True
    elif settling_s - uncertain_s > limit:
        within = False
    return Onset(
        grade,  # type: ignore[arg-type]
        round(1000 * settling_s, 1),
        round(1000 * uncertain_s, 1),
        kind,  # type: ignore[arg-type]
        within,
    )


def _likeness_and_limit(periods: Periods, near_s: float, far_s: float) -> tuple[NDArray[np.float64], float]:
    """Return the likeness of each period to later ones, and from which value on it counts as settled.

    Vibrato through a body changes the wave all the time: what is usual later in the stroke is settled.
    """
    likeness = _likeness_to_later(periods, near_s, far_s)
    usual = likeness[periods.per(0.25, least=10) :]
    if len(usual) < 12:
        usual = likeness[len(likeness) // 2 :]
    if len(usual) == 0:
        return likeness, 0.0
    return likeness, min(_ALIKE, float(np.percentile(usual, 15)) - _ALIKE_SPREAD)


def _likeness_to_later(periods: Periods, near_s: float, far_s: float) -> NDArray[np.float64]:
    """Return for each period of the first seconds its likeness to the mean of those shortly after it.

    Compared with harmonics lifted by 3 dB an octave, and at the best lag, so that colour and slow drift of
    pitch drop out.
    """
    c = periods.harmonics[: periods.per(2 * _HEARD_S, least=40), :_HIGHEST]
    near, far = periods.per(near_s, least=1), periods.per(far_s, least=5)
    count = len(c) - far
    if count < 1:
        return np.empty(0)
    order = np.arange(1, c.shape[1] + 1)
    total = np.cumsum(np.pad(c.astype(np.complex128), ((1, 0), (0, 0))), axis=0)
    later = (total[far : far + count] - total[near : near + count]) / (far - near)
    now = c[:count]
    cross = order * now * later.conj()
    lags = 3 * (c.shape[1] + 1)
    spread = np.zeros((count, lags), np.complex128)
    spread[:, 1 : c.shape[1] + 1] = cross
    best = (np.fft.fft(spread, axis=1).real).max(axis=1)
    size = np.sqrt((order * np.abs(now) ** 2).sum(axis=1) * (order * np.abs(later) ** 2).sum(axis=1))
    return best / np.maximum(size, 1e-20)


def _kind(octave_high_s: float, low_s: float) -> Literal["creaking", "slipping", "unknown"]:
    """Tell too little weight from too much: slips above the note, or periods longer than the note's.

    The colour of the first moments would speak too, but too often wrongly through a room.
    """
    if octave_high_s >= _LEAST_KIND_S and octave_high_s >= low_s:
        return "slipping"
    return "creaking" if low_s >= _LEAST_KIND_S else "unknown"
