"""A plucked note told from a bowed one.

A plucked string is let go once: the level rises at once and only falls, and its partials are stretched by
the string's stiffness (f_n = n f_1 sqrt(1 + B n^2)), so their biphases turn. A bow locks the partials to
whole multiples: the biphases stand still, however short the stroke.
"""

from __future__ import annotations

import numpy as np

from colophony.listening.direction import Biphases
from colophony.listening.pitch import HOP_S, Floats
from colophony.listening.take import Evidence

_RISE_S = 0.08
_LOCKED = 0.8
_FEW_PAIRS = 6


def pluck_evidence(level_db: Floats, bi: Biphases, *, start_s: float) -> Evidence | None:
    """Return the evidence that a note from silence was plucked, or None.

    ``level_db`` holds the note's rows of 10 ms from ``start_s``, a few rows before its first included.
    """
    if len(level_db) < 6 or bi.pairs < _FEW_PAIRS:
        return None
    peak = int(np.argmax(level_db[: max(6, int(0.4 / HOP_S))]))
    high = float(level_db[peak])
    before = np.flatnonzero(level_db[: peak + 1] < high - 20.0)
    rise_s = (peak - (before[-1] if len(before) else 0)) * HOP_S
    near_top = np.flatnonzero(level_db[: peak + 1] < high - 3.0)
    rise_s -= (peak - (near_top[-1] + 1 if len(near_top) else 0)) * HOP_S
    after = level_db[peak:]
    if rise_s > _RISE_S or len(after) < 5:
        return None
    # It only falls: no later row rises again above what an earlier one had lost.
    smooth = np.convolve(np.pad(after, 2, mode="edge"), np.ones(5) / 5, "valid")
    lowest = np.minimum.accumulate(smooth)
    regained = float((smooth - lowest)[: max(5, int(1.5 / HOP_S))].max())
    within_6_db = int(np.argmax(after < high - 6.0)) if (after < high - 6.0).any() else len(after)
    decay_s = within_6_db * HOP_S
    if regained > 3.0 or decay_s > 0.6 or not (after < high - 6.0).any():
        return None
    top_s = start_s + peak * HOP_S
    locked = float(np.linalg.norm(bi.mean(top_s + 0.03, top_s + max(0.17, min(0.4, len(after) * HOP_S)))))
    quick = decay_s < 0.3
    if locked > (_LOCKED if quick else 0.6) or locked == 0.0:
        return None
    return Evidence("pluck_decay", {"decay_ms": round(1000 * decay_s), "locking": round(locked, 2)})
