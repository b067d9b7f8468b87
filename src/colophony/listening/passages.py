"""A take of any length in passages of bounded length, cut where it is quietest."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from colophony.listening.pitch import HOP, RATE_HZ, Floats

_LONGEST_S = 45.0
_SHORTEST_S = 20.0


@dataclass(frozen=True, slots=True, eq=False)
class Passage:
    """A stretch of the take at 24 kHz. ``in_tone`` tells that its end cuts a sounding tone."""

    start_s: float
    sound: Floats
    in_tone: bool


def cut_passages(blocks: Iterable[Floats]) -> Iterator[Passage]:
    """Join blocks at 24 kHz into passages of 20 to 45 s, each a whole number of rows of 10 ms."""
    held: list[Floats] = []
    count, start = 0, 0
    for block in blocks:
        held.append(block)
        count += len(block)
        while count > _LONGEST_S * RATE_HZ:
            sound = np.concatenate(held)
            cut, in_tone = _quietest(sound)
            yield Passage(start / RATE_HZ, sound[:cut], in_tone)
            held, count, start = [sound[cut:]], len(sound) - cut, start + cut
    if count:
        yield Passage(start / RATE_HZ, np.concatenate(held), False)


def _quietest(sound: Floats) -> tuple[int, bool]:
    rows = len(sound) // HOP
    energy = np.einsum("ij,ij->i", *(2 * [sound[: rows * HOP].reshape(rows, HOP)]))
    smooth = np.convolve(energy, np.ones(20) / 20, "same")
    first, last = int(_SHORTEST_S * RATE_HZ / HOP), min(rows, int(_LONGEST_S * RATE_HZ / HOP)) - 20
    at = first + int(np.argmin(smooth[first:last]))
    loud = float(np.percentile(smooth, 90))
    return at * HOP, bool(smooth[at] > 1e-3 * loud)
