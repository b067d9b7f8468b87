"""The cells of a map of steady bowing, made ready to draw: told states, edges, runs of equal cells."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colophony.physics.maps import PlayableRanges, SteadyMap
from colophony.physics.regimes import STATES
from colophony.teaching.wording.bowed import told_state

Floats = NDArray[np.float64]
CLEAR = "helmholtz"
#: Where the string was not asked, because somebody stopped.
NOT_ASKED = ""


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Rows of one distance each, as played, from the bridge on; arrays [n] and [n, m].

    ``around`` is the map without the clear tone: beneath a clean stretch the states beside it run on, so that
    the stretch can be drawn on top with edges finer than the cells. ``over`` says how much of a clear tone
    shows in a cell that lies outside of a clean stretch, ``hole`` how much does not inside of one.
    """

    distance_m: Floats  #: of each row
    lower_m: Floats  #: where a row begins, towards the bridge
    upper_m: Floats
    weight_edges_n: Floats  #: between cells, [m + 1]
    around: NDArray[np.str_]
    told: NDArray[np.str_]  #: the state of each cell, as it is told
    over: Floats
    hole: Floats
    weight_min_n: Floats  #: of the clean stretch; nan where there is none
    weight_max_n: Floats
    ragged_min_n: Floats
    ragged_max_n: Floats


def cells_of(steady: SteadyMap, closed_form: PlayableRanges) -> Cells:
    """Return the cells of a map; the measured limits say what is too heavy where the map has none."""
    ranges = steady.ranges
    x, rows = ranges.rows()
    distance, weight = np.exp(x), steady.weight_n
    middles = 0.5 * (distance[1:] + distance[:-1])
    first = max(1.5 * distance[0] - 0.5 * distance[1], 0.8 * distance[0]) if len(x) > 1 else distance[0]
    lower = np.concatenate([[first], middles])
    upper = np.concatenate([middles, [distance[-1] + (distance[-1] - middles[-1]) if len(x) > 1 else first]])
    steps = np.sqrt(weight[1:] * weight[:-1])
    edges = np.concatenate([[weight[0] ** 2 / steps[0]], steps, [weight[-1] ** 2 / steps[-1]]])
    least, greatest = ranges.weight_min_n[rows], ranges.weight_max_n[rows]
    outer = ranges.ragged_max_n[rows]
    too_heavy = np.where(np.isnan(outer), closed_form.weight_max_n[rows], outer)
    told = _told(steady.state[rows], weight, too_heavy)
    inside = (weight >= least[:, None]) & (weight <= greatest[:, None])  # nan: nowhere
    clear = np.nan_to_num(steady.probability[rows], nan=0.0)
    answered = steady.state[rows] >= 0
    return Cells(
        distance_m=distance,
        lower_m=lower,
        upper_m=upper,
        weight_edges_n=edges,
        around=_around(told),
        told=told,
        over=np.where(answered & ~inside, clear, 0.0),
        hole=np.where(answered & inside, 1.0 - clear, 0.0),
        weight_min_n=least,
        weight_max_n=greatest,
        ragged_min_n=ranges.ragged_min_n[rows],
        ragged_max_n=outer,
    )


def outline(
    mask: NDArray[np.bool_], cells: Cells, x_of: Callable[[float], float], y_of: Callable[[float], float]
) -> str:
    """Return path data around the cells of a mask [n, m]: each run of a row once, equal rows as one."""
    parts = []
    for first, last, runs in blocks(mask):
        y0, y1 = y_of(float(cells.lower_m[first])), y_of(float(cells.upper_m[last]))
        for a, b in runs:
            x0, x1 = x_of(float(cells.weight_edges_n[a])), x_of(float(cells.weight_edges_n[b]))
            if x1 > x0:  # else beyond the drawing
                parts.append(f"M{x0:.5g} {y0:.5g}H{x1:.5g}V{y1:.5g}H{x0:.5g}Z")
    return "".join(parts)


def clean_stretches(cells: Cells) -> Iterator[range]:
    """Yield the rows of each stretch in which every distance has a clean range."""
    has = ~np.isnan(cells.weight_min_n)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], has, [False]]).astype(int)))
    for first, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        yield range(first, end)


def _told(state: NDArray[np.int8], weight: Floats, too_heavy: Floats) -> NDArray[np.str_]:
    told = np.full(state.shape, NOT_ASKED, dtype="<U16")
    for i, j in zip(*np.nonzero(state >= 0), strict=True):
        name = str(STATES[state[i, j]])
        greatest = float(too_heavy[i]) if np.isfinite(too_heavy[i]) else np.inf
        told[i, j] = told_state(name, weight_n=float(weight[j]), greatest_n=greatest)
    return told


def _around(told: NDArray[np.str_]) -> NDArray[np.str_]:
    """Put the nearest other state of its row in the place of every clear cell."""
    around = told.copy()
    for i in range(len(told)):
        others = np.flatnonzero((told[i] != CLEAR) & (told[i] != NOT_ASKED))
        if not len(others):
            continue
        for j in np.flatnonzero(told[i] == CLEAR):
            around[i, j] = told[i, others[np.argmin(np.abs(others - j))]]
    return around


def blocks(mask: NDArray[np.bool_]) -> Iterator[tuple[int, int, list[tuple[int, int]]]]:
    """Yield (first row, last row, runs of cells) of neighbouring rows with the same runs of a mask."""
    rows = []
    for row in mask:
        edges = np.flatnonzero(np.diff(np.concatenate([[False], row, [False]]).astype(int))).tolist()
        rows.append(list(zip(edges[::2], edges[1::2], strict=True)))
    first = 0
    for k in range(1, len(rows) + 1):
        if k == len(rows) or rows[k] != rows[first]:
            if rows[first]:
                yield first, k - 1, rows[first]
            first = k
