"""How much room does a stroke have? Computed ranges of weight and place, held against the published limits.

Nothing here bows a string. What was computed is handed in from above (`rooms_of`, from maps), or asked for
through an `AskRooms`; where nothing is handed in, `published_rooms` has the closed forms in the same form.
Where both exist and differ by more than they are known to (`LEAST_FACTOR`, `GREATEST_FACTOR`), the narrower
counts: see docs/decisions/0145.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, TypeAlias

from colophony.physics.limits import schoonderwaldt_2008
from colophony.physics.strings import BowedString
from colophony.teaching.findings import Turn, Variable
from colophony.teaching.sounding_points import MIDDLE, point_to_m, point_width_m

if TYPE_CHECKING:
    from colophony.physics.maps import PlayableRanges

Change: TypeAlias = tuple[Variable, Turn]
#: Least and greatest.
Span: TypeAlias = tuple[float, float]

#: An ordinary stroke, for figures: a whole bow in about three seconds (mezzo-forte; Askenfelt 1986, as
#: quoted in surveys) in the middle of the bowing room.
TYPICAL_SPEED_M_S = 0.20

#: "A little" of weight and speed, as the wording says it: a quarter off, a third more, four counts to three.
#: Chosen, not measured.
LITTLE: Mapping[Turn, float] = MappingProxyType({"less": 3 / 4, "more": 4 / 3})

#: The published least weight is known within a factor of three (Schoonderwaldt, Guettler and Askenfelt 2008
#: against later measurements).
LEAST_FACTOR = 3.0
#: On the string on which the greatest weight was measured, maps of 200 samples a period give 0.96 to 1.19 of
#: it at 5 to 20 cm/s, with slopes over the distance up to a quarter flatter (docs/physics.md): together
#: within half as much again.
GREATEST_FACTOR = 1.5
#: Chosen, not measured: a change that gives less is not worth a sentence.
LEAST_GAIN_DB = 1.0


@dataclass(frozen=True, slots=True)
class Room:
    """Between which weights a stroke speaks at one contact distance and speed, N; None where none is sure."""

    distance_m: float  #: bow to bridge
    speed_m_s: float
    published_n: Span | None
    is_computed: bool = False  #: whether the string was asked at all
    computed_n: Span | None = None

    @property
    def weight_n(self) -> Span | None:
        """Least and greatest weight that advice counts on, N.

        Computed; an edge that the published limits put elsewhere by more than its factor is the narrower of
        the two; computed where nothing would be left between them. Published where the map has no clean band.
        """
        if self.computed_n is None or self.published_n is None:
            return self.computed_n or self.published_n
        (least, greatest), (low, high) = self.computed_n, self.published_n
        if _apart(least, low) > LEAST_FACTOR:
            least = max(least, low)
        if _apart(greatest, high) > GREATEST_FACTOR:
            greatest = min(greatest, high)
        return (least, greatest) if least < greatest else self.computed_n

    @property
    def differs(self) -> bool:
        """Whether computed and published limits differ by more than they are known to."""
        if not self.is_computed:
            return False
        if self.computed_n is None or self.published_n is None:
            return self.computed_n is not self.published_n
        return (
            _apart(self.computed_n[0], self.published_n[0]) > LEAST_FACTOR
            or _apart(self.computed_n[1], self.published_n[1]) > GREATEST_FACTOR
        )

    @property
    def range_db(self) -> float | None:
        """Span of weight, 20 log10(greatest / least), dB."""
        return None if self.weight_n is None else _db(self.weight_n[1] / self.weight_n[0])

    @property
    def middle_n(self) -> float | None:
        """Weight in the middle of the range in ratio, N."""
        return None if self.weight_n is None else math.sqrt(self.weight_n[0] * self.weight_n[1])

    def margin_db(self, weight_n: float) -> float | None:
        """Return how far a weight lies inside the nearer limit, dB; negative outside."""
        if self.weight_n is None:
            return None
        least, greatest = self.weight_n
        return _db(min(weight_n / least, greatest / weight_n))


@dataclass(frozen=True, slots=True)
class Wander:
    """From where to where the bow may wander at one weight and speed, m from the bridge."""

    weight_n: float
    nearest_m: float
    farthest_m: float
    farthest_is_open: bool  #: to the end of the fingerboard and perhaps beyond

    @property
    def width_m(self) -> float:
        """From the nearest to the farthest, m."""
        return self.farthest_m - self.nearest_m


@dataclass(frozen=True, slots=True)
class Rooms:
    """The room of a stroke, and that after a little change of speed or place; as far as they were asked."""

    here: Room
    after: Mapping[Change, Room] = field(default_factory=dict)
    wander: Wander | None = None  #: None where unknown, or where the bow is on no playable place

    def margin_after_db(self, change: Change, weight_n: float) -> float | None:
        """Return how far inside the limits a weight lies after one little change, dB; None if unknown."""
        if change[0] == "weight":
            return self.here.margin_db(LITTLE[change[1]] * weight_n)
        return self.after[change].margin_db(weight_n) if change in self.after else None

    def most_room(self, weight_n: float) -> tuple[Change, float] | None:
        """Return the one little change that makes most room, and the margin it leaves, dB.

        Room is the way to the nearer limit. None where no change gives `LEAST_GAIN_DB`, or nothing is known.
        """
        before = self.here.margin_db(weight_n)
        if before is None:
            return None
        changes: tuple[Change, ...] = (("weight", "less"), ("weight", "more"), *self.after)
        margins = [(change, self.margin_after_db(change, weight_n)) for change in changes]
        known = [(change, margin) for change, margin in margins if margin is not None]
        change, margin = max(known, key=lambda item: item[1])
        return (change, margin) if margin - before >= LEAST_GAIN_DB else None

    def carried(self, factor: float) -> Rooms:
        """Return the same rooms on a string shorter or longer by a factor: places move, weights stay.

        Schelleng (1973): at one share of the length the limits hang on impedance and speed alone.
        """
        wander = self.wander and replace(
            self.wander,
            nearest_m=factor * self.wander.nearest_m,
            farthest_m=factor * self.wander.farthest_m,
        )

        def moved(room: Room) -> Room:
            return replace(room, distance_m=factor * room.distance_m)

        return Rooms(moved(self.here), {change: moved(room) for change, room in self.after.items()}, wander)


#: Asks for the rooms of an ordinary stroke in the middle of the bowing room, on a string at a note in Hz.
AskRooms: TypeAlias = Callable[[BowedString, float], Rooms]


def places(string: BowedString, frequency_hz: float, distance_m: float) -> dict[Change, float]:
    """Return the contact distances, m, one sounding point nearer and farther; none on the bridge."""
    step = point_width_m(string, frequency_hz=frequency_hz)
    found: dict[Change, float] = {("distance", "farther"): distance_m + step}
    if distance_m - step >= 0.25 * step:
        found["distance", "nearer"] = distance_m - step
    return found


def weight_range_n(string: BowedString, *, beta: float, speed_m_s: float) -> Span:
    """Return the least and greatest weight in N on a string, as measured and carried over by Z0.

    Near the bridge on heavy strings the least comes out above the greatest. Schoonderwaldt, Guettler and
    Askenfelt (2008); the lower end is known within a factor of three.

    Parameters
    ----------
    beta : bow-bridge distance over sounding length
    """
    Z0 = string.impedance_kg_s
    return (
        schoonderwaldt_2008.measured_weight_min_n(Z0=Z0, beta=beta),
        schoonderwaldt_2008.measured_weight_max_n(Z0=Z0, vb=speed_m_s, beta=beta),
    )


def published_rooms(
    string: BowedString,
    frequency_hz: float,
    *,
    distance_m: float | None = None,
    speed_m_s: float = TYPICAL_SPEED_M_S,
) -> Rooms:
    """Return the rooms that the published limits give; how far the bow may wander they do not say.

    Parameters
    ----------
    frequency_hz : the note, Hz
    distance_m : bow to bridge, m; by default the middle of the bowing room
    """
    return _rooms(string, frequency_hz, distance_m, speed_m_s, _published(string, frequency_hz))


def rooms_of(
    string: BowedString,
    frequency_hz: float,
    ranges: Sequence[PlayableRanges],
    *,
    distance_m: float | None = None,
    speed_m_s: float = TYPICAL_SPEED_M_S,
    weight_n: float | None = None,
) -> Rooms:
    """Return the rooms of a stroke as computed, held against the published limits.

    Parameters
    ----------
    frequency_hz, distance_m : as in `published_rooms`
    ranges : of this string at this note, one at ``speed_m_s``; others at `LITTLE` less and more if known
    weight_n : at which the bow may wander, N; by default the middle of the range
    """
    published = _published(string, frequency_hz)

    def room(distance: float, speed: float) -> Room | None:
        own = [found for found in ranges if math.isclose(found.speed_m_s, speed, rel_tol=1e-6)]
        if not own:
            return None
        limits = own[0].limits_at(distance)
        computed = None if math.isnan(limits[0]) or math.isnan(limits[1]) else limits
        return replace(published(distance, speed), is_computed=True, computed_n=computed)

    rooms = _rooms(string, frequency_hz, distance_m, speed_m_s, room)
    weight = rooms.here.middle_n if weight_n is None else weight_n
    own = next(found for found in ranges if math.isclose(found.speed_m_s, speed_m_s, rel_tol=1e-6))
    return replace(rooms, wander=None if weight is None else _wander(own, rooms.here.distance_m, weight))


def _published(string: BowedString, frequency_hz: float) -> Callable[[float, float], Room]:
    def room(distance: float, speed: float) -> Room:
        beta = distance / string.stopped_length_m(frequency_hz)
        least, greatest = weight_range_n(string, beta=beta, speed_m_s=speed)
        return Room(distance, speed, (least, greatest) if least < greatest else None)

    return room


def _rooms(
    string: BowedString,
    frequency_hz: float,
    distance_m: float | None,
    speed_m_s: float,
    room: Callable[[float, float], Room | None],
) -> Rooms:
    """Return the rooms here and after each change, from what tells one by distance and speed."""
    distance = distance_m or point_to_m(MIDDLE, string, frequency_hz=frequency_hz)
    after = {
        change: room(place, speed_m_s) for change, place in places(string, frequency_hz, distance).items()
    }
    after |= {("speed", turn): room(distance, factor * speed_m_s) for turn, factor in LITTLE.items()}
    here = room(distance, speed_m_s)
    assert here is not None
    return Rooms(here, {change: found for change, found in after.items() if found is not None})


def _wander(ranges: PlayableRanges, distance_m: float, weight_n: float) -> Wander | None:
    from colophony.errors import InputError
    from colophony.physics.maps import wander_room

    try:
        found = wander_room(ranges, distance_m=distance_m, weight_n=weight_n)
    except InputError:  # beyond the map: nearer than half the hair, or over the fingerboard
        return None
    if found is None:
        return None
    return Wander(weight_n, found.nearest_m, found.farthest_m, found.farthest_is_open)


def _apart(one: float, other: float) -> float:
    """Return the ratio of two weights, 1 or more."""
    return max(one / other, other / one)


def _db(ratio: float) -> float:
    return 20.0 * math.log10(ratio)
