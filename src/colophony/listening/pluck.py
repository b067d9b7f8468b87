"""A plucked note told from a bowed one.

A plucked string is let go once: the level rises at once and only falls, and its partials are stretched by
the string's stiffness (f_n = n f_1 sqrt(1 + B n^2)), so their biphases turn. A bow locks the partials to
whole multiples: the biphases stand still, however short the stroke.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from colophony.listening.direction import Biphases
from colophony.listening.pitch import HOP_S, Floats
from colophony.listening.take import Evidence

_RISE_S = 0.08
_LOCKED = 0.93
_SLOWEST_DECAY_S = 0.8
_STEP_ROWS = 30
_LEAST_DROP_DB = 1.0
_LONGEST_PLATEAU = 0.5
_FEW_PAIRS = 6


def pluck_evidence(level_db: Floats, bi: Biphases, *, start_s: float, end_s: float) -> Evidence | None:
    """Return the evidence that a note between two silences was plucked, or None.

    Its level must fall from its start (see `falls_from_start`).

    ``level_db`` holds the note's rows of 10 ms from ``start_s``, a few rows before its first included;
    ``end_s`` is where the sound ends.
    """
    if bi.pairs < _FEW_PAIRS:
        return None
    peak = _peak(level_db)
    decay_s = int(np.argmax(level_db[peak:] < level_db[peak] - 6.0)) * HOP_S
    if _plateau(level_db) > _LONGEST_PLATEAU:
        return None
    top_s = start_s + peak * HOP_S
    locked = float(np.linalg.norm(bi.mean(top_s + 0.03, min(top_s + 0.5, end_s - 0.02))))
    if locked == 0.0 or locked > _LOCKED:
        return None
    return Evidence("pluck_decay", {"decay_ms": round(1000 * decay_s), "locking": round(locked, 2)})


def falls_from_start(level_db: Floats) -> bool:
    """Whether the level rises at once and then only falls, as when a string is let go or struck."""
    if len(level_db) < 6:
        return False
    peak = _peak(level_db)
    high = float(level_db[peak])
    low_before = np.flatnonzero(level_db[: peak + 1] < high - 20.0)
    near_top = np.flatnonzero(level_db[: peak + 1] > high - 3.0)
    rise_s = (int(near_top[0]) - (int(low_before[-1]) if len(low_before) else 0)) * HOP_S
    after = level_db[peak:].astype(np.float64)
    fallen = np.flatnonzero(after < high - 6.0)
    if rise_s > _RISE_S or len(after) < 5 or len(fallen) == 0:
        return False
    return int(fallen[0]) * HOP_S <= _SLOWEST_DECAY_S and _only_falls(after)


def _plateau(level_db: Floats) -> float:
    """Return the time within 3 dB of the peak as a share of that within 10 dB: 0.3 for free decay.

    A bow keeps the level up and then lets it go, however short the stroke.
    """
    near, far = (int((level_db > level_db.max() - depth).sum()) for depth in (3.0, 10.0))
    return near / max(far, 1)


def _peak(level_db: Floats) -> int:
    return int(np.argmax(level_db[: max(6, int(0.4 / HOP_S))]))


def _only_falls(level_db: NDArray[np.float64]) -> bool:
    """Whether every third of a second is quieter than the one before, down to 25 dB or 1.5 s."""
    smooth = np.convolve(np.pad(level_db, 2, mode="edge"), np.ones(5) / 5, "valid")[: int(1.5 / HOP_S)]
    down = np.flatnonzero(smooth < smooth[0] - 25.0)
    smooth = smooth[: down[0]] if len(down) else smooth
    if len(smooth) <= _STEP_ROWS:
        return True
    drops = smooth[:-_STEP_ROWS] - smooth[_STEP_ROWS:]
    return bool(drops.min() > _LEAST_DROP_DB)
