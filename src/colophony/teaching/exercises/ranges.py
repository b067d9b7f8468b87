"""Between which weights a string speaks, at any speed and place: a family of maps of one note, read between.

Nothing here bows a string: maps are handed in from above through an `AskRanges`; where none are,
`published_ranges` has the published limits in the same form.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from colophony.physics.strings import BowedString
from colophony.teaching.room import Room, Wander, published_rooms

if TYPE_CHECKING:
    from colophony.physics.maps import PlayableRanges

Floats: TypeAlias = NDArray[np.float64]

#: Speeds of the maps, m/s: from a small bow drawn in twelve seconds to a whole one in half a second.
SPEEDS_M_S = (0.04, 0.09, 0.2, 0.45, 1.0)
#: Contact distances of a map.
DISTANCES = 10
#: This near to a map, as a share of the way to the next in logarithms, it counts as if it were the one asked
#: for: 0.15 are some 0.17 octaves of speed.
_NEAR = 0.15


@dataclass(frozen=True, slots=True, eq=False)
class StringRanges:
    """Maps of one string at one note and tilt, by ascending speed."""

    string: BowedString
    frequency_hz: float
    maps: tuple[PlayableRanges, ...]
    is_computed: bool

    def at(self, speed_m_s: float) -> PlayableRanges:
        """Return the ranges at a speed in m/s: straight between two maps in logarithms; the end's beyond it.

        A place that is closed in one of the two neighbours is closed between them.
        """
        speeds = np.log2([one.speed_m_s for one in self.maps])
        place = float(
            np.clip(np.interp(math.log2(speed_m_s), speeds, range(len(speeds))), 0, len(speeds) - 1)
        )
        low, share = int(place), place - int(place)
        if share <= _NEAR:
            return self.maps[low]
        if share >= 1.0 - _NEAR:
            return self.maps[low + 1]
        one, other = self.maps[low], self.maps[low + 1]

        def between(a: Floats, b: Floats) -> Floats:
            found: Floats = np.exp((1.0 - share) * np.log(a) + share * np.log(b))
            return found

        return replace(
            one,
            speed_m_s=speed_m_s,
            weight_min_n=between(one.weight_min_n, other.weight_min_n),
            weight_max_n=between(one.weight_max_n, other.weight_max_n),
        )

    def room(self, distance_m: float, speed_m_s: float) -> Room:
        """Return the room of a stroke, in m from the bridge and m/s; held against the published limits."""
        room = published_rooms(
            self.string, self.frequency_hz, distance_m=distance_m, speed_m_s=speed_m_s
        ).here
        if not self.is_computed:
            return room
        limits = self.at(speed_m_s).limits_at(distance_m)
        known = None if math.isnan(limits[0]) or math.isnan(limits[1]) else limits
        return replace(room, is_computed=True, computed_n=known)

    def wander(self, distance_m: float, speed_m_s: float, weight_n: float) -> Wander | None:
        """Return how far the bow may wander around a place at a weight in N; None where that is not known."""
        from colophony.errors import InputError
        from colophony.physics.maps import wander_room

        if not self.is_computed:
            return None
        try:
            found = wander_room(self.at(speed_m_s), distance_m=distance_m, weight_n=weight_n)
        except InputError:  # beyond the map
            return None
        if found is None:
            return None
        return Wander(weight_n, found.nearest_m, found.farthest_m, found.farthest_is_open)


#: Asks for the maps of a string at a note in Hz and a tilt in degrees.
AskRanges: TypeAlias = Callable[[BowedString, float, float], StringRanges]


def published_ranges(string: BowedString, frequency_hz: float, tilt_deg: float = 0.0) -> StringRanges:
    """Return the published limits of weight as if they were maps; they do not know of tilt."""
    from colophony.physics.maps import closed_form_ranges, contact_distances_m

    distances = contact_distances_m(string, frequency_hz=frequency_hz, count=DISTANCES)
    maps = tuple(
        closed_form_ranges(string, speed_m_s=speed, distances_m=distances, frequency_hz=frequency_hz)
        for speed in SPEEDS_M_S
    )
    return StringRanges(string, frequency_hz, maps, is_computed=False)
