"""Use case: how may a stroke begin? The map over weight and acceleration of the bow from rest."""

from __future__ import annotations

import csv
import io
import math
import time
from dataclasses import dataclass, fields
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from colophony.app import bow
from colophony.app.asking import STROKES_AT_ONCE, IsStopped, Sounding, Survey, Target, asking, find_sounding
from colophony.app.ranges import Progress, check_counts, scaled, stroke_of
from colophony.language import N_

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from colophony.app.kept_maps import KeptMaps
    from colophony.physics.maps import StartMap, Wedge

#: What a map may ask for: field, name, least, greatest.
_COUNTS: tuple[tuple[str, str, int, int], ...] = (
    ("weights", N_("weights"), 2, 1000),
    ("accelerations", N_("accelerations"), 4, 1000),
    ("periods", N_("periods"), 20, 2000),
)
#: An acceleration is also told as the time in which the bow reaches this speed, cm/s.
REACHED_CM_S = 20.0


@dataclass(frozen=True, slots=True)
class Request:
    """A map of starts to compute, in a player's units."""

    instrument: str = "violin"
    size: str = "4/4"
    string: str | None = None  #: letter or open note; the likeliest for the note, else A
    note: str | None = None  #: the open string when None
    gauge: str = "medium"
    a4_hz: float = 440.0
    distance_mm: float | None = None  #: bridge to bow; the middle sounding point when None
    tilt_deg: float = 0.0  #: from flat hair
    weights: int = 24
    accelerations: int = 48
    periods: int = 45  #: that a start is given
    target: Target = "cpu"
    threads: int | None = None
    scheduler: str | None = None  #: address, for the target cluster


@dataclass(frozen=True, slots=True, eq=False)
class Starts:
    """The map of starts of one string at one place of the bow."""

    request: Request
    sounding: Sounding
    map: StartMap
    seconds: float  #: of computing, when it was computed
    is_kept: bool = False  #: computed earlier, and kept

    @property
    def is_finished(self) -> bool:
        """False where somebody stopped the work."""
        return self.map.is_finished

    @property
    def cells_finished(self) -> tuple[int, int]:
        """Cells with an answer, and all of them."""
        return int((self.map.kind >= 0).sum()), int(self.map.kind.size)

    @property
    def usual_weight_n(self) -> float:
        """Weight of an ordinary stroke at this place: that of `bow.settle`."""
        stroke = stroke_of(self.request, distance_mm=1000.0 * self.map.distance_m)
        weight_n = bow.settle(stroke, self.sounding.string).weight_n
        assert weight_n is not None
        return weight_n

    @property
    def settling_ms(self) -> NDArray[np.float64]:
        """From the first slip to one slip a period, [weights, accelerations]; nan where it never came."""
        return 1000.0 * self.map.settling_periods / self.map.frequency_hz

    def to_json(self) -> list[dict[str, Any]]:
        """Return one object of plain JSON values; ``docs/starts.schema.json`` describes it."""
        return [_to_json(self)]

    def to_csv(self) -> str:
        """Return every cell as a row of a table (RFC 4180), with a line of names."""
        out = io.StringIO()
        rows = csv.writer(out)
        rows.writerow(
            ("weight_n", "acceleration_m_s2", "kind", "settling_periods", "settling_ms", "accepted")
        )
        found, ms = self.map, self.settling_ms
        for i, weight in enumerate(found.weight_n.tolist()):
            for j, acceleration in enumerate(found.acceleration_m_s2.tolist()):
                kind, settling = kind_name(int(found.kind[i, j])), float(found.settling_periods[i, j])
                rows.writerow(
                    (
                        f"{weight:.4g}",
                        f"{acceleration:.4g}",
                        kind or "",
                        "" if math.isnan(settling) else f"{settling:.2f}",
                        "" if math.isnan(settling) else f"{ms[i, j]:.1f}",
                        "" if kind is None else int(found.accepted[i, j]),
                    )
                )
        return out.getvalue()


def find_starts(
    request: Request,
    *,
    progress: Progress | None = None,
    is_stopped: IsStopped | None = None,
    kept: KeptMaps | None = None,
    anew: bool = False,
) -> Starts:
    """Compute the map of starts of a string, or take it from those that are kept; as `ranges.find_ranges`."""
    sounding, distance_m = check(request)
    key = "" if kept is None else kept.key("starts", _content(request, sounding, distance_m))
    if kept is not None and not anew and (known := kept.find(key)) is not None:
        found, seconds = known
        return Starts(request, sounding, found, seconds, is_kept=True)
    begin = time.perf_counter()
    found = _compute(request, sounding, distance_m, progress=progress, is_stopped=is_stopped)
    starts = Starts(request, sounding, found, time.perf_counter() - begin)
    if kept is not None and starts.is_finished:
        kept.keep(key, (found, starts.seconds))
    return starts


def check(request: Request) -> tuple[Sounding, float]:
    """Return string and note of a request, and the contact distance in m.

    Raises `InputError` for the first thing to put right.
    """
    check_counts(request, _COUNTS)
    stroke = stroke_of(request, distance_mm=request.distance_mm)
    sounding = find_sounding(stroke)
    distance_mm = bow.settle(stroke, sounding.string).distance_mm
    assert distance_mm is not None
    return sounding, distance_mm / 1000.0


