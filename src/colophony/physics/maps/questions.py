"""Strokes put to the string block by block: counted, reported, and kept when somebody interrupts."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from colophony.physics.bowings import Answers, Bowings, Interrupted

#: Answers strokes: a survey with everything but the strokes given.
Ask: TypeAlias = Callable[[Bowings], Answers]
#: Called with the strokes done and the strokes expected in all, which may grow.
Progress: TypeAlias = Callable[[int, int], None]

#: So many strokes are asked at once, a few blocks for every processor: what is lost at an interruption, and
#: how finely progress is told. A graphics card wants more.
STROKES_AT_ONCE = 128 * (os.cpu_count() or 1)


class Questions:
    """Asks for strokes in blocks of about ``strokes_at_once``, never more than what memory bears.

    ``asked`` counts the strokes answered. After a `KeyboardInterrupt` inside ``ask`` the rest stays
    unanswered, ``is_interrupted`` is set and no more is asked; what `Interrupted` brings along is kept.
    """

    def __init__(
        self,
        ask: Ask,
        *,
        tilt_deg: float = 0.0,
        strokes_at_once: int = STROKES_AT_ONCE,
        progress: Progress | None = None,
    ) -> None:
        """Hold what answers and who is told."""
        self._ask, self._tilt_deg, self._progress = ask, tilt_deg, progress
        self._at_once = max(1, strokes_at_once)
        self.asked, self.expected, self.is_interrupted = 0, 0, False

    def put(
        self,
        names: tuple[str, ...],
        *,
        speed_m_s: ArrayLike,
        weight_n: ArrayLike,
        distance_m: ArrayLike,
        acceleration_m_s2: ArrayLike,
        seed: int = 0,
        more: int = 0,
    ) -> dict[str, NDArray[Any]]:
        """Return the named columns of the answers, in the common shape of the strokes.

        A stroke with a nan in it is not asked. Unanswered are -1 in ``state`` and ``start_kind`` and nan in
        the others. ``more`` strokes are likely to follow, which counts for progress only.
        """
        whole = np.broadcast_arrays(
            *(np.asarray(a, dtype=float) for a in (speed_m_s, weight_n, distance_m, acceleration_m_s2))
        )
        shape = whole[0].shape
        speed, weight, distance, acceleration = (a.reshape(-1) for a in whole)
        found = {
            name: np.full(speed.size, -1, np.int8)
            if name in ("state", "start_kind")
            else np.full(speed.size, np.nan)
            for name in names
        }
        wanted = np.flatnonzero(~np.isnan(speed + weight + distance + acceleration))
        # Strokes of one distance side by side share the engine's work.
        wanted = wanted[np.argsort(distance[wanted], kind="stable")]
        self.expected = max(self.expected, self.asked + len(wanted) + more)
        for first in range(0, len(wanted), self._at_once):
            if self.is_interrupted:
                break
            block = wanted[first : first + self._at_once]
            try:
                answers = self._ask(
                    Bowings(
                        speed[block],
                        weight[block],
                        distance[block],
                        np.full(len(block), self._tilt_deg),
                        acceleration[block],
                        np.full(len(block), seed, dtype=np.int64),
                    )
                )
            except Interrupted as stop:
                self.is_interrupted = True
                answers = stop.answers
            except KeyboardInterrupt:
                self.is_interrupted = True
                break
            for name in names:
                found[name][block] = getattr(answers, name)
            self.asked += int(np.count_nonzero(answers.state >= 0)) if self.is_interrupted else len(block)
            if self._progress:
                self._progress(self.asked, max(self.expected, self.asked))
        return {name: column.reshape(shape) for name, column in found.items()}

    def finish(self) -> None:
        """Say that no more will be asked."""
        if self._progress and not self.is_interrupted and self.asked < self.expected:
            self._progress(self.asked, self.asked)
