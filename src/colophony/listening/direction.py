"""When the bow turned: the reversal of the string's sawtooth, heard through any body and room.

Turning the bow turns the Helmholtz sawtooth upside down: every harmonic gains a phase of pi (the sign of
the bridge force follows the sign of the bow's velocity; Woodhouse, Euphonics, section 9.4.2, eqs. 1-2).
A shift in time changes phases in proportion to the harmonic's number and cancels in the biphase
``phi_h + phi_k - phi_(h+k)``; body, microphone and room add a constant. So a reversal flips every biphase
by pi, and the flip lasts as long as the stroke.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colophony.listening.warp import Periods

_HIGHEST_PAIR = 12
_TURNED = -0.35
_TURNED_QUICKLY = -0.6  # over 90 ms to either side, for quick strokes
_SURE = -0.7
_PLACE_S = 0.09
_LEAST_APART_S = 0.22
_LASTS_S = 0.75
_LONG_STROKE_S = 0.4
_LOCKED = 0.4
_LOOSE = 0.3
_STAYS_TURNED = -0.3
_CLEAR_DIP_DB = 3.5
_DIP_NEAR_S = 0.07


@dataclass(frozen=True, slots=True, eq=False)
class Biphases:
    """Biphases of one note every 5 ms: ``vectors`` has shape (times, pairs), each row of length 1."""

    times_s: NDArray[np.float64]
    vectors: NDArray[np.complex64]
    level_db: NDArray[np.float64]

    @property
    def pairs(self) -> int:
        """Number of pairs of harmonics; below 4 nothing certain can be said."""
        return self.vectors.shape[1]

    def mean(self, start_s: float, end_s: float) -> NDArray[np.complex64]:
        """Return the mean vector between two times: its length (0 to 1) tells how steady the phases were."""
        inside = (self.times_s >= start_s) & (self.times_s < end_s)
        if not inside.any():
            return np.zeros(self.pairs, np.complex64)
        return self.vectors[inside].mean(axis=0)


@dataclass(frozen=True, slots=True)
class Reversal:
    """The bow turned at ``time_s``; ``score`` is -1 for a perfect flip of all biphases."""

    time_s: float
    score: float


def biphases(periods: Periods) -> Biphases:
    """Return the biphases of a note's harmonics over blocks of 30 ms and at least four periods."""
    block = periods.per(0.030, least=4)
    hop = periods.per(0.005, least=1)
    highest = min(_HIGHEST_PAIR, periods.harmonics.shape[1])
    first, second = (
        np.array([(h, k) for h in range(1, highest) for k in range(h, highest + 1 - h)], dtype=int)
        .reshape(-1, 2)
        .T
    )
    count = len(periods.times_s)
    if count < block + 1 or len(first) == 0:
        return Biphases(np.empty(0), np.empty((0, len(first)), np.complex64), np.empty(0))
    total = np.cumsum(np.pad(periods.harmonics[:, :highest].astype(np.complex128), ((1, 0), (0, 0))), axis=0)
    starts = np.arange(0, count - block + 1, hop)
    a = (total[starts + block] - total[starts]) / block
    times = 0.5 * (periods.times_s[starts] + periods.times_s[starts + block - 1])
    product = a[:, first - 1] * a[:, second - 1] * a[:, first + second - 1].conj()
    size = np.abs(product)
    vector = product / np.maximum(size ** (2 / 3), 1e-30)
    vector /= np.maximum(np.linalg.norm(vector, axis=1, keepdims=True), 1e-30)
    level = 10 * np.log10(np.maximum((np.abs(a) ** 2).sum(axis=1), 1e-14))
    return Biphases(times, vector.astype(np.complex64), level)


def likeness(one: NDArray[np.complex64], other: NDArray[np.complex64]) -> float:
    """Return the cosine between two mean biphase vectors: 1 for the same way, -1 for the other, 0 unknown."""
    size = float(np.linalg.norm(one) * np.linalg.norm(other))
    return float(np.vdot(one, other).real) / size if size > 1e-9 else 0.0


def find_reversals(bi: Biphases) -> list[Reversal]:
    """Return the reversals inside one note, in order of time."""
    if bi.pairs < 2 or len(bi.times_s) < 40:
        return []
    slow = _turn_score(bi, inner_s=0.05, outer_s=0.25)
    quick = _turn_score(bi, inner_s=0.03, outer_s=0.12)
    found: list[Reversal] = []
    for at in _minima(np.minimum(slow, quick + _TURNED - _TURNED_QUICKLY), _TURNED):
        near = np.abs(bi.times_s - bi.times_s[at]) <= _PLACE_S
        around = np.abs(bi.times_s - bi.times_s[at]) <= 0.25
        depth = float(np.median(bi.level_db[around]) - bi.level_db[near].min())
        if not _is_turn(float(slow[at]), float(quick[at]), depth, bi.pairs):
            continue
        turn = Reversal(float(bi.times_s[at]), float(min(slow[at], quick[at])))
        if found and turn.time_s - found[-1].time_s < _LEAST_APART_S:
            both_sure = max(turn.score, found[-1].score) < _SURE
            if not both_sure or turn.time_s - found[-1].time_s < _PLACE_S:
                found[-1] = min(found[-1], turn, key=lambda r: r.score)
                continue
        found.append(turn)
    placed: list[Reversal] = []
    for turn in (_placed(bi, turn) for turn in _lasting(bi, found)):
        if placed and turn.time_s - placed[-1].time_s < _PLACE_S:
            placed[-1] = min(placed[-1], turn, key=lambda r: r.score)
        else:
            placed.append(turn)
    return placed


