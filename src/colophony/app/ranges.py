"""Use case: how much room does the player have? The map over contact distance and weight at a speed."""

from __future__ import annotations

import csv
import io
import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from colophony.app import bow
from colophony.app.asking import STROKES_AT_ONCE, IsStopped, Sounding, Survey, Target, asking, find_sounding
from colophony.errors import InputError
from colophony.language import N_, _
from colophony.teaching.sounding_points import POINTS, point_to_m

if TYPE_CHECKING:
    from colophony.app.kept_maps import KeptMaps
    from colophony.physics.maps import PlayableRanges, SpeakingStroke, SteadyMap

#: Told the strokes answered and those expected in all, which may grow.
Progress = Callable[[int, int], None]

#: What a map may ask for: field, name, least, greatest.
_COUNTS: tuple[tuple[str, str, int, int], ...] = (
    ("distances", N_("contact distances"), 2, 1000),
    ("weights", N_("weights"), 4, 1000),
    ("periods", N_("periods"), 20, 2000),
    ("repeats", N_("repeats"), 0, 100),
)
#: Strokes that the table of one speed takes, about.
_STROKES_OF_A_TABLE = 600
#: Below this span of weight, twice the least, there is hardly room. A choice, no measurement.
NARROW_DB = 6.0


@dataclass(frozen=True, slots=True)
class Request:
    """A map to compute, in a player's units."""

    instrument: str = "violin"
    size: str = "4/4"
    string: str | None = None  #: letter or open note; the likeliest for the note, else A
    note: str | None = None  #: the open string when None
    gauge: str = "medium"
    a4_hz: float = 440.0
    speeds_cm_s: tuple[float, ...] = (20.0,)  #: a map for each
    tilt_deg: float = 0.0  #: from flat hair
    distances: int = 40
    weights: int = 50
    periods: int = 100  #: length of each stroke
    repeats: int = 0  #: further tries of cells at odds with a neighbour
    target: Target = "cpu"
    threads: int | None = None
    scheduler: str | None = None  #: address, for the target cluster


@dataclass(frozen=True, slots=True, eq=False)
class Map:
    """What the string does over contact distance and weight at one speed, and what a player makes of it."""

    steady: SteadyMap
    closed_form: PlayableRanges  #: the measured limits (Schoonderwaldt et al. 2008) at the same distances
    points: tuple[SpeakingStroke, ...]  #: a stroke that speaks at each sounding point; empty if not asked

    @property
    def speed_cm_s(self) -> float:
        """Speed of the bow."""
        return 100.0 * self.steady.ranges.speed_m_s


@dataclass(frozen=True, slots=True, eq=False)
class Ranges:
    """The maps of one string, one a speed."""

    request: Request
    sounding: Sounding
    maps: tuple[Map, ...]
    seconds: float  #: of computing, when it was computed
    is_kept: bool = False  #: computed earlier, and kept

    @property
    def is_finished(self) -> bool:
        """False where somebody stopped the work."""
        return all(
            one.steady.ranges.is_finished and all(point.is_finished for point in one.points)
            for one in self.maps
        )

    @property
    def runs(self) -> int:
        """Strokes that the maps hold."""
        return int(self.maps[0].steady.ranges.strokes)

    @property
    def cells_finished(self) -> tuple[int, int]:
        """Cells with an answer, and all of them."""
        states = [one.steady.state for one in self.maps]
        return sum(int((state >= 0).sum()) for state in states), sum(state.size for state in states)

    def to_json(self) -> list[dict[str, Any]]:
        """Return one object of plain JSON values a speed; ``docs/range.schema.json`` describes it."""
        return [_map_to_json(self, one) for one in self.maps]

    def to_csv(self) -> str:
        """Return every cell as a row of a table (RFC 4180), with a line of names."""
        out = io.StringIO()
        rows = csv.writer(out)
        rows.writerow(
            ("speed_cm_s", "distance_mm", "simulated_distance_mm", "weight_n", "state", "probability", "runs")
        )
        for one in self.maps:
            steady = one.steady
            played = steady.ranges.played_distance_m
            for i, distance in enumerate(steady.distance_m.tolist()):
                for j, weight in enumerate(steady.weight_n.tolist()):
                    rows.writerow(
                        (
                            f"{one.speed_cm_s:g}",
                            f"{1000 * distance:.2f}",
                            f"{1000 * played[i]:.2f}",
                            f"{weight:.4g}",
                            state_name(int(steady.state[i, j])) or "",
                            "" if math.isnan(steady.probability[i, j]) else f"{steady.probability[i, j]:.3g}",
                            int(steady.runs[i, j]),
                        )
                    )
        return out.getvalue()


