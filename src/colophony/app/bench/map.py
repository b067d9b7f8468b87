"""The bench's map: what the string does at every contact distance and weight, the rest of a stroke held.

A first look takes a tenth of a second; a closer one, finer both ways and with longer strokes, about a second.
All lengths are contact distances as a player sets them: where the middle of the hair lies.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from colophony.app.asking import Survey, asking, find_sounding
from colophony.app.bench.setting import Setting, limits_of
from colophony.app.bow import Request

if TYPE_CHECKING:
    from colophony.app.kept_maps import KeptMaps
    from colophony.app.look.map_cells import Cells
    from colophony.physics.maps import PlayableRanges, SteadyMap

IsStopped = Callable[[], bool]
Name = Literal["first", "closer"]

#: The bow's places that the engine tells apart on a string, at least: 200 samples a period there and back.
_PLACES = 100
#: A first look asks all its strokes at once; a closer one may be stopped after so many.
_AT_ONCE = 128
#: Rows and columns in which a map is looked up: finer than a hand can point.
_ROWS, _COLUMNS = 96, 128
#: Where nobody knows.
BLANK = ""


@dataclass(frozen=True, slots=True)
class Look:
    """How closely a map looks: contact distances at most, weights at each, periods of every stroke."""

    name: Name
    distances: int
    weights: int
    periods: int


#: Weights in multiples of the strokes that the engine plays side by side.
LOOKS: dict[Name, Look] = {
    "first": Look("first", distances=10, weights=32, periods=80),
    "closer": Look("closer", distances=40, weights=64, periods=100),
}

#: What a map depends on: instrument, size, string, note, speed, tilt.
Plane = tuple[str, str, str, str, float, float]


def plane_of(setting: Setting) -> Plane:
    """Return what a map depends on; strokes of one plane are points of one map."""
    note = "" if setting.sounding_note == setting.bowed.note else setting.note
    return (setting.instrument, setting.size, setting.string, note, setting.speed_cm_s, setting.tilt_deg)


@dataclass(frozen=True, eq=False)
class BenchMap:
    """A map as it is drawn and asked."""

    look: Look
    setting: Setting  #: one stroke on it, which says the plane
    steady: SteadyMap
    hair_m: float  #: from the middle of the hair to where a tilted hair carries the weight
    seconds: float  #: of computing

    @property
    def ranges(self) -> PlayableRanges:
        """Between which weights the string sings, at each distance where the hair touches."""
        return self.steady.ranges

    @cached_property
    def cells(self) -> Cells:
        """The cells, ready to draw; rows lie where the bow is set."""
        from colophony.app.look.map_cells import cells_of
        from colophony.physics.maps import closed_form_ranges

        closed = closed_form_ranges(
            self.setting.bowed,
            speed_m_s=self.ranges.speed_m_s,
            distances_m=self.steady.distance_m,
            frequency_hz=self.setting.frequency_hz,
        )
        found = cells_of(self.steady, closed)
        return replace(
            found,
            distance_m=found.distance_m - self.hair_m,
            lower_m=found.lower_m - self.hair_m,
            upper_m=found.upper_m - self.hair_m,
        )

    @property
    def limits(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Distances in m and weights in N from edge to edge of the drawing: all that can be set."""
        found = limits_of(self.setting.bowed, self.setting.frequency_hz)
        return (0.0, found.distance_mm[1] / 1000), found.weight_n

    @cached_property
    def told(self) -> NDArray[np.str_]:
        """The state at every place of the drawing, [rows, columns]: distances evenly, weights in ratio."""
        (near, far), (light, heavy) = self.limits
        distance = near + (np.arange(_ROWS) + 0.5) / _ROWS * (far - near)
        weight = light * (heavy / light) ** ((np.arange(_COLUMNS) + 0.5) / _COLUMNS)
        return _told(self.cells, self.steady.weight_n, distance, weight)

    def state_at(self, distance_m: float, weight_n: float) -> str:
        """Return the state at a place and weight; `BLANK` where the map does not reach."""
        (near, far), (light, heavy) = self.limits
        row = int((distance_m - near) / (far - near) * _ROWS)
        column = int(np.log(weight_n / light) / np.log(heavy / light) * _COLUMNS)
        return str(self.told[min(max(row, 0), _ROWS - 1), min(max(column, 0), _COLUMNS - 1)])


