"""How much room has a string at any note, place and speed of a piece? A few maps, computed once and kept.

A string is mapped open, and again where the left hand has gone up a fifth, an octave and so on: between them
the limits are carried at the same share of the length, on which they hang (Schelleng 1973); over speed they
are read between the mapped ones in ratio. A piece in the first position asks for four to eight maps, about a
second each.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from colophony.app.kept_ranges import ask_playable
from colophony.physics.strings import BowedString
from colophony.teaching.room import Room, Span
from colophony.teaching.score.placing import AskRoom, published_room

if TYPE_CHECKING:
    from colophony.app.kept_maps import KeptMaps
    from colophony.physics.instruments import Instrument
    from colophony.physics.maps import PlayableRanges

#: Speeds that are mapped, m/s: from ppp to ff.
SPEEDS_M_S = (0.04, 0.1, 0.25, 0.6)
#: As in `app.rooms`: contact distances of a string, and how fine edges are.
_DISTANCES, _TOLERANCE = 8, 0.1
#: The left hand in steps of a fifth: a string carried over half of it is 22 % off in length at most.
_SEMITONES = 7

#: Told the maps that are done, and all that were asked for so far.
Progress = Callable[[int, int], None]


def asking_rooms(
    instrument: Instrument,
    *,
    kept: KeptMaps | None = None,
    expected: Iterable[tuple[str, float]] = (),
    progress: Progress | None = None,
) -> AskRoom:
    """Return what tells the room of a string, computed and held against the published limits.

    Parameters
    ----------
    kept : where maps are kept; None keeps them for as long as the answer lives
    expected : strings and notes in Hz that will be asked for: their maps are made now
    progress : told after every map of those
    """
    maps: dict[tuple[str, int], tuple[PlayableRanges, ...] | None] = {}

    def mapped(string: BowedString, steps: int) -> tuple[PlayableRanges, ...] | None:
        if (string.name, steps) not in maps:
            maps[string.name, steps] = _ranges(instrument, string, steps, kept)
        return maps[string.name, steps]

    def ask(string: BowedString, frequency_hz: float, distance_m: float, speed_m_s: float) -> Room:
        published = published_room(string, frequency_hz, distance_m, speed_m_s)
        steps = _steps(string, frequency_hz)
        ranges = mapped(string, steps)
        if ranges is None:
            return published
        carried = string.stopped_length_m(_near_hz(string, steps)) / string.stopped_length_m(frequency_hz)
        return Room(
            distance_m,
            speed_m_s,
            published.published_n,
            is_computed=True,
            computed_n=_limits(ranges, distance_m * carried, speed_m_s),
        )

    wanted = sorted({(name, _steps(instrument.string(name), hertz)) for name, hertz in expected})
    for done, (name, steps) in enumerate(wanted):
        mapped(instrument.string(name), steps)
        if progress is not None:
            progress(done + 1, len(wanted))
    return ask


def _steps(string: BowedString, frequency_hz: float) -> int:
    """Return the semitones of the mapped note nearest to a note."""
    semitones = 12.0 * math.log2(frequency_hz / string.open_frequency_hz)
    return max(0, _SEMITONES * round(semitones / _SEMITONES))


def _near_hz(string: BowedString, steps: int) -> float:
    return float(string.open_frequency_hz * 2.0 ** (steps / 12.0))


def _limits(ranges: tuple[PlayableRanges, ...], distance_m: float, speed_m_s: float) -> Span | None:
    """Return least and greatest weight at a speed, between the mapped ones in ratio; None if none is clean.

    Beyond the mapped speeds those of the nearest count.
    """
    speed = min(ranges[-1].speed_m_s, max(ranges[0].speed_m_s, speed_m_s))
    k = max(1, next(i for i, one in enumerate(ranges) if one.speed_m_s >= speed - 1e-12))
    slow, fast = ranges[k - 1], ranges[k]
    share = math.log(speed / slow.speed_m_s) / math.log(fast.speed_m_s / slow.speed_m_s)
    below, above = slow.limits_at(distance_m), fast.limits_at(distance_m)
    if any(map(math.isnan, below)) or any(map(math.isnan, above)):
        found = below if share < 0.5 else above
        return None if any(map(math.isnan, found)) else found
    least, greatest = (
        float(one ** (1.0 - share) * other**share) for one, other in zip(below, above, strict=True)
    )
    return least, greatest


def _ranges(
    instrument: Instrument, string: BowedString, steps: int, kept: KeptMaps | None
) -> tuple[PlayableRanges, ...] | None:
    """Return the playable ranges of a string so many semitones up; None where the engine cannot play it."""
    return ask_playable(
        instrument,
        string,
        frequency_hz=_near_hz(string, steps),
        speeds_m_s=SPEEDS_M_S,
        distances=_DISTANCES,
        tolerance=_TOLERANCE,
        kept=kept,
    )
