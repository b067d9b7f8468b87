"""Which strokes went the same way, and their names once one is known.

The biphases of two strokes on the same note differ by pi when the bow went the other way; on different
notes body and room differ, and nothing can be said. So strokes are grouped note by note.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from colophony.listening.direction import likeness
from colophony.listening.strokes import Heard
from colophony.listening.take import Direction, Stroke, ToneState
from colophony.units import hz_to_cents

_SAME_NOTE_CENTS = 40.0
_SURE = 0.4
_LEAST_PAIRS = 9
_BOWED = (ToneState.STEADY, ToneState.HELMHOLTZ, ToneState.MULTIPLE_SLIP)


def name_ways(heard: list[Heard], *, first_bow: Direction | None) -> list[Stroke]:
    """Return the strokes with ``way`` set, and ``bow`` where ``first_bow`` tells the first bowed stroke's."""
    signs: list[int] = [0] * len(heard)
    groups: list[int] = [-1] * len(heard)
    leaders: list[tuple[int, NDArray[np.complex64]]] = []
    for i, one in enumerate(heard):
        stroke = one.stroke
        if stroke.frequency_hz is None or stroke.state not in _BOWED:
            continue
        if i and signs[i - 1] and _turned_at_once(heard, i):
            signs[i], groups[i] = -signs[i - 1], groups[i - 1]
            continue
        if len(one.direction) < _LEAST_PAIRS or np.linalg.norm(one.direction) < 0.3:
            continue
        for group, (leader, vector) in enumerate(leaders):
            other = heard[leader].stroke.frequency_hz
            if other is None or abs(hz_to_cents(stroke.frequency_hz, other)) > _SAME_NOTE_CENTS:
                continue
            if len(vector) == len(one.direction):
                alike = likeness(vector, one.direction)
                if abs(alike) > _SURE:
                    signs[i], groups[i] = signs[leader] * (1 if alike > 0 else -1), group
                    break
        else:
            leaders.append((i, one.direction))
            signs[i], groups[i] = 1, len(leaders) - 1
    for i in range(len(heard) - 1, 0, -1):  # a turn tells as much about the stroke before it
        if (
            signs[i]
            and not signs[i - 1]
            and heard[i - 1].stroke.state in _BOWED
            and _turned_at_once(heard, i)
        ):
            signs[i - 1], groups[i - 1] = -signs[i], groups[i]
    return _named(heard, signs, groups, first_bow)


def _turned_at_once(heard: list[Heard], i: int) -> bool:
    stroke, before = heard[i].stroke, heard[i - 1].stroke
    return stroke.reversal and before.end_s >= stroke.start_s - 0.05


def _named(
    heard: list[Heard], signs: list[int], groups: list[int], first_bow: Direction | None
) -> list[Stroke]:
    first = next((i for i, one in enumerate(heard) if one.stroke.state in _BOWED), None)
    strokes = []
    for i, one in enumerate(heard):
        way = {1: "one", -1: "other"}.get(signs[i])
        bow: Direction | None = None
        if first_bow is not None and first is not None:
            if i == first:
                bow = first_bow
            elif signs[i] and groups[i] == groups[first]:
                same = signs[i] == signs[first]
                bow = first_bow if same else ("up" if first_bow == "down" else "down")
        strokes.append(replace(one.stroke, way=way, bow=bow))  # type: ignore[arg-type]
    return strokes