def find_ranges(
    request: Request,
    *,
    table: bool = True,
    progress: Progress | None = None,
    is_stopped: IsStopped | None = None,
    kept: KeptMaps | None = None,
    anew: bool = False,
) -> Ranges:
    """Compute the maps of a string, one a speed, or take them from those that are kept.

    Parameters
    ----------
    request : what is asked
    table : also find what speaks at each sounding point, and how far it may wander
    progress : told after every block of strokes
    is_stopped : asked before every block; where it says yes, or `KeyboardInterrupt` comes while the string is
        asked, the answer holds what is finished
    kept : where maps are kept; None keeps none
    anew : compute although it is kept

    Raises `InputError` with one line for a person: a value out of range, an unknown name, a target that this
    machine lacks.
    """
    sounding = check(request)
    key = "" if kept is None else kept.key("range", _content(request, sounding, table=table))
    if kept is not None and not anew and (found := kept.find(key)) is not None:
        maps, seconds = found
        return Ranges(request, sounding, _with_closed_forms(sounding, maps), seconds, is_kept=True)
    begin = time.perf_counter()
    maps = _compute(request, sounding, table=table, progress=progress, is_stopped=is_stopped)
    seconds = time.perf_counter() - begin
    ranges = Ranges(request, sounding, _with_closed_forms(sounding, maps), seconds)
    if kept is not None and ranges.is_finished:
        kept.keep(key, (maps, seconds))
    return ranges


def check(request: Request) -> Sounding:
    """Return string and note of a request; raise `InputError` for the first thing to put right."""
    if not request.speeds_cm_s:
        raise InputError(_("a map needs a speed: give one in cm/s, such as 20"))
    if len(set(request.speeds_cm_s)) < len(request.speeds_cm_s):
        raise InputError(_("two speeds of the family are the same: leave one out"))
    check_counts(request, _COUNTS)
    for speed_cm_s in request.speeds_cm_s:
        sounding = find_sounding(stroke_of(request, speed_cm_s=speed_cm_s))
    return sounding


def check_counts(request: Any, counts: Sequence[tuple[str, str, int, int]]) -> None:
    """Raise `InputError` for the first of a request's whole numbers that is out of range."""
    for field, name, least, most in (*counts, ("threads", N_("threads"), 1, 1024)):
        value = getattr(request, field)
        if value is not None and not least <= value <= most:
            line = _("{value} {things} are out of range: choose {least} to {most}")
            raise InputError(line.format(value=value, things=_(name), least=least, most=most))


def stroke_of(request: Any, **more: Any) -> bow.Request:
    """Return a stroke on the string of a request."""
    names = ("instrument", "size", "string", "note", "gauge", "a4_hz", "tilt_deg")
    return bow.Request(**{name: getattr(request, name) for name in names}, **more)


def points_m(sounding: Sounding, *, is_open: bool = False) -> list[float]:
    """Return the middles of the sounding points, m from the bridge, at the note or on the open string."""
    frequency_hz = None if is_open else sounding.frequency_hz
    return [point_to_m(point, sounding.string, frequency_hz=frequency_hz) for point in range(1, POINTS + 1)]


def state_name(index: int) -> str | None:
    """Return the name of a cell's state, None where nothing was answered."""
    from colophony.physics.regimes import STATES

    return str(STATES[index]) if index >= 0 else None


# --- computing

_Maps = tuple[tuple["SteadyMap", tuple["SpeakingStroke", ...]], ...]


