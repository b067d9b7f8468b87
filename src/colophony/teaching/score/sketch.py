"""A part grouped into strokes and searched: directions and hair, before anything is known of the string."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

from colophony.physics.strings import BowedString
from colophony.teaching.score.course import Clock, Loudness
from colophony.teaching.score.dynamics import speeds
from colophony.teaching.score.grouping import Draft, drafts_of
from colophony.teaching.score.piece import Part
from colophony.teaching.score.travel import Load, Standing, Travel

#: A first beat; other beats are lighter.
_STRONG = 1.0


@dataclass(frozen=True, slots=True)
class Setting:
    """With what a part is played."""

    strings: Sequence[BowedString]  #: from the lowest
    bow_mm: float
    a4_hz: float = 440.0
    quarters_per_minute: float | None = None  #: at the start; as written when None

    @property
    def instrument(self) -> str:
        """Name of the instrument."""
        return self.strings[0].instrument


class Sketch:
    """A part grouped into strokes, and the search over the bowed ones."""

    def __init__(self, part: Part, setting: Setting) -> None:
        """Group and search; ``loads`` and ``rides`` belong to the bowed drafts in order."""
        self.part, self.setting = part, setting
        self.clock = Clock(part.tempos, first=setting.quarters_per_minute)
        self.loudness = Loudness(part)
        self.drafts = drafts_of(part, clock=self.clock, loudness=self.loudness)
        self.bowed = [k for k, draft in enumerate(self.drafts) if not draft.is_plucked]
        self.loads = [
            load_of(self.drafts[k], setting.instrument, rest_s=self._silence(j))
            for j, k in enumerate(self.bowed)
        ]
        strong = next((j for j, load in enumerate(self.loads) if load.strength >= _STRONG), None)
        if strong is not None:
            self.loads[strong] = replace(self.loads[strong], is_first_strong=True)
        self._search()
        if self._take_over_repeats():
            self._search()

    def _search(self) -> None:
        self.travel = Travel(self.loads, self.setting.bow_mm)
        self.rides = self.travel.rides((None, 0.0))

    def _take_over_repeats(self) -> bool:
        """Let strokes of a repeated measure all go as the first time; return whether some did not."""
        times: dict[tuple[int, float], list[int]] = {}
        for j, k in enumerate(self.bowed):
            event = self.drafts[k].first
            times.setdefault((event.measure_index, round(event.beat, 4)), []).append(j)
        differ = False
        for same in times.values():
            way = self.rides[same[0]].direction
            for j in same if len(same) > 1 else ():
                self.loads[j] = replace(self.loads[j], as_before=way)
                differ |= self.rides[j].direction != way
        return differ

    def standing(self, j: int) -> Standing:
        """Return how the bow stands before the bowed stroke number ``j``."""
        return (None, 0.0) if j == 0 else (self.rides[j - 1].direction, self.rides[j - 1].end_mm)

    def _silence(self, j: int) -> float:
        """Return the time without the bow before a bowed stroke: rests, and plucked notes."""
        here = self.drafts[self.bowed[j]]
        if j == 0:
            return here.rest_s
        between = self.drafts[self.bowed[j - 1] + 1 : self.bowed[j]]
        return here.rest_s + sum(one.whole_s + one.rest_s for one in between)


def load_of(draft: Draft, instrument: str, *, rest_s: float) -> Load:
    """Return what a draft asks of the bow: mean speeds of its dynamic times its seconds."""
    found = [speeds(degree, instrument) for degree in draft.degrees]

    def mean(values: list[float]) -> float:
        return sum((a + b) / 2.0 for a, b in itertools.pairwise(values)) / (len(values) - 1)

    return Load(
        slowest_mm=draft.seconds * mean([one.slowest for one in found]),
        usual_mm=draft.seconds * mean([one.usual for one in found]),
        fastest_mm=draft.seconds * mean([one.fastest for one in found]),
        whole_s=draft.whole_s,
        rest_s=rest_s,
        strength=draft.strength,
        degree=draft.degree,
        growth=draft.degrees[-1] - draft.degrees[0],
        given=draft.given,
        is_chord=draft.is_chord,
    )
