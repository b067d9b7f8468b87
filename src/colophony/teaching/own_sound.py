"""A stroke heard against the player's own marked strokes: how much faster, heavier, nearer than they were?

Three things change with the bow, and a reference at known speed and place says how, for this player, this
instrument and this room (x, y, z: octaves of speed, of distance from the bridge, of weight):

* the level of the lowest four harmonics, ``6.02 (x - y)`` dB: a string's sawtooth is 2 Z0 v / beta high
  (docs/reference-takes.md). Asks for a microphone that stayed where it was.
* the level of the harmonics from the sixth on against these: weight sharpens the corner more than anything
  else (E. Schoonderwaldt, Acta Acust. u. Acust. 95, 901-914, 2009), about 3 dB an octave
  (`brightness.TABLE`).
* the shape of the spectrum: each place leaves marks of its own on single harmonics, which a change of weight
  moves little. Asks for references at two places or more.

With the time of a whole bow the speed is known as well. From what there is the likeliest change is computed
with its uncertainty (all errors taken as normal, small changes likelier than great ones), and what stays too
uncertain is None: from a microphone alone speed, weight and place trade off against each other.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from colophony.listening.take import CLEAN, Evidence, Stroke, ToneState
from colophony.teaching import brightness
from colophony.teaching.findings import Turn, Variable
from colophony.teaching.reference import SAME_STRING_CENTS, Mark, MarkedStroke
from colophony.units import hz_to_cents, note_to_hz

Floats = NDArray[np.float64]
Known = Literal["level", "time", "brightness", "shape"]

_LOW = 4
_UPPER_FROM = 6
_FAINTEST_DB = -45.0
_FEWEST_UPPER = 4
#: How the level answers to the unknowns (x, y, z), dB an octave.
_LEVEL_OF = np.array([6.02, -6.02, 0.4])
#: How far each errs at least, beside what the player's own strokes stray among each other: from computed
#: strokes, but for the time (a turn heard 0.1 s late in a bow of 2 s, and some hair not used: chosen).
_LEVEL_ERR_DB, _BRIGHTNESS_ERR_DB, _TIME_ERR = 1.0, 1.0, 0.15
_PLACE_ERR, _SHAPE_ERR_DB = 0.3, 1.5
#: The player's own slope of level over speed / distance; outside of this the microphone was moved.
_SLOPES = (0.5, 1.5)
#: How far speed, place and weight stray from the reference in practice, octaves. Chosen.
_USUAL = np.array([0.8, 0.6, 0.8])
#: Above this uncertainty (octaves) a quantity is not told.
_SAYABLE = np.array([0.45, 0.35, 0.55])
#: A change is named from a third more or a quarter less on, if it is surer than 19 in 20 (normal, one side).
_LEAST, _SURE = 0.4, 1.65
_LEAST_S = 0.8


@dataclass(frozen=True, slots=True)
class Ratio:
    """How many times as much as at the reference: the likeliest value, and where two in three lie."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Against:
    """A stroke against the player's own marked strokes.

    Attributes
    ----------
    mark : the place it is compared with
    speed, weight, distance : as many times as there; None where this take does not tell
    speed_over_distance : speed and nearness together; the level tells them apart from nothing else
    brightness_db : how much brighter than the reference; None where it was not one clean tone
    named : the change that stands out beyond its uncertainty; None where none does, and where neither time
        nor level is known: then a slower bow cannot be told from a heavier one
    known : what it rests on
    """

    mark: Mark
    speed: Ratio | None
    weight: Ratio | None
    distance: Ratio | None
    speed_over_distance: Ratio | None
    brightness_db: float | None
    named: tuple[Variable, Turn] | None
    known: tuple[Known, ...]

    @property
    def distance_mm(self) -> float | None:
        """Likeliest distance from the bridge, mm; None where it is not known."""
        return None if self.distance is None else self.mark.distance_mm * self.distance.value


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """The mean of the strokes at one marked place. ``level_db`` is that of the lowest harmonics."""

    mark: Mark
    harmonics_db: Floats
    level_db: float | None
    strokes: tuple[Stroke, ...]


@dataclass(frozen=True, slots=True, eq=False)
class OwnString:
    """A player's marked strokes on one open string, from the nearest place to the farthest.

    ``level_db``, ``brightness_db`` and ``shape_db`` are how far strokes of a place stray among each other.
    """

    places: tuple[Place, ...]
    level_db: float
    brightness_db: float
    shape_db: float


@dataclass(frozen=True, slots=True, eq=False)
class OwnSound:
    """A player's marked strokes on one instrument, by open note."""

    strings: Mapping[str, OwnString]

    def of(self, stroke: Stroke) -> OwnString | None:
        """Return what is known of the open string that a stroke sounds; None for stopped notes."""
        if stroke.frequency_hz is None:
            return None
        for note, string in self.strings.items():
            if abs(hz_to_cents(stroke.frequency_hz, note_to_hz(note))) <= SAME_STRING_CENTS:
                return string
        return None