def _compute(
    request: Request,
    sounding: Sounding,
    *,
    table: bool,
    progress: Progress | None,
    is_stopped: IsStopped | None,
) -> _Maps:
    from colophony.physics.maps import contact_distances_m, speaking_strokes, steady_maps, weights_n

    string, frequency_hz = sounding.string, sounding.frequency_hz
    speeds = sorted(speed / 100.0 for speed in request.speeds_cm_s)
    distances = contact_distances_m(string, frequency_hz=frequency_hz, count=request.distances)
    shared: dict[str, Any] = {
        "frequency_hz": frequency_hz,
        "tilt_deg": request.tilt_deg,
        "strokes_at_once": STROKES_AT_ONCE[request.target],
    }
    tables = len(speeds) if table else 0
    counted = _Counted(progress, later=_STROKES_OF_A_TABLE * tables)
    survey = Survey(
        sounding, request.periods, target=request.target, threads=request.threads, scheduler=request.scheduler
    )
    with asking(survey, is_stopped=is_stopped) as ask:
        maps = steady_maps(
            string,
            ask,
            speeds_m_s=speeds,
            distances_m=distances,
            weights_n=weights_n(
                string,
                speed_m_s=speeds,
                distance_m=distances,
                frequency_hz=frequency_hz,
                count=request.weights,
            ),
            repeats=request.repeats,
            progress=counted.part,
            **shared,
        )
        points: list[tuple[SpeakingStroke, ...]] = []
        for k in range(tables):
            if not maps[0].ranges.is_finished:
                break
            counted.next(later=_STROKES_OF_A_TABLE * (tables - k - 1))
            found = speaking_strokes(
                string,
                ask,
                distances_m=points_m(sounding),
                speeds_m_s=speeds[k],
                progress=counted.part,
                **shared,
            )
            points.append(found)
            if not all(point.is_finished for point in found):
                break
    points += [()] * (len(maps) - len(points))
    return tuple(zip(maps, points, strict=True))


class _Counted:
    """Joins the progress of several searches, one after the other, to one."""

    def __init__(self, progress: Progress | None, *, later: int) -> None:
        self._progress, self._later, self._before, self._here = progress, later, 0, 0

    def part(self, done: int, expected: int) -> None:
        self._here = done
        if self._progress is not None:
            self._progress(self._before + done, self._before + expected + self._later)

    def next(self, *, later: int) -> None:
        self._before, self._here, self._later = self._before + self._here, 0, later


def _with_closed_forms(sounding: Sounding, maps: _Maps) -> tuple[Map, ...]:
    from colophony.physics.maps import closed_form_ranges

    return tuple(
        Map(
            steady,
            closed_form_ranges(
                sounding.string,
                speed_m_s=steady.ranges.speed_m_s,
                distances_m=steady.distance_m,
                frequency_hz=sounding.frequency_hz,
            ),
            points,
        )
        for steady, points in maps
    )


def _content(request: Request, sounding: Sounding, *, table: bool) -> dict[str, Any]:
    """Return all that the maps depend on; what they do not depend on is left out."""
    from colophony.physics.player import Model

    left_out = {
        "threads",
        "scheduler",
        "instrument",
        "size",
        "string",
        "note",
        "gauge",
        "a4_hz",
        "speeds_cm_s",
    }
    asked = {
        field.name: getattr(request, field.name) for field in fields(request) if field.name not in left_out
    }
    return asked | {
        "speeds_cm_s": sorted(request.speeds_cm_s),
        "table": table,
        "sounding": sounding,
        "model": Model(),
        "points_m": points_m(sounding),
    }


# --- JSON