def ask_map(
    setting: Setting,
    look: Look,
    *,
    threads: int | None = None,
    is_stopped: IsStopped | None = None,
    kept: KeptMaps | None = None,
) -> BenchMap | None:
    """Compute the map around a stroke, or take it from those that are kept; None if it was stopped.

    Parameters
    ----------
    threads : of this machine's processors; all of them when None
    is_stopped : asked now and then whether nobody wants the map any more
    kept : where closer maps are kept
    """
    from colophony.physics.maps import steady_map

    began = time.perf_counter()
    sounding = find_sounding(Request(setting.instrument, setting.size, setting.string, setting.note or None))
    distances, weights = _grid(setting, look)
    offsets, shares = sounding.instrument.ribbon.lay(setting.tilt_deg)
    hair_m = float(np.dot(offsets, shares) / np.sum(shares))

    def made(steady: SteadyMap) -> BenchMap:
        return BenchMap(look, setting, steady, hair_m, time.perf_counter() - began)

    key = ""
    if kept is not None:
        key = kept.key("bench", _content(sounding, setting, look, distances, weights))
        found = kept.find(key)
        if found is not None:
            return made(found[0])
    survey = Survey(sounding, look.periods, threads=threads)
    with asking(survey, is_stopped=is_stopped) as ask:
        steady = steady_map(
            sounding.string,
            ask,
            speed_m_s=setting.speed_cm_s / 100,
            distances_m=distances,
            weights_n=weights,
            frequency_hz=sounding.frequency_hz,
            tilt_deg=setting.tilt_deg,
            tolerance=None,
            strokes_at_once=len(distances) * len(weights) if look.name == "first" else _AT_ONCE,
        )
    if not steady.ranges.is_finished:
        return None
    if kept is not None:
        kept.keep(key, (steady,))
    return made(steady)


def _grid(setting: Setting, look: Look) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Distances in m from where half the hair would touch the bridge to the farthest, and weights in N."""
    from colophony.physics.maps import contact_distances_m

    limits = limits_of(setting.bowed, setting.frequency_hz)
    nearest = float(contact_distances_m(setting.bowed, frequency_hz=setting.frequency_hz, count=2)[0])
    farthest = limits.distance_mm[1] / 1000
    apart = setting.length_m / _PLACES
    count = max(2, min(look.distances, 1 + int((farthest - nearest) / apart)))
    return np.linspace(nearest, farthest, count), np.geomspace(*limits.weight_n, look.weights)


def _content(
    sounding: object,
    setting: Setting,
    look: Look,
    distances: NDArray[np.float64],
    weights: NDArray[np.float64],
) -> dict[str, object]:
    from colophony.physics.player import Model

    return {
        "sounding": sounding,
        "model": Model(),
        "speed_cm_s": setting.speed_cm_s,
        "tilt_deg": setting.tilt_deg,
        "periods": look.periods,
        "distances_m": distances,
        "weights_n": weights,
    }


def _told(
    cells: Cells,
    grid_n: NDArray[np.float64],
    distance_m: NDArray[np.float64],
    weight_n: NDArray[np.float64],
) -> NDArray[np.str_]:
    """Return the states [n, m] at distances [n] and weights [m], as a drawing of the cells shows them."""
    from colophony.app.look.map_cells import CLEAR

    row = np.clip(np.searchsorted(cells.upper_m, distance_m), 0, len(cells.distance_m) - 1)
    column = np.clip(np.searchsorted(cells.weight_edges_n, weight_n) - 1, 0, len(grid_n) - 1)
    at = np.ix_(row, column)
    least, greatest = (
        _between(cells.distance_m, edge, distance_m, row) for edge in (cells.weight_min_n, cells.weight_max_n)
    )
    inside = (weight_n >= least[:, None]) & (weight_n <= greatest[:, None])
    own = (grid_n >= cells.weight_min_n[:, None]) & (grid_n <= cells.weight_max_n[:, None])
    clear = np.where(own[at], inside & (cells.hole[at] < 0.5), inside | (cells.over[at] >= 0.5))
    told = np.where(clear, CLEAR, cells.around[at])
    told[(distance_m < cells.lower_m[0]) | (distance_m > cells.upper_m[-1])] = BLANK
    return told


def _between(
    places: NDArray[np.float64], edge_n: NDArray[np.float64], at: NDArray[np.float64], row: NDArray[np.intp]
) -> NDArray[np.float64]:
    """Return an edge's weight between rows, straight in its logarithm; nan in a row that has none."""
    log = np.log(edge_n)
    found = np.interp(at, places, log)
    found = np.where(np.isnan(found), log[row], found)
    return np.exp(np.where(np.isnan(log[row]), np.nan, found))
