"""Look closer where neighbours disagree: edges of many lines at once, several trials a round.

In each round every edge that is still wider than the tolerance gets a handful of trials between its last
trial outside and its first one inside. All trials so far decide together where the edge lies, so that a
wrong one is overruled by those around it. An edge fine enough is tried once more on both sides: a wrong
trial of the first grid that happened to lie beside the true edge is found out there.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from colophony.physics.maps.bands import RAGGED_CHANCE, Floats, Trials, find_cuts

#: Asks at places [n, k] of n lines, nan where nothing is asked; returns the places as played, the clean
#: runs and the runs, each [n, k], with 0 runs where there is no answer.
AskAlong: TypeAlias = Callable[[Floats], tuple[Floats, Floats, Floats]]

#: Outside and inside of a fine edge the string is tried again, at these shares of the first bracket's width.
_BESIDE = np.array([-0.5, -0.25, 0.25, 0.5])
#: So many trials tell the share of a ragged stretch; more rounds than these never came.
_TELLING, _ROUNDS = 16, 6


def refine(
    trials: Trials,
    ask: AskAlong,
    *,
    tolerance: float,
    each: int,
    ragged_chance: float = RAGGED_CHANCE,
) -> Trials:
    """Return the trials and those that bring each line's edges within a tolerance.

    Parameters
    ----------
    tolerance : widest bracket left around an edge, in the unit of places
    each : trials for each edge in a round, 5 or more
    """
    edges = (len(trials.place), 2)
    step = np.full(edges, np.nan)  # width of each edge's first bracket
    seen_from, seen_to = np.full(edges, np.nan), np.full(edges, np.nan)  # tried on both sides of these
    before: tuple[NDArray[np.generic], ...] | None = None
    for _ in range(_ROUNDS):
        outer, inner, count = _brackets(trials, ragged_chance)
        width = np.abs(inner - outer)
        step = np.where(np.isnan(step), width, step)
        moved = np.ones(edges, dtype=bool)
        if before is not None:  # a bow that is played in steps of place may leave a bracket as it was
            moved = np.any(
                [now != then for now, then in zip((outer, inner, count), before, strict=True)], axis=0
            )
        before = outer, inner, count
        wide = (width > tolerance) & (count < _TELLING) & moved
        last = wide & (width <= tolerance * (each - len(_BESIDE) + 1))
        seen = (inner >= seen_from - tolerance) & (inner <= seen_to + tolerance)
        fine = (width <= tolerance) & ~seen & (count < _TELLING)
        check = last | fine
        seen_from = np.where(check, np.minimum(outer, inner), seen_from)
        seen_to = np.where(check, np.maximum(outer, inner), seen_to)
        if not (wide | fine).any():
            break
        places = _places(outer, inner, count, wide, last, check, step, each)
        played, clean, runs = ask(places.reshape(len(places), -1))
        if not runs.any():
            break
        trials = trials.and_also(played, clean, runs)
    return trials


def _brackets(trials: Trials, ragged_chance: float) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """Return the last trial outside and the first inside at the low and the high edge, and those between.

    Arrays [n, 2], nan where a line has no such edge. A line that is ragged but nowhere clean has one bracket
    from end to end.
    """
    cuts = find_cuts(trials, ragged_chance=ragged_chance, lenient=True)
    rows, m = np.arange(len(cuts)), trials.place.shape[1]

    def at(k: NDArray[np.int64], there: NDArray[np.bool_]) -> Floats:
        place = trials.place[rows, np.clip(k, 0, m - 1)]
        return np.where(there & np.isfinite(place), place, np.nan)

    clean, some = cuts[:, 1] < cuts[:, 2], cuts[:, 0] < cuts[:, 3]
    below = at(cuts[:, 0] - 1, some & (cuts[:, 0] > 0))
    above = at(cuts[:, 3], some & (cuts[:, 3] < trials.answered))
    outer = np.stack([below, np.where(clean, above, np.nan)], axis=1)
    inner = np.stack([np.where(clean, at(cuts[:, 1], clean), above), at(cuts[:, 2] - 1, clean)], axis=1)
    between = np.stack([cuts[:, 1] - cuts[:, 0], cuts[:, 3] - cuts[:, 2]], axis=1)
    return outer, inner, between


def _places(
    outer: Floats,
    inner: Floats,
    count: NDArray[np.int64],
    wide: NDArray[np.bool_],
    last: NDArray[np.bool_],
    check: NDArray[np.bool_],
    step: Floats,
    each: int,
) -> Floats:
    """Return the places to try at the two edges of every line, [n, 2, each], nan for none."""
    outer, inner, step = (a[..., None] for a in (outer, inner, step))
    wide, check = wide[..., None], check[..., None]
    k, within = np.arange(each), np.where(last, each - len(_BESIDE), each)[..., None]
    # In a ragged stretch the trials of a round fall elsewhere than those of the round before.
    shift = (0.5 + 0.618 * count[..., None]) % 1.0
    share = np.where(count[..., None] > 0, (k + shift) / within, (k + 1.0) / (within + 1.0))
    places = np.where(wide & (k < within), outer + share * (inner - outer), np.nan)
    side = np.where(_BESIDE < 0, outer, inner) + np.sign(inner - outer) * step * _BESIDE
    places[..., each - len(_BESIDE) :] = np.where(check, side, places[..., each - len(_BESIDE) :])
    return places