def _lasting(bi: Biphases, turns: list[Reversal]) -> list[Reversal]:
    """Drop, weakest first, the turns after which the biphases do not stay flipped.

    Vibrato in a reverberant room shakes the biphases for a moment; a bow that turned keeps them turned.
    """
    kept = list(turns)
    for turn in sorted(turns, key=lambda r: -r.score):
        at = kept.index(turn)
        before = max(kept[at - 1].time_s if at else bi.times_s[0], turn.time_s - _LASTS_S)
        after = min(kept[at + 1].time_s if at + 1 < len(kept) else bi.times_s[-1], turn.time_s + _LASTS_S)
        short = min(turn.time_s - before, after - turn.time_s) < _LONG_STROKE_S
        gap = 0.03 if short else 0.06
        one, other = bi.mean(before + gap, turn.time_s - gap), bi.mean(turn.time_s + gap, after - gap)
        locked = min(float(np.linalg.norm(one)), float(np.linalg.norm(other)))
        sure = short or locked < _LOOSE
        if likeness(one, other) > (_SURE if sure else _STAYS_TURNED) or (short and locked < _LOCKED):
            kept.pop(at)
    return kept


def _placed(bi: Biphases, turn: Reversal) -> Reversal:
    """Place a turn where the biphases change sides, or in a clear dip of the level close to that."""
    t = bi.times_s
    one = bi.mean(turn.time_s - 0.3, turn.time_s - 0.06)
    other = bi.mean(turn.time_s + 0.06, turn.time_s + 0.3)
    window = np.flatnonzero(np.abs(t - turn.time_s) <= 0.15)
    side = (bi.vectors[window] @ (one - other).conj()).real
    flip = window[int(np.argmax(np.cumsum(side)))]
    near = np.flatnonzero(np.abs(t - t[flip]) <= _DIP_NEAR_S)
    dip = near[int(np.argmin(bi.level_db[near]))]
    around = np.abs(t - t[flip]) <= 0.25
    clear = float(np.median(bi.level_db[around]) - bi.level_db[dip]) > _CLEAR_DIP_DB
    return Reversal(float(t[dip] if clear else t[flip]), turn.score)


def _is_turn(slow: float, quick: float, dip_db: float, pairs: int) -> bool:
    """Decide on one minimum: the fewer harmonics, the more it takes, a dip in the level included."""
    if pairs < 6:
        return slow < -0.9 or (slow < _TURNED_QUICKLY and dip_db > 6.0)
    if pairs < 12:
        return slow < _TURNED_QUICKLY and dip_db > 2.5
    return slow < _TURNED or (pairs >= 16 and quick < _SURE and dip_db > 3.0)


def _turn_score(bi: Biphases, *, inner_s: float, outer_s: float) -> NDArray[np.float64]:
    """Return at each time the likeness of the biphases before and after it (1 where there are too few)."""
    total = np.cumsum(np.pad(bi.vectors.astype(np.complex128), ((1, 0), (0, 0))), axis=0)
    t = bi.times_s

    def mean(start: NDArray[np.float64], end: NDArray[np.float64]) -> NDArray[np.complex128]:
        i, j = np.searchsorted(t, start), np.searchsorted(t, end)
        enough = (end - start > 0) & (j - i >= 0.4 * (outer_s - inner_s) / max(t[1] - t[0], 1e-4))
        sums = total[j] - total[i]
        return np.where(enough[:, None], sums / np.maximum(j - i, 1)[:, None], 0)

    before, after = mean(t - outer_s, t - inner_s), mean(t + inner_s, t + outer_s)
    size = np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1)
    cosine = (before.conj() * after).sum(axis=1).real / np.maximum(size, 1e-9)
    # Two vectors that are not steady in themselves tell nothing.
    return np.where(size > 0.09, cosine, 1.0)


def _minima(score: NDArray[np.float64], below: float) -> list[int]:
    low = np.flatnonzero(score < below)
    if len(low) == 0:
        return []
    groups = np.split(low, np.flatnonzero(np.diff(low) > 4) + 1)
    return [int(group[np.argmin(score[group])]) for group in groups]
