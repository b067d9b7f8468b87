"""Where along a line of trials is the answer clean, where now this now that, and where never clean?

A line runs through one variable, the others held. Read from its low end it has up to five stretches:
nothing, ragged, clean, ragged, nothing; any but the outer two may be missing. The stretches are those under
which the trials are likeliest: clean in all but a few of a clean stretch, in none but a few outside, and now
this way, now that in a ragged one. A ragged stretch must explain at least two wrong trials, a clean one
hold at least two; so single wrong trials, which a string on the edge of chaos always has, move no edge.
All lines at once: prefix sums and running maxima, no search.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Share of wrong trials in a clean stretch or outside it.
WRONG_SHARE = 0.03
#: Log-likelihood that a ragged stretch costs, and a clean one: about one and one and a half wrong trials.
_RAGGED_COST, _CLEAN_COST = 3.0, 5.0
#: Chance of a clean trial in a ragged stretch.
RAGGED_CHANCE = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Trials:
    """What was tried along each of n lines: arrays [n, m], ascending by place, the unanswered last."""

    place: Floats  #: where on the line; +inf where there is no answer
    clean: Floats  #: how many runs were clean
    runs: Floats  #: how many runs were made; 0 where there is no answer

    @staticmethod
    def sort(place: Floats, clean: Floats, runs: Floats) -> Trials:
        """Return trials in order, given in any; those without runs count as unanswered."""
        answered = runs > 0
        place = np.where(answered, place, np.inf)
        order = np.argsort(place, axis=1, kind="stable")
        return Trials(
            *(np.take_along_axis(a, order, axis=1) for a in (place, np.where(answered, clean, 0.0), runs))
        )

    def and_also(self, place: Floats, clean: Floats, runs: Floats) -> Trials:
        """Return these trials and more of the same lines, arrays [n, k] in any order."""
        return Trials.sort(
            np.concatenate([self.place, place], axis=1),
            np.concatenate([self.clean, clean], axis=1),
            np.concatenate([self.runs, runs], axis=1),
        )

    @property
    def answered(self) -> Ints:
        """Number of places with an answer on each line, [n]."""
        return np.count_nonzero(self.runs, axis=1)


@dataclass(frozen=True, slots=True, eq=False)
class Bands:
    """The stretches of each line: arrays [n], nan where there is none.

    Clean from ``low`` to ``high``; now clean, now not from ``outer_low`` to ``low`` and from ``high`` to
    ``outer_high``, which are the same where no edge is ragged. A line that is ragged but nowhere clean has
    outer ends only. An edge lies midway between two trials; at the end of a line it is that end, and open.
    """

    low: Floats
    high: Floats
    outer_low: Floats
    outer_high: Floats
    low_is_open: NDArray[np.bool_]  #: clean or ragged to the low end of what was tried
    high_is_open: NDArray[np.bool_]
    share_low: Floats  #: share of clean trials in the ragged stretch below the clean one
    share_high: Floats
    share: Floats  #: share of clean trials from one outer end to the other


def find_cuts(trials: Trials, *, ragged_chance: float = RAGGED_CHANCE, lenient: bool = False) -> Ints:
    """Return where the stretches begin and end, counted in trials, [n, 4].

    Trials before cut 0 and from cut 3 on lie outside, those from cut 1 to cut 2 are clean, the rest ragged.
    ``lenient`` lets a single clean trial be a band: a place to look closer.
    """
    bad = trials.runs - trials.clean
    right, wrong = np.log1p(-WRONG_SHARE), np.log(WRONG_SHARE)
    outside = _prefix(trials.clean * wrong + bad * right)
    clean = _prefix(trials.clean * right + bad * wrong)
    ragged = _prefix(trials.clean * np.log(ragged_chance) + bad * np.log1p(-ragged_chance))
    value, starts = outside, []
    for stretch, cost in (
        (ragged, _RAGGED_COST),
        (clean, 0.0 if lenient else _CLEAN_COST),
        (ragged, _RAGGED_COST),
    ):
        value, start = _lay(value, stretch, cost)
        starts.append(start)
    rows = np.arange(len(value))
    cuts = np.empty((len(value), 4), dtype=np.int64)
    cuts[:, 3] = np.argmax(value - outside, axis=1)
    for k in (2, 1, 0):
        cuts[:, k] = starts[k][rows, cuts[:, k + 1]]
    bare = cuts[:, 1] == cuts[:, 2]  # nowhere clean: what is ragged counts as the lower stretch
    cuts[bare, 1] = cuts[bare, 2] = cuts[bare, 3]
    return cuts


def find_bands(trials: Trials, *, ragged_chance: float = RAGGED_CHANCE) -> Bands:
    """Return the stretches of each line."""
    cuts = find_cuts(trials, ragged_chance=ragged_chance)
    some, clean = cuts[:, 0] < cuts[:, 3], cuts[:, 1] < cuts[:, 2]
    edges = np.stack([_edge(trials, cuts[:, k]) for k in range(4)])
    has_low, has_high = clean & (cuts[:, 0] < cuts[:, 1]), clean & (cuts[:, 2] < cuts[:, 3])
    nan = np.nan
    return Bands(
        low=np.where(clean, edges[1], nan),
        high=np.where(clean, edges[2], nan),
        outer_low=np.where(some, edges[0], nan),
        outer_high=np.where(some, edges[3], nan),
        low_is_open=some & (cuts[:, 0] == 0),
        high_is_open=some & (cuts[:, 3] == trials.answered),
        share_low=np.where(has_low, _share(trials, cuts[:, 0], cuts[:, 1]), nan),
        share_high=np.where(has_high, _share(trials, cuts[:, 2], cuts[:, 3]), nan),
        share=np.where(some, _share(trials, cuts[:, 0], cuts[:, 3]), nan),
    )


def count_wrong(trials: Trials, bands: Bands) -> tuple[Ints, Ints, Ints]:
    """Return how many trials of each line are at fault: arrays [n].

    Returns
    -------
    cells : trials from ``low`` to ``high``
    wrong : those of them that are mostly not clean
    strays : mostly clean trials outside of the outer ends
    """
    answered, mostly = trials.runs > 0, 2 * trials.clean > trials.runs

    def between(low: Floats, high: Floats) -> NDArray[np.bool_]:
        return answered & (trials.place >= low[:, None]) & (trials.place <= high[:, None])

    inside = between(bands.low, bands.high)
    outside = ~between(bands.outer_low, bands.outer_high)
    cells, wrong, strays = (
        np.count_nonzero(a, axis=1) for a in (inside, inside & ~mostly, answered & mostly & outside)
    )
    return cells, wrong, strays


def _prefix(values: Floats) -> Floats:
    return np.concatenate([np.zeros((len(values), 1)), np.cumsum(values, axis=1)], axis=1)


def _lay(before: Floats, stretch: Floats, cost: float) -> tuple[Floats, Ints]:
    """Return the best value with or without one more stretch that ends at each place, and where it begins."""
    here = np.arange(before.shape[1])
    gain = before - stretch
    best = np.maximum.accumulate(gain, axis=1)
    start = np.maximum.accumulate(np.where(gain == best, here, 0), axis=1)
    laid = best + stretch - cost
    left_out = before >= laid
    return np.where(left_out, before, laid), np.where(left_out, here, start)


def _edge(trials: Trials, cut: Ints) -> Floats:
    """Return the place midway between the trials on both sides of a cut; the line's end at its end."""
    rows, last = np.arange(len(cut)), np.maximum(trials.answered - 1, 0)
    below = trials.place[rows, np.clip(cut - 1, 0, last)]
    above = trials.place[rows, np.clip(cut, 0, last)]
    return np.where(np.isfinite(below), 0.5 * (below + above), np.nan)


def _share(trials: Trials, first: Ints, after: Ints) -> Floats:
    """Return the share of clean trials in a stretch, each trial counted by the room around it."""
    here = np.arange(trials.place.shape[1])
    inside = (here >= first[:, None]) & (here < after[:, None])
    place = np.where(np.isfinite(trials.place), trials.place, _edge(trials, trials.answered)[:, None])
    room = np.gradient(place, axis=1) if place.shape[1] > 1 else np.ones_like(place)
    room = np.where(inside, np.maximum(room, 1e-12), 0.0)
    return np.sum(room * trials.clean / np.maximum(trials.runs, 1.0), axis=1) / np.maximum(
        room.sum(axis=1), 1e-300
    )
