"""How hard is an exercise for this student? The room it leaves beside the spread that the student showed.

A take shows no weights and no places, so both spreads are estimates, each from what it does show:

weight
    From the share of bowed time that was clean: were the weight spread as errors are (a normal distribution
    in dB about the middle of an ordinary stroke's range), that share says how wide. And from how much the
    brightness differs among strokes of one note: bow force is "by far the most dominant parameter" of the
    spectral centroid (E. Schoonderwaldt, Acta Acust. u. Acust. 95, 901-914, 2009, abstract), which went from
    0.8 to 3.0 kHz over his range of force, 0.058 to 1.466 N (figures from a secondary survey). The wider
    of the two counts.
place
    From the swing of the level within strokes: level goes with speed over contact distance (Schelleng 1973),
    and what exceeds the swing of a steady hand is laid to the place alone, which is too much where the
    speed swings too.

A spread is the width that holds nine tenths, as the pass rules ask for nine tenths clean.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import NormalDist, median, stdev
from types import MappingProxyType

from colophony.listening.take import CLEAN, Stroke
from colophony.teaching.exercises.exercise import Difficulty, Exercise, Level, Target, TargetPlace
from colophony.teaching.findings import Findings, Variable
from colophony.teaching.sounding_points import MIDDLE

#: Range of an ordinary stroke, dB, where none is handed in: a violin's A string in the middle of the bowing
#: room at 20 cm/s has 14 to 19 dB in the shipped maps.
USUAL_RANGE_DB = 17.0
#: Spread before anything was heard: weight in dB, place in lanes (sounding points). Chosen, not measured.
ASSUMED: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"small-child": (12.0, 1.2), "child": (11.0, 1.0), "teen": (9.0, 0.8), "of-age": (8.0, 0.7)}
)
#: No takes show a narrower spread, dB and lanes: a swing no wider than a steady hand's says nothing finer.
#: Chosen.
LEAST = (2.0, 0.2)
#: Room from which a level begins, widest first. Were errors normal, the bow would be inside the range for
#: more than 99.7 % of the time, more than 95 %, more than 81 %, and less. Chosen.
LEVELS: tuple[tuple[float, Level], ...] = ((1.8, "wide"), (1.2, "fair"), (0.8, "narrow"))

_NINE_TENTHS = 2.0 * NormalDist().inv_cdf(0.95)  # width that holds nine tenths, in standard deviations
#: dB of centroid for a dB of force, from the figures above.
_CENTROID_DB_A_DB = math.log(3.0 / 0.8) / math.log(1.466 / 0.058)
#: A share of clean time says nothing sharper than this.
_SHARES = (0.3, 0.99)
_FEWEST_STROKES = 4
#: Level swing of bows without a fault, dB: 2.7 to 5.6 in the bundled recordings of two players.
_STEADY_SWING_DB = 2.7


@dataclass(frozen=True, slots=True)
class Spread:
    """How widely a student's weight (dB) and place (lanes) spread; nine tenths lie within."""

    weight_db: float
    place_lanes: float
    is_estimated: bool  #: an assumption for the age group: nothing was heard yet


def spread_of(findings: Sequence[Findings], *, age_group: str, range_db: float = USUAL_RANGE_DB) -> Spread:
    """Return the spread that takes show; what they do not show is assumed for the age group.

    Parameters
    ----------
    findings : of the last takes
    age_group : a key of `ASSUMED`
    range_db : playable range of an ordinary stroke on this instrument
    """
    usual_db, usual_lanes = ASSUMED[age_group]
    weight = [db for db in (_by_clean_share(findings, range_db), _by_brightness(findings)) if db is not None]
    lanes = _by_level(findings)
    return Spread(
        max(LEAST[0], max(weight, default=usual_db)),
        max(LEAST[1], usual_lanes if lanes is None else lanes),
        is_estimated=not weight and lanes is None,
    )


def difficulty_of(exercise: Exercise, targets: Sequence[Target], spread: Spread) -> Difficulty:
    """Return how much room the narrowest place of an exercise leaves; `Difficulty.room` falls with the range.

    Where an exercise leaves its lane on purpose (`wander`), only the weight counts.
    """
    counts_place = exercise.aim != "wander"
    found = [
        _at_place(exercise, place, spread, index=index, counts_place=counts_place)
        for target in targets
        for index, place in enumerate(target.places)
    ]
    return min(found, key=lambda difficulty: difficulty.room)


def _at_place(
    exercise: Exercise, place: TargetPlace, spread: Spread, *, index: int, counts_place: bool
) -> Difficulty:
    share = exercise.stroke.weight[index]
    range_db = 2.0 * min(share, 1.0 - share) * place.range_db  # off the middle the nearer edge counts twice
    lane_mm = place.distance_mm / (place.sounding_point - 0.5)
    spread_mm = spread.place_lanes * lane_mm
    wander_mm = place.wander_mm if counts_place else None
    rooms: dict[Variable, float] = {"weight": range_db / spread.weight_db}
    if wander_mm is not None:
        rooms["distance"] = wander_mm / spread_mm
    decided_by = min(rooms, key=lambda variable: rooms[variable])
    room = rooms[decided_by]
    return Difficulty(
        room=room,
        level=next((level for least, level in LEVELS if room >= least), "too-narrow"),
        decided_by=decided_by,
        range_db=range_db,
        spread_db=spread.weight_db,
        wander_mm=wander_mm,
        spread_mm=spread_mm,
        is_estimated=spread.is_estimated,
    )


def _by_clean_share(findings: Sequence[Findings], range_db: float) -> float | None:
    shares = [one.summary.clean_share for one in findings if one.summary.clean_share is not None]
    if not shares:
        return None
    share = min(max(median(shares), _SHARES[0]), _SHARES[1])
    return _NINE_TENTHS * 0.5 * range_db / NormalDist().inv_cdf(0.5 * (1.0 + share))


def _by_brightness(findings: Sequence[Findings]) -> float | None:
    spreads = []
    for one in findings:
        by_note: dict[str | None, list[float]] = {}
        for stroke in _clean(one):
            if stroke.brightness.centroid_hz:
                centroid_db = 20.0 * math.log10(stroke.brightness.centroid_hz)
                by_note.setdefault(stroke.note, []).append(centroid_db)
        spreads += [stdev(found) for found in by_note.values() if len(found) >= _FEWEST_STROKES]
    return _NINE_TENTHS * median(spreads) / _CENTROID_DB_A_DB if spreads else None


def _by_level(findings: Sequence[Findings]) -> float | None:
    swings = [
        stroke.steadiness.level_swing_db
        for one in findings
        for stroke in _clean(one)
        if stroke.steadiness.level_swing_db is not None
    ]
    if len(swings) < _FEWEST_STROKES:
        return None
    excess_db = math.sqrt(max(0.0, median(swings) ** 2 - _STEADY_SWING_DB**2))
    half = math.pow(10.0, excess_db / 40.0)
    return (MIDDLE - 0.5) * (half - 1.0 / half)


def _clean(findings: Findings) -> list[Stroke]:
    return [stroke for stroke in findings.take.strokes if stroke.state in CLEAN]