def kind_name(index: int) -> str | None:
    """Return the name of a start's kind, None where nothing was answered."""
    from colophony.physics.bowings import START_KINDS

    return START_KINDS[index] if index >= 0 else None


def reached_ms(acceleration_m_s2: float) -> float:
    """Return the time in ms in which a bow from rest reaches `REACHED_CM_S`."""
    return 1000.0 * REACHED_CM_S / 100.0 / acceleration_m_s2


def _compute(
    request: Request,
    sounding: Sounding,
    distance_m: float,
    *,
    progress: Progress | None,
    is_stopped: IsStopped | None,
) -> StartMap:
    from colophony.physics.maps import accelerations_m_s2, start_map, start_weights_n

    weights = start_weights_n(sounding.string, count=request.weights)
    survey = Survey(
        sounding,
        request.periods,
        starts=True,
        target=request.target,
        threads=request.threads,
        scheduler=request.scheduler,
    )
    with asking(survey, is_stopped=is_stopped) as ask:
        return start_map(
            sounding.string,
            ask,
            distance_m=distance_m,
            weights_n=weights,
            accelerations_m_s2=accelerations_m_s2(
                sounding.string,
                weight_n=weights,
                distance_m=distance_m,
                frequency_hz=sounding.frequency_hz,
                count=request.accelerations,
            ),
            frequency_hz=sounding.frequency_hz,
            tilt_deg=request.tilt_deg,
            progress=progress,
            strokes_at_once=STROKES_AT_ONCE[request.target],
        )


def _content(request: Request, sounding: Sounding, distance_m: float) -> dict[str, Any]:
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
        "distance_mm",
    }
    asked = {
        field.name: getattr(request, field.name) for field in fields(request) if field.name not in left_out
    }
    return asked | {"sounding": sounding, "model": Model(), "distance_m": distance_m}


def _to_json(starts: Starts) -> dict[str, Any]:
    request, sounding, found = starts.request, starts.sounding, starts.map
    ms, rate = starts.settling_ms, partial(scaled, factor=1.0, digits=4)
    newton, periods = partial(scaled, factor=1.0, digits=4), partial(scaled, factor=1.0, digits=2)
    played_m = found.distance_m if math.isnan(found.beta) else found.beta * found.length_m

    def window(wedge: Wedge, i: int) -> dict[str, Any]:
        return {
            "least_m_s2": rate(wedge.least_m_s2[i]),
            "greatest_m_s2": rate(wedge.greatest_m_s2[i]),
            "sure_least_m_s2": rate(wedge.sure_least_m_s2[i]),
            "sure_greatest_m_s2": rate(wedge.sure_greatest_m_s2[i]),
            "share": scaled(wedge.share[i], factor=1.0, digits=3),
            "least_is_open": bool(wedge.least_is_open[i]),
            "greatest_is_open": bool(wedge.greatest_is_open[i]),
        }

    return {
        "parameters": {
            "instrument": request.instrument,
            "size": request.size,
            "string": sounding.string.name,
            "note": sounding.note,
            "note_hz": scaled(sounding.frequency_hz, factor=1.0, digits=2),
            "gauge": request.gauge,
            "a4_hz": request.a4_hz,
            "distance_mm": scaled(found.distance_m, factor=1000.0, digits=2),
            "simulated_distance_mm": scaled(played_m, factor=1000.0, digits=2),
            "tilt_deg": request.tilt_deg,
            "weights": request.weights,
            "accelerations": request.accelerations,
            "periods": request.periods,
        },
        "weight_n": [newton(w) for w in found.weight_n],
        "acceleration_m_s2": [rate(a) for a in found.acceleration_m_s2],
        "kind": [[kind_name(cell) for cell in row] for row in found.kind.tolist()],
        "settling_periods": [[periods(cell) for cell in row] for row in found.settling_periods.tolist()],
        "settling_ms": [[scaled(cell, factor=1.0, digits=1) for cell in row] for row in ms.tolist()],
        "accepted": [
            [bool(good) if kind >= 0 else None for good, kind in zip(goods, kinds, strict=True)]
            for goods, kinds in zip(found.accepted.tolist(), found.kind.tolist(), strict=True)
        ],
        "windows": [
            {
                "weight_n": newton(weight),
                "clean": window(found.clean, i),
                "accepted": window(found.bearable, i),
            }
            for i, weight in enumerate(found.weight_n)
        ],
        "closed_form": [
            {
                "weight_n": newton(weight),
                "least_m_s2": rate(found.guettler_low_m_s2[i, 0]),
                "greatest_m_s2": rate(found.guettler_low_m_s2[i, 1]),
                "higher_least_m_s2": rate(found.guettler_high_m_s2[i, 0]),
                "higher_greatest_m_s2": rate(found.guettler_high_m_s2[i, 1]),
            }
            for i, weight in enumerate(found.weight_n)
        ],
        "runs": int(found.strokes),
        "seconds": scaled(starts.seconds, factor=1.0, digits=3),
        "target": request.target,
        "finished": starts.is_finished,
        "kept": starts.is_kept,
    }
