"""How far a stroke may wander on the bench's map, in figures and in a sentence; what speaks at each point."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from colophony.app.bench.map import BLANK, BenchMap
from colophony.app.bench.setting import Setting
from colophony.app.look.map_cells import CLEAR
from colophony.app.phrases import sentences
from colophony.language import N_, _, figures
from colophony.teaching.sounding_points import POINTS, point_to_m
from colophony.teaching.wording.bowed import simulated_sentence

Span = tuple[float, float]

#: From this factor on, in words: more weight, and less.
_HARDER = (
    (1.1, N_("a little more weight")),
    (4 / 3, N_("a third more weight")),
    (1.5, N_("half as much weight again")),
    (2.0, N_("twice the weight")),
    (3.0, N_("three times the weight")),
    (4.0, N_("four times the weight")),
    (5.0, N_("five times the weight")),
    (6.0, N_("more than five times the weight")),
)
_LIGHTER = (
    (1.1, N_("a little less weight")),
    (4 / 3, N_("a quarter less weight")),
    (1.5, N_("a third less weight")),
    (2.0, N_("half the weight")),
    (3.0, N_("a third of the weight")),
    (4.0, N_("a quarter of the weight")),
    (5.0, N_("a fifth of the weight")),
    (6.0, N_("less than a fifth of the weight")),
)
#: A factor or way a hair short of a step is still told as it.
_NEARLY = 0.97
_LEAST_MM = 0.75


@dataclass(frozen=True, slots=True)
class Spot:
    """A stroke on the map: the state there, and how far place alone and weight alone may wander."""

    state: str  #: `BLANK` where the map does not reach
    says: str
    distances_m: Span | None = None  #: nearest and farthest at this weight
    weights_n: Span | None = None  #: least and greatest at this place


@dataclass(frozen=True, slots=True)
class PointStroke:
    """What speaks at a sounding point: the stroke there, and whether the tone is clear."""

    point: int
    setting: Setting
    speaks: bool


def spot_of(found: BenchMap, setting: Setting) -> Spot:
    """Return what the map says of a stroke on it."""
    distance, weight = setting.distance_mm / 1000, setting.weight_n
    state = found.state_at(distance, weight)
    if state == BLANK:
        nearest = math.ceil(1000 * float(found.cells.lower_m[0]))
        line = _("So near the bridge half of the hair would lie on it: the map begins at {distance} mm.")
        return Spot(BLANK, line.format(distance=nearest))
    weights = _weights_at(found, distance)
    distances = _distances_at(found, distance, weight)
    if state != CLEAR:
        return Spot(state, _way_out(found, setting, state, weights, distances))
    if weights is None or distances is None or not weights[0] <= weight <= weights[1]:
        line = _("The tone is clear here, but this is a ragged edge: a little away it may not be.")
        return Spot(state, line)
    return Spot(state, _wander(found, setting, distances, weights), distances, weights)


def point_strokes(found: BenchMap, setting: Setting) -> list[PointStroke]:
    """Return a stroke at each sounding point: under this weight where that speaks, else the middle of those
    that do. Where none does the weight stays as it is.
    """
    strokes = []
    high_mm = 1000 * found.limits[0][1]
    for point in range(1, POINTS + 1):
        place = point_to_m(point, setting.bowed, frequency_hz=setting.frequency_hz)
        place_mm = min(round(2000 * place) / 2, high_mm)
        weights = _weights_at(found, place_mm / 1000)
        weight = setting.weight_n
        if weights is not None and found.state_at(place_mm / 1000, weight) != CLEAR:
            weight = float(f"{math.sqrt(weights[0] * weights[1]):.2g}")
        stroke = replace(setting, distance_mm=place_mm, weight_n=weight)
        speaks = found.state_at(place_mm / 1000, weight) == CLEAR
        if not speaks:
            stroke = replace(stroke, weight_n=setting.weight_n)
        strokes.append(PointStroke(point, stroke, speaks))
    return strokes


def _weights_at(found: BenchMap, distance_m: float) -> Span | None:
    """Return the least and greatest weight that speak at a place; None where none is sure."""
    cells = found.cells
    row = int(np.clip(np.searchsorted(cells.upper_m, distance_m), 0, len(cells.distance_m) - 1))
    if np.isnan(cells.weight_min_n[row]) or distance_m < cells.lower_m[0]:
        return None
    spans = []
    for edge in (cells.weight_min_n, cells.weight_max_n):
        log = np.log(edge)
        value = float(np.interp(distance_m, cells.distance_m, log))
        spans.append(math.exp(float(log[row]) if math.isnan(value) else value))
    return spans[0], spans[1]


def _distances_at(found: BenchMap, distance_m: float, weight_n: float) -> Span | None:
    """Return the stretch of places around a place in which a weight speaks; else the nearest such stretch."""
    (near, far), (light, heavy) = found.limits
    told = found.told
    column = int(np.log(weight_n / light) / np.log(heavy / light) * told.shape[1])
    clear = told[:, min(max(column, 0), told.shape[1] - 1)] == CLEAR
    edges = np.flatnonzero(np.diff(np.concatenate([[False], clear, [False]]).astype(int)))
    if not len(edges):
        return None
    step = (far - near) / len(clear)
    spans = [(near + a * step, near + b * step) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    low, high = min(spans, key=lambda span: max(span[0] - distance_m, distance_m - span[1], 0.0))
    return float(low), float(high)


def _wander(found: BenchMap, setting: Setting, distances: Span, weights: Span) -> str:
    nearer = max(setting.distance_mm - 1000 * distances[0], 0.0)
    farther = max(1000 * distances[1] - setting.distance_mm, 0.0)
    is_over = setting.distance_mm > 1000 * setting.bowed.bowable_length_m
    if distances[1] >= found.limits[0][1] - 1e-6:
        outward = _("as far over the fingerboard as this map goes")
    else:
        outward = _("{way} over the fingerboard") if is_over else _("{way} towards the fingerboard")
        outward = outward.format(way=_mm(farther))
    inward = _("{way} towards the bridge").format(way=_mm(nearer))
    harder = _step(_HARDER, weights[1] / setting.weight_n)
    lighter = _step(_LIGHTER, setting.weight_n / weights[0])
    if harder and lighter:
        line = _(
            "From here you may wander {outward} and {inward}, and the bow may rest with up to {harder}, or "
            "down to {lighter}."
        )
    elif harder:
        line = _(
            "From here you may wander {outward} and {inward}, and the bow may rest with up to {harder}; no "
            "lighter."
        )
    elif lighter:
        line = _(
            "From here you may wander {outward} and {inward}, and the bow may rest with as little as "
            "{lighter}; no heavier."
        )
    else:
        line = _("From here you may wander {outward} and {inward}; keep the weight as it is.")
    return line.format(outward=outward, inward=inward, harder=harder, lighter=lighter)


def _mm(way_mm: float) -> str:
    return f"{way_mm:.0f}\u00a0mm" if way_mm >= _LEAST_MM else _("hardly at all")


def _step(steps: tuple[tuple[float, str], ...], factor: float) -> str:
    reached = [words for least, words in steps if factor >= _NEARLY * least]
    return _(reached[-1]) if reached else ""


def _way_out(
    found: BenchMap, setting: Setting, state: str, weights: Span | None, distances: Span | None
) -> str:
    """What the state means, and between which weights, and where, the string sings."""
    heard = simulated_sentence(state, reader="adult")
    if weights is None and distances is None:
        neither = _("At this speed neither another weight nor another place alone is sure to clear it.")
        return sentences((heard, neither))
    if distances is None:
        line = _("It is clear here from {least} to {greatest}\u00a0N.")
    elif weights is None:
        line = _("It is clear with this weight from {near} to {far}\u00a0mm from the bridge.")
    else:
        line = _(
            "It is clear here from {least} to {greatest}\u00a0N, or with this weight from {near} to "
            "{far}\u00a0mm from the bridge."
        )
    least, greatest = (figures(f"{weight:.2g}") for weight in weights or (0.0, 0.0))
    near, far = (f"{1000 * place:.0f}" for place in distances or (0.0, 0.0))
    return sentences((heard, line.format(least=least, greatest=greatest, near=near, far=far)))
