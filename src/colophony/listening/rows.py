"""Level and pitch of a passage every 10 ms, and which rows hold sound at all."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colophony.listening.pitch import HOP, Floats, track_pitch

_RANGE_DB = 38.0  # below the loud rows by this much: silence, a tail or a room
_ABOVE_FLOOR_DB = 6.0
_BELOW_WHOLE_DB = 60.0
_SILENT_DB = -86.0  # re full scale: less than two steps of 16 bits


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """One value every 10 ms. ``floor_db`` is the level of the stretches without tone, if there are any."""

    level_db: Floats
    peak: Floats
    frequency_hz: Floats
    clarity: Floats
    sounding: NDArray[np.bool_]
    floor_db: float | None
    loud_db: float

    def __len__(self) -> int:
        return len(self.level_db)


def measure_rows(
    fine: Floats, *, loud_db: float | None, floor_db: float | None, whole_db: float = -120.0
) -> Rows:
    """Measure a passage at 48 kHz (see `colophony.listening.warp.refine_rate`).

    ``loud_db`` and ``floor_db`` are what earlier passages of the take showed. ``whole_db`` is the level
    with all that lies below hearing: far below it the filters' own ringing would be measured.
    """
    step = 2 * HOP
    count = len(fine) // step
    block = fine[: count * step].reshape(count, step)
    energy = np.einsum("ij,ij->i", block, block) / step
    if count >= 3:
        energy = np.convolve(np.pad(energy, 1, mode="edge"), np.ones(3) / 3, "valid")
    level = (10 * np.log10(np.maximum(energy, 1e-12))).astype(np.float32)
    peak = np.abs(block).max(axis=1) if count else np.empty(0, np.float32)

    here = float(np.percentile(level, 95)) if count else -120.0
    loud = here if loud_db is None else max(here, loud_db - 6.0)
    silent = max(_SILENT_DB, whole_db - _BELOW_WHOLE_DB)
    audible = level > max(loud - _RANGE_DB - 7.0, silent)
    pitch = track_pitch(np.ascontiguousarray(fine[::2]), sounding=audible)
    toneless = level[(pitch.clarity < 0.5) & (level < loud - 10.0)]
    if len(toneless) >= 15:
        floor_db = float(np.percentile(toneless, 60))
    threshold = max(loud - _RANGE_DB, silent)
    if floor_db is not None:
        threshold = max(threshold, floor_db + _ABOVE_FLOOR_DB)
    sounding = level > threshold
    return Rows(level, peak, pitch.frequency_hz, pitch.clarity, sounding, floor_db, loud)


def runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return the stretches of true values as (first, one past the last)."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def bridge_gaps(mask: NDArray[np.bool_], longest: int) -> NDArray[np.bool_]:
    """Return ``mask`` with inner gaps of up to ``longest`` rows filled."""
    filled = mask.copy()
    for start, end in runs(~mask):
        if start > 0 and end < len(mask) and end - start <= longest:
            filled[start:end] = True
    return filled


def drop_short(mask: NDArray[np.bool_], shortest: int) -> NDArray[np.bool_]:
    """Return ``mask`` without stretches shorter than ``shortest`` rows."""
    kept = mask.copy()
    for start, end in runs(mask):
        if end - start < shortest:
            kept[start:end] = False
    return kept