def find_own_sound(marked: Iterable[MarkedStroke]) -> OwnSound:
    """Return what a player's marked strokes say, gathered by string and place."""
    gathered: dict[str, dict[float, list[MarkedStroke]]] = {}
    for one in marked:
        if len(one.stroke.harmonics_db) > _LOW + _FEWEST_UPPER:
            gathered.setdefault(one.mark.string, {}).setdefault(one.mark.distance_mm, []).append(one)
    return OwnSound(
        {note: _own_string([_place(at) for _, at in sorted(of.items())]) for note, of in gathered.items()}
    )


def level_slope(places: Sequence[Place]) -> float | None:
    """Return how the player's level follows speed over distance: 1 by the law, None where it does not show.

    Far from 1 the levels do not compare: the microphone was moved between the takes.
    """
    known = [
        (_speed_over_distance_db(place.mark), place.level_db)
        for place in places
        if place.level_db is not None
    ]
    ratio, level = np.array(known).reshape(-1, 2).T
    if len(known) < 2 or np.ptp(ratio) < 2.0:
        return None
    return float(np.polyfit(ratio, level, 1)[0])


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """What a take is heard against, and what is known of it.

    Attributes
    ----------
    own : the player's marked strokes, on the instrument of the take
    point : sounding point that was asked for
    whole_bows : every stroke used all of the hair, so that its time tells its speed
    same_microphone : it lay where it lay for the reference, with the same gain
    """

    own: OwnSound
    point: float = 3.0
    whole_bows: bool = False
    same_microphone: bool = False


def against(stroke: Stroke, comparison: Comparison) -> Against | None:
    """Return how a stroke differs from the player's own at the marked place nearest to the point asked for.

    Of a stroke that is not one clean tone only its speed can be known. None where the string has no marked
    strokes, the stroke is short, or it tells nothing.
    """
    string = comparison.own.of(stroke)
    if string is None or stroke.end_s - stroke.start_s < _LEAST_S or stroke.state is ToneState.PLUCKED:
        return None
    home = min(string.places, key=lambda place: abs(place.mark.point - comparison.point))
    seen = _observe(stroke, string, home, comparison)
    if not seen:
        return None
    best, spread = _solve(list(seen.values()))
    error: Floats = np.sqrt(np.diag(spread))
    told = error <= _SAYABLE
    ratios = [_ratio(float(best[i]), float(error[i])) if told[i] else None for i in range(3)]
    apart = np.array([1.0, -1.0, 0.0])
    together = _ratio(float(apart @ best), math.sqrt(float(apart @ spread @ apart)))
    return Against(
        mark=home.mark,
        speed=ratios[0],
        distance=ratios[1],
        weight=ratios[2],
        speed_over_distance=together if "level" in seen else None,
        brightness_db=round(seen["brightness"][1], 1) if "brightness" in seen else None,
        named=_named(best, error) if "time" in seen or "level" in seen else None,
        known=tuple(seen),
    )


def evidence_of(difference: Against) -> tuple[Evidence, ...]:
    """Return what of a difference is worth a sentence: the change that stands out, else speed and place."""
    if difference.named is not None:
        variable = difference.named[0]
        ratios = {"speed": difference.speed, "weight": difference.weight, "distance": difference.distance}
        kind, ratio = f"own_{variable}", ratios[variable]
    else:
        kind, ratio = "own_speed_or_place", difference.speed_over_distance
        if ratio is None or ratio.low < 1.0 < ratio.high or abs(math.log2(ratio.value)) < _LEAST:
            return ()
    if ratio is None:
        return ()
    values = {"ratio": ratio.value, "low": ratio.low, "high": ratio.high, "point": difference.mark.point}
    return (Evidence(kind, values),)


#: How an observation answers to (x, y, z), its value, and how far that errs.
_Seen = tuple[Floats, float, float]


def _observe(stroke: Stroke, string: OwnString, home: Place, comparison: Comparison) -> dict[Known, _Seen]:
    seen: dict[Known, _Seen] = {}
    if comparison.whole_bows:
        seconds = stroke.end_s - stroke.start_s
        seen["time"] = (np.array([1.0, 0.0, 0.0]), math.log2(home.mark.seconds / seconds), _TIME_ERR)
    if stroke.state not in CLEAN:
        return seen
    known = brightness.TABLE[home.mark.instrument, home.mark.string.rstrip("0123456789")]
    here = np.asarray(stroke.harmonics_db, float)
    brightness_db = brightness_difference(here, home.harmonics_db)
    if brightness_db is not None:
        answer = np.array([known.of_speed, known.of_distance, known.of_weight])
        error = math.hypot(_BRIGHTNESS_ERR_DB, known.error_db, string.brightness_db)
        seen["brightness"] = (answer, brightness_db, error)
    level_db, slope = _low_level(stroke), level_slope(string.places)
    comparable = slope is None or _SLOPES[0] <= slope <= _SLOPES[1]
    if comparison.same_microphone and comparable and level_db is not None and home.level_db is not None:
        seen["level"] = (_LEVEL_OF, level_db - home.level_db, math.hypot(_LEVEL_ERR_DB, string.level_db))
    shape = _shape(here, string, home) if brightness_db is not None else None
    if shape is not None:
        seen["shape"] = (np.array([0.0, 1.0, 0.0]), *shape)
    return seen


