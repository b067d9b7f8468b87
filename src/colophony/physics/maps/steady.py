"""The map of steady bowing: what the string does at every contact distance and weight of a grid."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from colophony.errors import InputError
from colophony.language import _
from colophony.physics.kernel.state import LANES
from colophony.physics.maps.bands import Floats, Trials
from colophony.physics.maps.grids import check_tolerance, checked, weights_n
from colophony.physics.maps.lines import PLAYABLE, SteadyLines
from colophony.physics.maps.questions import STROKES_AT_ONCE, Ask, Progress, Questions
from colophony.physics.maps.ranges import PlayableRanges, collect, pairs, speeds_and_distances
from colophony.physics.maps.refining import refine
from colophony.physics.strings import BowedString

#: More tries of one cell than these tell nothing new.
MOST_REPEATS = 100
#: Strokes an edge and round, with one speed: both edges of one distance fill the engine once.
_EACH = LANES // 2
_FEWEST_EACH = 6


@dataclass(frozen=True, slots=True, eq=False)
class SteadyMap:
    """States over contact distance and weight at one speed, and the playable range at each distance."""

    ranges: PlayableRanges  #: also says speed, tilt, note, distances [n] and how many strokes were asked
    weight_n: Floats  #: ascending, [m]
    state: NDArray[np.int8]  #: index into `regimes.STATES`, [n, m]; -1 where nothing was answered
    #: Of a playable tone, [n, m]: from 0 to 1; only 0 or 1 where a cell was asked once; nan unanswered.
    probability: Floats
    runs: NDArray[np.int64]  #: how often each cell was asked, [n, m]

    @property
    def distance_m(self) -> Floats:
        """Contact distances in m as asked, [n]."""
        return self.ranges.distance_m


def steady_map(
    string: BowedString,
    ask: Ask,
    *,
    speed_m_s: float,
    distances_m: ArrayLike | None = None,
    weights_n: ArrayLike | None = None,
    frequency_hz: float | None = None,
    tilt_deg: float = 0.0,
    repeats: int = 0,
    tolerance: float | None = 0.02,
    progress: Progress | None = None,
    strokes_at_once: int = STROKES_AT_ONCE,
) -> SteadyMap:
    """Return the map at one speed; as `steady_maps`."""
    return steady_maps(
        string,
        ask,
        speeds_m_s=speed_m_s,
        distances_m=distances_m,
        weights_n=weights_n,
        frequency_hz=frequency_hz,
        tilt_deg=tilt_deg,
        repeats=repeats,
        tolerance=tolerance,
        progress=progress,
        strokes_at_once=strokes_at_once,
    )[0]


def steady_maps(
    string: BowedString,
    ask: Ask,
    *,
    speeds_m_s: float | Sequence[float],
    distances_m: ArrayLike | None = None,
    weights_n: ArrayLike | None = None,
    frequency_hz: float | None = None,
    tilt_deg: float = 0.0,
    repeats: int = 0,
    tolerance: float | None = 0.02,
    progress: Progress | None = None,
    strokes_at_once: int = STROKES_AT_ONCE,
) -> tuple[SteadyMap, ...]:
    """Return the maps of a family of speeds, asked together: strokes of one distance share a block.

    Every cell of the grid once; cells whose neighbours disagree ``repeats`` times more, with other small
    waves on the string at the beginning; then more weights where the edges lie.

    Parameters
    ----------
    string : the string asked about; ``ask`` must bow the same one at the same note
    ask : answers strokes, such as a survey with instrument, string and note given
    speeds_m_s : one or more bow speeds, m/s, ascending
    distances_m : contact distances, m, ascending, [n]; by default 40 as `grids.contact_distances_m`
    weights_n : N, ascending, [m]; by default 50 as `grids.weights_n`
    tilt_deg : of the hair, degrees from flat
    repeats : further runs of each cell whose neighbours disagree, 0 to 100
    tolerance : width of an edge as a share of the weight, 0.002 to 0.5; None leaves edges between two weights
    progress : called after every block with strokes done and expected
    strokes_at_once : strokes a block; what an interruption loses

    A `KeyboardInterrupt` while the string is asked ends the work: what was not answered is -1 in ``state``.
    Raises `InputError` for values out of range.
    """
    if tolerance is not None:
        check_tolerance(tolerance)
    if not 0 <= repeats <= MOST_REPEATS:
        raise InputError(
            _("{count} repeats are out of range: choose 0 to {most}").format(count=repeats, most=MOST_REPEATS)
        )
    speeds, distances = speeds_and_distances(string, speeds_m_s, distances_m, frequency_hz, count=40)
    weights = _weights(string, speeds, distances, weights_n, frequency_hz)
    speed, distance = pairs(speeds, distances)
    grid = np.broadcast_to(np.log(weights), (len(speed), len(weights)))
    questions = Questions(ask, tilt_deg=tilt_deg, strokes_at_once=strokes_at_once, progress=progress)
    lines = SteadyLines(
        questions, string, "weight", speed_m_s=speed, distance_m=distance, frequency_hz=frequency_hz
    )
    each = max(_FEWEST_EACH, _EACH // len(speeds))
    state = lines.states(grid, more=2 * each * len(speed) if tolerance else 0)[0]
    clean, runs = _repeated(lines, grid, state, repeats, len(speeds))
    cells = Trials.sort(grid, clean, runs)
    trials = cells
    if tolerance is not None:
        trials = refine(cells, lines.ask, tolerance=float(np.log1p(tolerance)), each=each)
    questions.finish()
    found = collect(string, speeds, distances, frequency_hz, tilt_deg, lines, cells, trials)
    probability = np.where(runs > 0, clean / np.maximum(runs, 1.0), np.nan)
    return tuple(
        SteadyMap(
            ranges,
            weights,
            state[k :: len(speeds)],
            probability[k :: len(speeds)],
            runs[k :: len(speeds)].astype(np.int64),
        )
        for k, ranges in enumerate(found)
    )


def _weights(
    string: BowedString,
    speeds: Floats,
    distances: Floats,
    weights: ArrayLike | None,
    frequency_hz: float | None,
) -> Floats:
    if weights is not None:
        return checked("weights", weights)
    return weights_n(string, speed_m_s=speeds, distance_m=distances, frequency_hz=frequency_hz)


def _repeated(
    lines: SteadyLines, grid: Floats, state: NDArray[np.int8], repeats: int, speeds: int
) -> tuple[Floats, Floats]:
    """Return clean runs and runs of each cell, [n, m], those at odds with a neighbour asked again."""
    clean, runs = (state == PLAYABLE).astype(float), (state >= 0).astype(float)
    again = np.where(disagree(state, speeds=speeds), grid, np.nan) if repeats else np.full_like(grid, np.nan)
    for seed in range(1, repeats + 1):
        left = int(np.count_nonzero(~np.isnan(again))) * (repeats - seed)
        other, _ = lines.states(again, seed=seed, more=left)
        clean += other == PLAYABLE
        runs += other >= 0
    return clean, runs


def disagree(state: NDArray[np.int8], *, speeds: int = 1) -> NDArray[np.bool_]:
    """Return which cells [n, m] are playable where a neighbour is not, or the other way round.

    Neighbours are the next weights on the same line and the same weight at the next distances, which is
    ``speeds`` lines away. Unanswered cells have no opinion.
    """
    good, known = state == PLAYABLE, state >= 0
    differs = np.zeros(state.shape, dtype=bool)
    weight = (good[:, 1:] != good[:, :-1]) & known[:, 1:] & known[:, :-1]
    differs[:, 1:] |= weight
    differs[:, :-1] |= weight
    place = (good[speeds:] != good[:-speeds]) & known[speeds:] & known[:-speeds]
    differs[speeds:] |= place
    differs[:-speeds] |= place
    return differs
