"""Names for the pitches: the take's A4, the nearest notes, and the notes that were expected."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from colophony.units import ISO_16_A4_HZ, hz_to_midi, note_to_midi

LOWEST_A4_HZ, HIGHEST_A4_HZ = 415.0, 450.0
_LEAST_STROKES = 6
_LEAST_PITCHES = 4
_LEAST_AGREEMENT = 0.85


def find_a4(
    frequencies_hz: Sequence[float], weights: Sequence[float], *, lowest_open_hz: float | None = None
) -> float | None:
    """Return the A4 (Hz) that the strokes agree on, or None where they are too few or do not agree.

    The deviations from equal temperament are averaged on the circle of 100 cents, so the result lies
    within half a semitone of 440 Hz; when notes lie below the instrument's lowest string by half a
    semitone and more, a semitone lower is meant (415 Hz).
    """
    if len(frequencies_hz) < _LEAST_STROKES:
        return None
    midi = np.array([hz_to_midi(f) for f in frequencies_hz])
    if len(set(np.round(midi))) < _LEAST_PITCHES:
        return None
    weight = np.asarray(weights, np.float64)
    mean = (weight * np.exp(2j * np.pi * midi)).sum() / weight.sum()
    if abs(mean) < _LEAST_AGREEMENT:
        return None
    offset = float(np.angle(mean) / (2 * np.pi))  # semitones
    if lowest_open_hz is not None and midi.min() < hz_to_midi(lowest_open_hz) - 0.5:
        offset -= 1.0 if offset > -0.5 else 0.0
    a4 = ISO_16_A4_HZ * 2 ** (offset / 12)
    return round(a4, 1) if LOWEST_A4_HZ - 0.5 <= a4 <= HIGHEST_A4_HZ + 0.5 else None


def align(heard: Sequence[float | None], expected: Sequence[str], *, a4_hz: float) -> list[int | None]:
    """Return for each stroke (pitch in Hz or None) the index of the expected note it plays, or None.

    Needleman and Wunsch (1970): a missing or an extra note costs as much as one heard a fourth off; an
    octave off costs little, for a string driven too hard sounds about an octave low.
    """
    wanted = [note_to_midi(name) for name in expected]
    rows, columns = len(heard), len(wanted)
    cost = np.zeros((rows + 1, columns + 1))
    cost[:, 0], cost[0] = np.arange(rows + 1), np.arange(columns + 1)
    step = np.zeros((rows + 1, columns + 1), int)
    step[:, 0], step[0] = 1, 2
    for i, pitch in enumerate(heard, 1):
        for j, note in enumerate(wanted, 1):
            off = 0.7 if pitch is None else _note_cost(hz_to_midi(pitch, a4_hz) - note)
            options = (cost[i - 1, j - 1] + off, cost[i - 1, j] + 1, cost[i, j - 1] + 1)
            step[i, j] = int(np.argmin(options))
            cost[i, j] = options[step[i, j]]
    found: list[int | None] = [None] * rows
    i, j = rows, columns
    while i or j:
        if step[i, j] == 0:
            found[i - 1] = j - 1
            i, j = i - 1, j - 1
        elif step[i, j] == 1:
            i -= 1
        else:
            j -= 1
    return found


def _note_cost(semitones: float) -> float:
    if -13.5 < semitones < -10.5:
        return 0.8
    return min(2.0, abs(semitones) / 2.5) if abs(semitones) > 0.5 else 0.0