def _map_to_json(ranges: Ranges, one: Map) -> dict[str, Any]:
    from colophony.physics.maps import wander_rooms

    request, sounding, steady = ranges.request, ranges.sounding, one.steady
    computed = steady.ranges
    rooms = wander_rooms(computed)
    played = computed.played_distance_m
    mm, newton = partial(scaled, factor=1000.0, digits=2), partial(scaled, factor=1.0, digits=4)
    decibel, share = partial(scaled, factor=1.0, digits=2), partial(scaled, factor=1.0, digits=3)
    return {
        "parameters": {
            "instrument": request.instrument,
            "size": request.size,
            "string": sounding.string.name,
            "note": sounding.note,
            "note_hz": scaled(sounding.frequency_hz, factor=1.0, digits=2),
            "gauge": request.gauge,
            "a4_hz": request.a4_hz,
            "speed_cm_s": scaled(computed.speed_m_s, factor=100.0, digits=4),
            "tilt_deg": request.tilt_deg,
            "distances": request.distances,
            "weights": request.weights,
            "periods": request.periods,
            "repeats": request.repeats,
        },
        "distance_mm": [mm(d) for d in steady.distance_m],
        "simulated_distance_mm": [mm(d) for d in played],
        "weight_n": [newton(w) for w in steady.weight_n],
        "state": [[state_name(cell) for cell in row] for row in steady.state.tolist()],
        "probability": [[share(cell) for cell in row] for row in steady.probability.tolist()],
        "limits": [
            {
                "distance_mm": mm(steady.distance_m[i]),
                "simulated_distance_mm": mm(played[i]),
                "weight_min_n": newton(computed.weight_min_n[i]),
                "weight_max_n": newton(computed.weight_max_n[i]),
                "range_db": decibel(computed.range_db[i]),
                "wander_room_mm": None if (room := rooms[i]) is None else mm(room.width_m),
                "min_is_open": bool(computed.min_is_open[i]),
                "max_is_open": bool(computed.max_is_open[i]),
                "ragged_min_n": newton(computed.ragged_min_n[i]),
                "ragged_max_n": newton(computed.ragged_max_n[i]),
                "share_below": share(computed.share_below[i]),
                "share_above": share(computed.share_above[i]),
                "share": share(computed.share[i]),
            }
            for i in range(len(steady.distance_m))
        ],
        "closed_form": [
            {"distance_mm": mm(distance), "weight_min_n": newton(least), "weight_max_n": newton(greatest)}
            for distance, least, greatest in zip(
                one.closed_form.distance_m,
                one.closed_form.weight_min_n,
                one.closed_form.weight_max_n,
                strict=True,
            )
        ],
        "sounding_points": [_point_to_json(i + 1, point, sounding) for i, point in enumerate(one.points)],
        "runs": ranges.runs,
        "seconds": scaled(ranges.seconds, factor=1.0, digits=3),
        "target": request.target,
        "finished": ranges.is_finished,
        "kept": ranges.is_kept,
    }


def _point_to_json(number: int, point: SpeakingStroke, sounding: Sounding) -> dict[str, Any]:
    def figure(value: float, factor: float, digits: int) -> float | None:
        return scaled(value, factor=factor, digits=digits)

    wander = point.wander
    return {
        "point": number,
        "distance_mm": figure(point.distance_m, 1000.0, 2),
        "open_string_mm": figure(point_to_m(number, sounding.string), 1000.0, 2),
        "simulated_distance_mm": figure(point.beta * sounding.length_m, 1000.0, 2),
        "weight_n": figure(point.weight_n, 1.0, 4),
        "weight_min_n": figure(point.weight_min_n, 1.0, 4),
        "weight_max_n": figure(point.weight_max_n, 1.0, 4),
        "range_db": figure(point.range_db, 1.0, 2) if point.speaks else None,
        "speed_min_cm_s": figure(point.speed_min_m_s, 100.0, 2),
        "speed_max_cm_s": figure(point.speed_max_m_s, 100.0, 2),
        "nearest_mm": None if wander is None else figure(wander.nearest_m, 1000.0, 2),
        "farthest_mm": None if wander is None else figure(wander.farthest_m, 1000.0, 2),
        "wander_room_mm": None if wander is None else figure(wander.width_m, 1000.0, 2),
    }


def scaled(value: float | np.floating[Any], *, factor: float, digits: int) -> float | None:
    """Return a rounded plain number; what is not finite is not known."""
    scaled = factor * float(value)
    return round(scaled, digits) + 0.0 if math.isfinite(scaled) else None


def narrow_from_m(computed: PlayableRanges, *, inside_m: float) -> float | None:
    """Return the contact distance in m nearer than which there is hardly room: less than `NARROW_DB`.

    Looked for from a distance towards the bridge; None where all that was tried nearer has more room.
    """
    x, kept = computed.rows()
    places: Sequence[float] = np.exp(x).tolist()
    spans = computed.range_db[kept].tolist()
    wide: float | None = None
    for place, span in zip(reversed(places), reversed(spans), strict=True):
        if place > inside_m * (1.0 + 1e-6):
            continue
        if not span >= NARROW_DB:  # also where there is none
            return wide if wide is not None else inside_m
        wide = place
    return None
