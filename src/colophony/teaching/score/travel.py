"""Which way does every stroke go, where on the bow does it begin, and how much hair does it take?

One search over the whole part, as dynamic programming: what is known between two strokes is the direction
of the last one and the place on the bow; a stroke chooses its direction, whether the bow turns, goes on or is
set anew, and its hair. Costs are of the trade's rules (common practice, no source; their weights are chosen,
so that the rules give way to each other as a player would have it):

* up on a strong beat costs, and less on a lighter beat; down on a light one a little;
* the same way again costs: little where a long note and a short one are linked, much where they are not, and
  next to nothing across a rest, where the bow is set anew anywhere;
* hair costs by how far, in ratio, it is from what tempo and dynamic ask for; most beyond the bow's end;
* a measure that is repeated is bowed as the first time, at a small price for each stroke that is not;
* loud strokes belong to the lower half of the bow and soft ones to the upper, chords to the frog.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, TypeAlias

import numpy as np

from colophony.teaching.score.piece import Direction

Joint = Literal["turn", "link", "retake"]
_Array: TypeAlias = "np.ndarray[Any, np.dtype[np.float64]]"

_WAYS: tuple[Direction, Direction] = ("down", "up")
_PLACES = 41
_STEPS = np.linspace(-1.0, 1.0, 9)

# Weights of the costs; one unit is about the price of a stroke with 2.7 times the hair it should have.
_UP_ON_STRONG = 2.0
_DOWN_ON_LIGHT = 0.2
_FIRST_STRONG_UP = 1.4
_AGAINST_HAIRPIN = 0.4
_AGAINST_FIRST_TIME = 0.7
_LINK_LONG_SHORT, _LINK_SHORT, _LINK = 0.9, 1.6, 3.5
_RETAKE_IN_REST, _RETAKE_IN_SHORT_REST, _LIFT, _LIFT_GIVEN = 0.15, 0.6, 6.0, 1.5
_CHORD_UP, _CHORD_FROM_FROG = 4.0, 3.0
_PLACE = 0.6
_RUNS_OUT, _RUNS_OUT_BY = 8.0, 6.0
_AWAY = 30.0

#: A rest this long lets the bow be set anew anywhere; a shorter one, to half of it, in haste. Chosen, s.
REST_S = 0.5
_SHORT_NOTE_S = 0.35


@dataclass(frozen=True, slots=True)
class Load:
    """What a stroke asks of the bow; lengths of hair in mm."""

    slowest_mm: float  #: hair at the slowest speed of its dynamic
    usual_mm: float
    fastest_mm: float
    whole_s: float
    rest_s: float = 0.0  #: silence before it
    strength: float = 0.0  #: of the metre at its beginning, 0 to 1
    degree: float = 4.0  #: of its dynamic, 0 (ppp) to 7 (fff)
    growth: float = 0.0  #: degrees that it grows by, negative where it fades
    given: Direction | None = None
    is_chord: bool = False
    is_first_strong: bool = False  #: the first strong beat of the piece
    start_mm: float | None = None  #: where it must begin, if anywhere
    as_before: Direction | None = None  #: how it went the first time, where the measure is repeated


@dataclass(frozen=True, slots=True)
class Ride:
    """What the search chose for a stroke."""

    direction: Direction
    joint: Joint
    start_mm: float
    end_mm: float
    lacks_mm: float = 0.0  #: hair that is missing even at the slowest speed
    is_hasty: bool = False  #: set anew without time for it

    @property
    def hair_mm(self) -> float:
        """Hair that passes the string."""
        return abs(self.end_mm - self.start_mm)


#: Between two strokes: direction of the last one (None before the first) and place of the bow, mm.
Standing: TypeAlias = tuple[Direction | None, float]


@dataclass(slots=True)
class Travel:
    """The search over strokes in a row.

    ``after`` is the value of what follows the last of them: direction by place; nothing follows when None.
    """

    loads: Sequence[Load]
    bow_mm: float
    after: _Array | None = None
    values: list[_Array] = field(default_factory=list)  #: before each stroke: last direction by place
    _plays: list[_Array] = field(default_factory=list)
    _amounts: list[_Array] = field(default_factory=list)
    _places: _Array = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        """Work backwards: the value of every standing before every stroke."""
        self._places = np.linspace(0.0, self.bow_mm, _PLACES)
        self._amounts = [_amounts(load) for load in self.loads]
        value = np.zeros((2, _PLACES)) if self.after is None else self.after
        values, plays = [value], []
        for k in reversed(range(len(self.loads))):
            played = np.stack([self._played(k, way, self._places, value)[0] for way in (0, 1)])
            value = self._before(k, played)
            values.append(value)
            plays.append(played)
        self.values, self._plays = values[::-1], plays[::-1]

    def rides(self, standing: Standing) -> list[Ride]:
        """Return the best strokes from a standing on."""
        found = []
        for k in range(len(self.loads)):
            ride = self.ride(k, standing)
            found.append(ride)
            standing = ride.direction, ride.end_mm
        return found

    def ride(self, k: int, standing: Standing) -> Ride:
        """Return the best stroke number ``k`` from a standing."""
        last, place = standing
        load = self.loads[k]
        options: list[tuple[float, int, Joint, float, float]] = []
        value = self.values[k + 1]
        if last is not None:
            previous = _WAYS.index(last)
            for way, joint in ((1 - previous, "turn"), (previous, "link")):
                cost, end = self._played(k, way, np.array([place]), value)
                price = 0.0 if joint == "turn" else self._link(k)
                options.append((float(cost[0]) + price, way, _joint(joint), place, float(end[0])))
        for way in (0, 1):
            j = int(np.argmin(self._plays[k][way]))
            start = float(self._places[j])
            cost, end = self._played(k, way, np.array([start]), value)
            price = 0.0 if last is None else self._retake(k, same=_WAYS[way] == last)
            options.append((float(cost[0]) + price, way, "retake", start, float(end[0])))
        _cost, way, joint, start, end_mm = min(options, key=lambda option: option[0])
        lacks = max(0.0, load.slowest_mm - abs(end_mm - start))
        hasty = joint == "retake" and last is not None and load.rest_s < REST_S / 2
        return Ride(_WAYS[way], joint, start, end_mm, lacks if lacks > 1e-6 else 0.0, hasty)

    def _before(self, k: int, played: _Array) -> _Array:
        """Return the value of standing before a stroke, from the cost of playing it from every place."""
        value = np.empty((2, _PLACES))
        for last in (0, 1):
            best = np.minimum(played[1 - last], played[last] + self._link(k))
            for way in (0, 1):
                anew = float(np.min(played[way])) + self._retake(k, same=way == last)
                best = np.minimum(best, anew)
            value[last] = best
        return value

    def _played(self, k: int, way: int, starts: _Array, value: _Array) -> tuple[_Array, _Array]:
        """Return the cost of playing a stroke and all after it from some places, and where it ends."""
        load = self.loads[k]
        sign = 1.0 if way == 0 else -1.0
        left = np.maximum(0.0, self.bow_mm - starts if way == 0 else starts)
        hair = np.minimum(self._amounts[k][None, :], left[:, None])
        runs_out = hair < load.slowest_mm - 1e-9
        ratio = np.log(np.maximum(hair, 1e-3))
        lacking = np.maximum(0.0, math.log(load.slowest_mm) - np.maximum(ratio, 0.0))
        ratio -= math.log(load.usual_mm)
        ends = starts[:, None] + sign * hair
        middle = (starts[:, None] + ends) / (2.0 * self.bow_mm) - _preferred(load.degree)
        cost = (
            np.where(runs_out, _RUNS_OUT + _RUNS_OUT_BY * lacking, ratio**2)
            + _PLACE * middle**2
            + np.interp(ends, self._places, value[way])
        )
        best = np.argmin(cost, axis=1)
        rows = np.arange(len(starts))
        return cost[rows, best] + self._fixed(load, way, starts), ends[rows, best]

    def _fixed(self, load: Load, way: int, starts: _Array) -> _Array:
        """Return what a direction costs whatever its hair, and a place to begin that was not asked for."""
        up = way == 1
        cost = _UP_ON_STRONG * load.strength**1.5 if up else _DOWN_ON_LIGHT * (1.0 - load.strength)
        if load.is_first_strong and up:
            cost += _FIRST_STRONG_UP
        if load.growth and (load.growth > 0.0) != up:
            cost += _AGAINST_HAIRPIN * min(1.0, abs(load.growth))
        if load.as_before is not None and load.as_before != _WAYS[way]:
            cost += _AGAINST_FIRST_TIME
        if load.given is not None and load.given != _WAYS[way]:
            cost += 1e6
        if load.is_chord:
            cost += _CHORD_UP if up else 0.0
        whole = np.full(len(starts), cost)
        if load.is_chord and not up:
            whole += _CHORD_FROM_FROG * starts / self.bow_mm
        if load.start_mm is not None:
            whole += _AWAY * np.abs(starts - load.start_mm) / self.bow_mm
        return whole

    def _link(self, k: int) -> float:
        """Return the cost of going on the same way without a rest."""
        load = self.loads[k]
        if k == 0 or load.is_chord:
            return _LINK
        before = self.loads[k - 1]
        if load.rest_s > 0.0:
            return _RETAKE_IN_REST
        if load.whole_s <= 0.6 * before.whole_s and load.strength < before.strength:
            return _LINK_LONG_SHORT
        short = max(load.whole_s, before.whole_s) <= _SHORT_NOTE_S
        return _LINK_SHORT if short and load.strength < 0.5 else _LINK

    def _retake(self, k: int, *, same: bool) -> float:
        """Return the cost of setting the bow anew."""
        load = self.loads[k]
        if load.rest_s >= REST_S:
            return _RETAKE_IN_REST
        if load.rest_s >= REST_S / 2:
            return _RETAKE_IN_SHORT_REST
        given = load.given is not None and k > 0 and self.loads[k - 1].given == load.given
        return _LIFT_GIVEN if given and same else _LIFT


def _amounts(load: Load) -> _Array:
    """Return the hair that a stroke may take: the usual, and steps in ratio to the slowest and fastest."""
    below, above = load.slowest_mm / load.usual_mm, load.fastest_mm / load.usual_mm
    powers = np.where(_STEPS < 0.0, -_STEPS * math.log(below), _STEPS * math.log(above))
    return np.asarray(load.usual_mm * np.exp(powers))


def _preferred(degree: float) -> float:
    """Return the share of the bow where a dynamic is at home: loud below the middle, soft above."""
    return 0.62 - 0.2 * min(7.0, max(0.0, degree)) / 7.0


def _joint(name: str) -> Joint:
    return "turn" if name == "turn" else "link"
