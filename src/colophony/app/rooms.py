"""How much room a stroke has on this instrument and string, as the engine computes it.

`rooms_of_stroke` is for a stroke that is simulated anyway: the engine is there. `ask_rooms` is for advice on
takes: it computes where a fault asks for it, and keeps what it found. Either falls back to the published
limits where the engine cannot say.
"""

from __future__ import annotations

import dataclasses
import math
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from colophony.app.kept_ranges import ask_playable
from colophony.physics.strings import BowedString
from colophony.teaching.room import (
    LITTLE,
    TYPICAL_SPEED_M_S,
    AskRooms,
    Room,
    Rooms,
    Wander,
    published_rooms,
    rooms_of,
)

if TYPE_CHECKING:
    from colophony.app.kept_maps import KeptMaps
    from colophony.physics.instruments import Instrument
    from colophony.physics.maps import PlayableRanges
    from colophony.physics.simulation import Model

#: Contact distances of a string, and how fine edges are: the limits are known within half as much again.
_DISTANCES, _TOLERANCE = 8, 0.1
#: Advice on takes looks at every third note of a string; between them the limits are carried by the length,
#: which is then 9 % off at most. A scale over a string is three maps, not eight.
_SEMITONES = 3
_SLOWER, _FASTER = LITTLE["less"], LITTLE["more"]


def rooms_of_stroke(
    instrument: Instrument,
    string: BowedString,
    *,
    frequency_hz: float,
    distance_m: float,
    speed_m_s: float,
    weight_n: float,
    tilt_deg: float,
    model: Model,
) -> Rooms:
    """Return the room of a stroke; neighbours of the same speed, on the same note, are computed once."""
    speeds = (_SLOWER * speed_m_s, speed_m_s, _FASTER * speed_m_s)
    ranges = _ranges(instrument, string, frequency_hz, speeds, tilt_deg, model)
    if ranges is None:
        return published_rooms(string, frequency_hz, distance_m=distance_m, speed_m_s=speed_m_s)
    return rooms_of(
        string, frequency_hz, ranges, distance_m=distance_m, speed_m_s=speed_m_s, weight_n=weight_n
    )


def ask_rooms(kept: KeptMaps | None = None) -> AskRooms:
    """Return what tells advice how much room a note has: computed once, then kept where ``kept`` says."""

    def ask(string: BowedString, frequency_hz: float) -> Rooms:
        semitones = 12.0 * math.log2(frequency_hz / string.open_frequency_hz)
        steps = max(0, _SEMITONES * round(semitones / _SEMITONES))
        rooms = _typical(string.instrument, string.size, string.name, steps, kept)
        if rooms is None:
            return published_rooms(string, frequency_hz)
        near_hz = string.open_frequency_hz * 2.0 ** (steps / 12.0)
        return rooms.carried(string.stopped_length_m(frequency_hz) / string.stopped_length_m(near_hz))

    return ask


def _typical(name: str, size: str, string_name: str, steps: int, kept: KeptMaps | None) -> Rooms | None:
    """Return the rooms of an ordinary stroke so many semitones up a string at A4 = 440 Hz."""
    from colophony.physics.instruments import find_instrument

    instrument = find_instrument(name, size)
    string = instrument.string(string_name)
    frequency_hz = string.open_frequency_hz * 2.0 ** (steps / 12.0)
    speeds = (TYPICAL_SPEED_M_S, _FASTER * TYPICAL_SPEED_M_S)  # a slower bow is nobody's cure: decision 0031
    key = ""
    if kept is not None:
        content = {"instrument": instrument, "string": string, "frequency_hz": frequency_hz, "speeds": speeds}
        key = kept.key("room", content | {"distances": _DISTANCES, "tolerance": _TOLERANCE})
        if (found := kept.find(key)) is not None:
            return _unpacked(found)
    ranges = _ranges(instrument, string, frequency_hz, speeds, 0.0, None)
    if ranges is None:
        return None
    rooms = rooms_of(string, frequency_hz, ranges)
    if kept is not None:
        kept.keep(key, _packed(rooms))
    return rooms


@lru_cache(maxsize=64)
def _ranges(
    instrument: Instrument,
    string: BowedString,
    frequency_hz: float,
    speeds_m_s: tuple[float, ...],
    tilt_deg: float,
    model: Model | None,
) -> tuple[PlayableRanges, ...] | None:
    """Return the playable ranges of a string at a few speeds; None where the engine cannot play it."""
    return ask_playable(
        instrument,
        string,
        frequency_hz=frequency_hz,
        speeds_m_s=speeds_m_s,
        distances=_DISTANCES,
        tolerance=_TOLERANCE,
        tilt_deg=tilt_deg,
        model=model,
    )


def _packed(rooms: Rooms) -> tuple[Any, ...]:
    after = tuple((*change, dataclasses.astuple(room)) for change, room in rooms.after.items())
    return dataclasses.astuple(rooms.here), after, rooms.wander and dataclasses.astuple(rooms.wander)


def _unpacked(kept: tuple[Any, ...]) -> Rooms:
    here, after, wander = kept
    return Rooms(
        Room(*here),
        {(variable, turn): Room(*room) for variable, turn, room in after},
        wander and Wander(*wander),
    )
