"""Where along a line of trials is the answer clean, where now this now that, and where never clean?

A line runs through one variable, the others held. Read from its low end it has up to five stretches:
nothing, ragged, clean, ragged, nothing; any but the outer two may be missing. The stretches are those under
which the trials are likeliest: clean in all but a few of a clean stretch, in none but a few outside, and now
this way, now that in a ragged one. A trial counts by the room around it, so that many trials in one small
hole weigh no more than the hole; and a ragged stretch must explain more than a wrong trial or two, which a
string on the edge of chaos always has. All lines at once: prefix sums and running maxima, no search.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Share of wrong trials in a clean stretch or outside it.
WRONG_SHARE = 0.03
#: Log-likelihood that a ragged stretch costs where nothing is clean, and beside a clean one: about one
#: wrong trial of the first grid, and a little more.
_RAGGED_ALONE, _RAGGED_BESIDE = 3.0, 4.0
#: From this share of a step on, the room around a trial makes it count in full.
_FULL_ROOM = 0.25
#: A band holds so many clean trials.
_FEWEST_CLEAN = 2
#: Trials divided at once: what a processor keeps near.
_AT_ONCE = 16_384
#: Chance of a clean trial in a ragged stretch.
RAGGED_CHANCE = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Trials:
    """What was tried along each of n lines: arrays [n, m], ascending by place, the unanswered last."""

    place: Floats  #: where on the line; +inf where there is no answer
    clean: Floats  #: how many runs were clean
    runs: Floats  #: how many runs were made; 0 where there is no answer
    step: Floats  #: between the trials of the line's first grid, [n]

    @staticmethod
    def sort(place: Floats, clean: Floats, runs: Floats, *, step: Floats | None = None) -> Trials:
        """Return trials in order, given in any; those without runs count as unanswered.

        Where the step is not known it is the median one between ``place`` as given, which then hold no nan.
        """
        answered = runs > 0
        if step is None:
            step = np.median(np.abs(np.diff(place, axis=1)), axis=1) if place.shape[1] > 1 else place[:, 0]
        place = np.where(answered, place, np.inf)
        order = np.argsort(place, axis=1, kind="stable")
        clean = np.where(answered, clean, 0.0)
        place, clean, runs = (np.take_along_axis(a, order, axis=1) for a in (place, clean, runs))
        return Trials(place, clean, runs, step)

    def and_also(self, place: Floats, clean: Floats, runs: Floats) -> Trials:
        """Return these trials and more of the same lines, arrays [n, k] in any order."""
        return Trials.sort(
            np.concatenate([self.place, place], axis=1),
            np.concatenate([self.clean, clean], axis=1),
            np.concatenate([self.runs, runs], axis=1),
            step=self.step,
        )

    def lines(self, some: slice) -> Trials:
        """Return some of the lines."""
        return Trials(self.place[some], self.clean[some], self.runs[some], self.step[some])

    @property
    def answered(self) -> Ints:
        """Number of places with an answer on each line, [n]."""
        return np.count_nonzero(self.runs, axis=1)

    @property
    def share(self) -> Floats:
        """Share of clean runs at each place, [n, m]; 0 where there is no answer."""
        return self.clean / np.maximum(self.runs, 1.0)

    @property
    def room(self) -> Floats:
        """Half the way to both neighbours, [n, m]; a step at most, 0 where there is no answer."""
        step = np.broadcast_to(self.step[:, None], self.place.shape)
        if self.place.shape[1] < 2:
            return np.where(self.runs > 0, step, 0.0)
        last = np.maximum(self.answered - 1, 0)
        end = np.take_along_axis(self.place, last[:, None], axis=1)
        place = np.where(np.isfinite(self.place), self.place, np.where(np.isfinite(end), end + step, 0.0))
        return np.where(self.runs > 0, np.minimum(np.gradient(place, axis=1), step), 0.0)


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

    def some(self, lines: Ints) -> Bands:
        """Return those of some lines."""
        return Bands(*(getattr(self, name)[lines] for name in self.__slots__))


def find_cuts(trials: Trials, *, ragged_chance: float = RAGGED_CHANCE, lenient: bool = False) -> Ints:
    """Return where the stretches begin and end, counted in trials, [n, 4].

    Trials before cut 0 and from cut 3 on lie outside, those from cut 1 to cut 2 are clean, the rest ragged.
    ``lenient`` lets a single clean trial be a band: a place to look closer.
    """
    lines = max(1, _AT_ONCE // trials.place.shape[1])
    return np.concatenate(
        [
            _cuts_of(trials.lines(slice(k, k + lines)), ragged_chance, 1 if lenient else _FEWEST_CLEAN)
            for k in range(0, max(len(trials.place), 1), lines)
        ]
    )


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


def _cuts_of(trials: Trials, ragged_chance: float, fewest_clean: int) -> Ints:
    weight = np.minimum(trials.room / np.maximum(_FULL_ROOM * trials.step[:, None], 1e-300), 1.0)
    clean, bad = weight * trials.share, weight * (1.0 - trials.share)
    right, wrong = np.log1p(-WRONG_SHARE), np.log(WRONG_SHARE)
    outside = _prefix(clean * wrong + bad * right)
    inside = _prefix(clean * right + bad * wrong)
    ragged = _prefix(clean * np.log(ragged_chance) + bad * np.log1p(-ragged_chance))
    with_band, cuts = _best(outside, ((ragged, _RAGGED_BESIDE), (inside, 0.0), (ragged, _RAGGED_BESIDE)))
    without, (first, after) = _best(outside, ((ragged, _RAGGED_ALONE),))
    many = np.take_along_axis(_prefix((trials.share > 0.5).astype(np.float64)), cuts[1:3].T, axis=1)
    single = many[:, 1] - many[:, 0] < fewest_clean
    bare = single | (without > with_band) | (cuts[1] == cuts[2])
    # Nowhere clean: what is ragged counts as the lower stretch.
    return np.where(bare, np.stack([first, after, after, after]), cuts).T


def _prefix(values: Floats) -> Floats:
    return np.concatenate([np.zeros((len(values), 1)), np.cumsum(values, axis=1)], axis=1)


def _best(outside: Floats, stretches: Sequence[tuple[Floats, float]]) -> tuple[Floats, NDArray[np.int64]]:
    """Return the greatest likelihood of lines with these stretches in this order, and the cuts between.

    Parameters
    ----------
    outside : log-likelihood of lying outside up to each cut, [n, m + 1]
    stretches : the same for each kind of stretch, and what it costs to be there; each may be left out

    Returns
    -------
    likelihood, [n], and cuts: begin of each stretch in turn and the end of the last, [stretches + 1, n]
    """
    here, value, begins = np.arange(outside.shape[1]), outside, []
    for stretch, cost in stretches:
        gain = value - stretch
        most = np.maximum.accumulate(gain, axis=1)
        begin = np.maximum.accumulate(np.where(gain == most, here, 0), axis=1)
        with_it = most + stretch - cost
        better = with_it > value
        value = np.where(better, with_it, value)
        begins.append(np.where(better, begin, here))
    rest = value - outside
    cut = np.argmax(rest, axis=1)
    rows, cuts = np.arange(len(cut)), [cut]
    likelihood = rest[rows, cut] + outside[:, -1]
    for begin in reversed(begins):
        cut = begin[rows, cut]
        cuts.append(cut)
    return likelihood, np.stack(cuts[::-1])


def _edge(trials: Trials, cut: Ints) -> Floats:
    """Return the place midway between the trials on both sides of a cut; the line's end at its end."""
    rows, last = np.arange(len(cut)), np.maximum(trials.answered - 1, 0)
    below = trials.place[rows, np.clip(cut - 1, 0, last)]
    above = trials.place[rows, np.clip(cut, 0, last)]
    return np.where(np.isfinite(below), 0.5 * (below + above), np.nan)


def _share(trials: Trials, first: Ints, after: Ints) -> Floats:
    """Return the share of clean trials in a stretch, each trial counted by the room around it."""
    here = np.arange(trials.place.shape[1])
    room = np.where((here >= first[:, None]) & (here < after[:, None]), trials.room, 0.0)
    return np.sum(room * trials.share, axis=1) / np.maximum(room.sum(axis=1), 1e-300)