def _solve(seen: Sequence[_Seen]) -> tuple[Floats, Floats]:
    """Return the likeliest (x, y, z) and their covariance."""
    precision = np.diag(1.0 / _USUAL**2)
    pull = np.zeros(3)
    for answer, value, error in seen:
        precision += np.outer(answer, answer) / error**2
        pull += answer * value / error**2
    spread = np.asarray(np.linalg.inv(precision), float)
    return spread @ pull, spread


def _named(best: Floats, error: Floats) -> tuple[Variable, Turn] | None:
    sure = np.where((error <= _SAYABLE) & (np.abs(best) >= _LEAST), np.abs(best) / error, 0.0)
    first = int(np.argmax(sure))
    if sure[first] < _SURE:
        return None
    turns: tuple[tuple[Variable, Turn, Turn], ...] = (
        ("speed", "more", "less"),
        ("distance", "farther", "nearer"),
        ("weight", "more", "less"),
    )
    variable, up, down = turns[first]
    return variable, up if best[first] > 0 else down


def _ratio(octaves: float, error: float) -> Ratio:
    return Ratio(*(round(2.0 ** float(octaves + sign * error), 2) for sign in (0, -1, 1)))


def _place(strokes: Sequence[MarkedStroke]) -> Place:
    count = min(len(one.stroke.harmonics_db) for one in strokes)
    levels = [level for one in strokes if (level := _low_level(one.stroke)) is not None]
    return Place(
        strokes[-1].mark,
        np.mean([one.stroke.harmonics_db[:count] for one in strokes], axis=0),
        float(np.mean(levels)) if levels else None,
        tuple(one.stroke for one in strokes),
    )


def _own_string(places: Sequence[Place]) -> OwnString:
    pairs = [(np.asarray(stroke.harmonics_db, float), place) for place in places for stroke in place.strokes]
    levels = [
        level - place.level_db
        for place in places
        for stroke in place.strokes
        if (level := _low_level(stroke)) is not None and place.level_db is not None
    ]
    brighter = [brightness_difference(here, place.harmonics_db) or 0.0 for here, place in pairs]
    unlike = [_unlikeness(here, place.harmonics_db) for here, place in pairs]
    return OwnString(tuple(places), _rms(levels), _rms(brighter), _rms(unlike))


def _rms(values: Sequence[float]) -> float:
    return math.sqrt(sum(value * value for value in values) / len(values)) if values else 0.0


def _speed_over_distance_db(mark: Mark) -> float:
    return 20.0 * math.log10(mark.speed_cm_s / mark.distance_mm)


def _power(levels_db: Floats) -> float:
    return float(10.0 * np.log10(np.sum(10.0 ** (levels_db / 10.0))))


def _low_level(stroke: Stroke) -> float | None:
    if stroke.level_db is None or len(stroke.harmonics_db) < _LOW:
        return None
    return stroke.level_db + _power(np.asarray(stroke.harmonics_db[:_LOW], float))


def _compared(here: Floats, there: Floats) -> tuple[Floats, NDArray[np.int64], NDArray[np.bool_]]:
    """Return the difference by harmonic, the harmonics' numbers, and which are loud enough in either."""
    count = min(len(here), len(there))
    here, there = here[:count], there[:count]
    return here - there, np.arange(1, count + 1), np.maximum(here, there) > _FAINTEST_DB


def brightness_difference(here: Floats, there: Floats) -> float | None:
    """Return how much brighter some harmonics are than others, all in dB: from the sixth on against four.

    None where fewer than four of the upper ones are loud enough to count.
    """
    change, number, loud = _compared(here, there)
    upper = loud & (number >= _UPPER_FROM)
    if upper.sum() < _FEWEST_UPPER:
        return None
    return float(change[upper].mean()) - (_power(here[:_LOW]) - _power(there[:_LOW]))


def _unlikeness(here: Floats, there: Floats) -> float:
    """Return how far two spectra differ when a straight change of colour is taken out, dB."""
    change, number, loud = _compared(here, there)
    if loud.sum() < 3:  # a line fits them whatever they are
        return 0.0
    line = np.polyfit(number[loud], change[loud], 1)
    return float(np.sqrt(np.mean((change[loud] - np.polyval(line, number[loud])) ** 2)))


def _shape(here: Floats, string: OwnString, home: Place) -> tuple[float, float] | None:
    """Return the place that the spectrum is like, in octaves from ``home``, and how far that errs."""
    places = string.places
    if len(places) < 2:
        return None
    unlike = np.array([_unlikeness(here, place.harmonics_db) for place in places])
    weight = np.exp(-(unlike**2 - unlike.min() ** 2) / (2.0 * max(_SHAPE_ERR_DB, string.shape_db) ** 2))
    weight /= weight.sum()
    at = np.array([math.log2(place.mark.distance_mm / home.mark.distance_mm) for place in places])
    mean = float(weight @ at)
    return mean, math.sqrt(float(weight @ (at - mean) ** 2) + _PLACE_ERR**2)
