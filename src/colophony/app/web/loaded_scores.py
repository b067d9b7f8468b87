"""Scores that were sent to the page Score: in the memory of the running server only, for an hour.

A score is found by a key that nobody can guess; who has the page's address has the score. Nothing is written
to disk: see docs/decisions/0236-a-sent-score-is-not-kept.md.
"""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from secrets import token_urlsafe

from colophony.app.score.values import PlannedScore, Score

#: How long a score stays that nobody looks at, s.
FORGET_AFTER_S = 60 * 60.0
#: Most scores held at once, and most text in them; the one not looked at for longest goes first.
COUNT_LIMIT = 12
LETTERS_LIMIT = 120_000_000
#: Plans of one score that are held, so that a picture, a file and a sound need not plan again.
_PLANS_LIMIT = 4


@dataclass(slots=True)
class LoadedScore:
    """A score and the plans last made of it, by what was asked."""

    key: str
    name: str
    score: Score
    looked_at_s: float
    plans: OrderedDict[Hashable, PlannedScore] = field(default_factory=OrderedDict)

    def plan(self, asked: Hashable, make: Callable[[], PlannedScore]) -> PlannedScore:
        """Return the plan of what was asked, made if it is not held."""
        planned = self.plans.get(asked) or make()
        self.plans[asked] = planned
        self.plans.move_to_end(asked)
        while len(self.plans) > _PLANS_LIMIT:
            self.plans.popitem(last=False)
        return planned


class LoadedScores:
    """The scores of one server. Safe to share between threads."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        """Hold nothing yet; ``clock`` counts seconds."""
        self._clock = clock
        self._scores: OrderedDict[str, LoadedScore] = OrderedDict()
        self._lock = threading.Lock()

    def add(self, score: Score, *, name: str) -> LoadedScore:
        """Hold a score and return it with its key."""
        with self._lock:
            loaded = LoadedScore(token_urlsafe(16), name, score, self._clock())
            self._scores[loaded.key] = loaded
            self._sweep()
            return loaded

    def find(self, key: str) -> LoadedScore | None:
        """Return the score of a key and count the hour anew; None when it is forgotten."""
        with self._lock:
            self._sweep()
            loaded = self._scores.get(key)
            if loaded is not None:
                loaded.looked_at_s = self._clock()
                self._scores.move_to_end(key)
            return loaded

    def forget(self, key: str) -> None:
        """Forget a score now."""
        with self._lock:
            self._scores.pop(key, None)

    def _sweep(self) -> None:
        now = self._clock()
        for key in [k for k, one in self._scores.items() if now - one.looked_at_s > FORGET_AFTER_S]:
            del self._scores[key]
        while len(self._scores) > COUNT_LIMIT or (len(self._scores) > 1 and self._letters() > LETTERS_LIMIT):
            self._scores.popitem(last=False)

    def _letters(self) -> int:
        return sum(len(one.score.musicxml) for one in self._scores.values())
