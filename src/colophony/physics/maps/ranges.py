"""The playable range at each contact distance: values, and how they are found with few strokes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from colophony.physics.kernel.state import LANES
from colophony.physics.maps.bands import Floats, Trials, count_wrong, find_bands
from colophony.physics.maps.grids import (
    check_tolerance,
    checked,
    contact_distances_m,
    sounding_length_m,
    weights_around_n,
)
from colophony.physics.maps.lines import SteadyLines
from colophony.physics.maps.questions import STROKES_AT_ONCE, Ask, Progress, Questions
from colophony.physics.maps.refining import refine
from colophony.physics.strings import BowedString

#: Coarse weights of a line, and strokes an edge and round, at least; with one speed a line fills the engine.
_FEWEST_COARSE, _FEWEST_EACH = 16, 6
_DB_A_NEPER = 20.0 / np.log(10.0)


@dataclass(frozen=True, slots=True, eq=False)
class PlayableRanges:
    """Between which weights the string keeps one slip a period, by contact distance: arrays [n].

    nan where there is nothing to say: a distance without a clean band has nan in ``weight_min_n`` and
    ``weight_max_n``. Beyond a clean edge there may be a ragged stretch, where now one weight is clean and
    now the next is not: from ``ragged_min_n`` up to ``weight_min_n`` the share ``share_below`` of weights is
    clean, from ``weight_max_n`` to ``ragged_max_n`` the share ``share_above``. Without a clean band
    ``ragged_min_n`` to ``ragged_max_n`` hold all that sounds, and ``share`` says how much of it does.
    """

    speed_m_s: float
    tilt_deg: float
    frequency_hz: float
    length_m: float  #: that sounds at this note
    distance_m: Floats  #: bow to bridge as asked, ascending
    beta: Floats  #: contact distance over length as simulated; nan where nothing was answered
    weight_min_n: Floats  #: least weight of the clean band
    weight_max_n: Floats  #: greatest
    ragged_min_n: (
        Floats  #: least weight that ever is clean but for single ones; same as the least if not ragged
    )
    ragged_max_n: Floats
    share_below: Floats  #: clean share of the ragged stretch below the band; nan where there is none
    share_above: Floats
    share: Floats  #: clean share from ``ragged_min_n`` to ``ragged_max_n``
    min_is_open: NDArray[np.bool_]  #: nothing lighter was tried: the least weight may lie lower
    max_is_open: NDArray[np.bool_]  #: nothing heavier was tried
    cells: NDArray[np.int64]  #: weights of the grid inside the clean band
    wrong: NDArray[np.int64]  #: those of them that are not clean: isolated holes
    strays: NDArray[np.int64]  #: weights of the grid beyond all edges that are clean all the same
    strokes: int  #: asked, for all speeds of the family together
    is_finished: bool  #: False where somebody interrupted

    @property
    def played_distance_m(self) -> Floats:
        """Contact distances in m as simulated."""
        return np.where(np.isnan(self.beta), self.distance_m, self.beta * self.length_m)

    @property
    def ragged_share(self) -> Floats:
        """Share of holes in each clean band; nan where there is no band."""
        return np.where(self.cells > 0, self.wrong / np.maximum(self.cells, 1), np.nan)

    @property
    def all_ragged_share(self) -> float:
        """Share of holes in all clean bands together."""
        return float(self.wrong.sum() / max(int(self.cells.sum()), 1))

    @property
    def range_db(self) -> Floats:
        """Span of weight, 20 log10(greatest / least), in dB; nan where there is no clean band."""
        return _DB_A_NEPER * np.log(self.weight_max_n / self.weight_min_n)

    @property
    def middle_n(self) -> Floats:
        """Weight in the middle of the range in ratio, N."""
        return np.sqrt(self.weight_min_n * self.weight_max_n)

    def limits_at(self, distance_m: float) -> tuple[float, float]:
        """Return the least and greatest weight in N at a contact distance in m, as played.

        Straight between distances in logarithms; nan where a neighbour has no clean band, or beyond the ends.
        """
        x, kept = self.rows()
        low, high = (
            float(np.exp(np.interp(np.log(distance_m), x, np.log(row[kept]), left=np.nan, right=np.nan)))
            for row in (self.weight_min_n, self.weight_max_n)
        )
        return low, high

    def rows(self) -> tuple[Floats, NDArray[np.int64]]:
        """Return the logarithms of the distances as played, ascending, and their rows; equal ones once."""
        x, kept = np.unique(np.log(self.played_distance_m), return_index=True)
        return x, kept


def playable_ranges(
    string: BowedString,
    ask: Ask,
    *,
    speeds_m_s: float | Sequence[float],
    distances_m: ArrayLike | None = None,
    weights_n: ArrayLike | None = None,
    frequency_hz: float | None = None,
    tilt_deg: float = 0.0,
    tolerance: float = 0.02,
    progress: Progress | None = None,
    strokes_at_once: int = STROKES_AT_ONCE,
) -> tuple[PlayableRanges, ...]:
    """Return the playable range at each contact distance, one `PlayableRanges` a speed.

    A coarse row of weights at each distance, then only where neighbours disagree: far fewer strokes than a
    full map, and edges far finer than its steps.

    Parameters
    ----------
    string : the string asked about; ``ask`` must bow the same one at the same note
    ask : answers strokes, such as a survey with instrument, string and note given
    speeds_m_s : one or more bow speeds, m/s
    distances_m : contact distances, m, ascending, [n]; by default 12 as `grids.contact_distances_m`
    weights_n : coarse weights, N, [m]; by default 32 (with several speeds 16) around the published limits
    tolerance : width of an edge as a share of the weight, 0.002 to 0.5
    progress : called after every block with strokes done and expected
    strokes_at_once : strokes a block

    Raises `InputError` for values out of range.
    """
    check_tolerance(tolerance)
    speeds, distances = speeds_and_distances(string, speeds_m_s, distances_m, frequency_hz, count=12)
    speed, distance = pairs(speeds, distances)
    if weights_n is None:
        grid = weights_around_n(
            string,
            speed_m_s=speed,
            distance_m=distance,
            frequency_hz=frequency_hz,
            count=max(_FEWEST_COARSE, LANES // len(speeds)),
        )
    else:
        grid = np.broadcast_to(checked("weights", weights_n), (len(speed), np.size(weights_n)))
    questions = Questions(ask, tilt_deg=tilt_deg, strokes_at_once=strokes_at_once, progress=progress)
    lines = SteadyLines(
        questions, string, "weight", speed_m_s=speed, distance_m=distance, frequency_hz=frequency_hz
    )
    each = max(_FEWEST_EACH, LANES // (2 * len(speeds)))
    played, clean, runs = lines.ask(np.log(grid), more=2 * each * len(speed))
    coarse = Trials.sort(played, clean, runs)
    trials = refine(coarse, lines.ask, tolerance=float(np.log1p(tolerance)), each=each)
    questions.finish()
    return collect(string, speeds, distances, frequency_hz, tilt_deg, lines, coarse, trials)


# --- shared with the full map


def speeds_and_distances(
    string: BowedString,
    speeds_m_s: float | Sequence[float],
    distances_m: ArrayLike | None,
    frequency_hz: float | None,
    *,
    count: int,
) -> tuple[Floats, Floats]:
    """Return speeds [s] and distances [n] as arrays, checked; distances by default."""
    speeds = checked("speeds", np.asarray(speeds_m_s, dtype=float))
    if distances_m is None:
        return speeds, contact_distances_m(string, frequency_hz=frequency_hz, count=count)
    return speeds, checked("distances", distances_m)


def pairs(speeds: Floats, distances: Floats) -> tuple[Floats, Floats]:
    """Return speed and distance of every line, all speeds of one distance together, [n * s]."""
    return np.tile(speeds, len(distances)), np.repeat(distances, len(speeds))


def collect(
    string: BowedString,
    speeds: Floats,
    distances: Floats,
    frequency_hz: float | None,
    tilt_deg: float,
    lines: SteadyLines,
    grid: Trials,
    trials: Trials,
) -> tuple[PlayableRanges, ...]:
    """Return what the trials say, one `PlayableRanges` a speed; holes and strays are those of ``grid``."""
    bands = find_bands(trials)
    counts = count_wrong(grid, bands)

    def one_speed(k: int) -> PlayableRanges:
        own = slice(k, None, len(speeds))
        cells, wrong, strays = (count[own] for count in counts)
        return PlayableRanges(
            speed_m_s=float(speeds[k]),
            tilt_deg=tilt_deg,
            frequency_hz=frequency_hz or string.open_frequency_hz,
            length_m=sounding_length_m(string, frequency_hz),
            distance_m=distances,
            beta=lines.beta[own],
            weight_min_n=np.exp(bands.low[own]),
            weight_max_n=np.exp(bands.high[own]),
            ragged_min_n=np.exp(bands.outer_low[own]),
            ragged_max_n=np.exp(bands.outer_high[own]),
            share_below=bands.share_low[own],
            share_above=bands.share_high[own],
            share=bands.share[own],
            min_is_open=bands.low_is_open[own],
            max_is_open=bands.high_is_open[own],
            cells=cells,
            wrong=wrong,
            strays=strays,
            strokes=lines.questions.asked,
            is_finished=not lines.questions.is_interrupted,
        )

    return tuple(one_speed(k) for k in range(len(speeds)))
