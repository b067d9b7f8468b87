"""Use case: what an exercise asks of this student's instrument, and the week's plan."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from colophony.errors import InputError
from colophony.teaching.exercises.ranges import (
    DISTANCES,
    SPEEDS_M_S,
    AskRanges,
    StringRanges,
    published_ranges,
)

if TYPE_CHECKING:
    from colophony.app.kept_maps import KeptMaps
    from colophony.physics.maps import PlayableRanges
    from colophony.physics.strings import BowedString

#: How fine the edges of a map are: targets stay half the way from them.
_TOLERANCE = 0.1
#: Told that another map is being computed: its string and note.
Told = Callable[[str], None]


def ask_ranges(kept: KeptMaps | None = None, *, told: Told | None = None) -> AskRanges:
    """Return what computes the maps of a string: once in a run, and kept where ``kept`` says.

    ``told`` hears of every map that is computed now. A string that the engine cannot play has the published
    limits.
    """
    had: dict[tuple[str, str, str, float, float], StringRanges] = {}

    def ask(string: BowedString, frequency_hz: float, tilt_deg: float) -> StringRanges:
        name = (string.instrument, string.size, string.name, round(frequency_hz, 3), tilt_deg)
        if name not in had:
            maps = _maps(string, frequency_hz, tilt_deg, kept, told)
            had[name] = (
                published_ranges(string, frequency_hz, tilt_deg)
                if maps is None
                else StringRanges(string, frequency_hz, maps, is_computed=True)
            )
        return had[name]

    return ask


def _maps(
    string: BowedString, frequency_hz: float, tilt_deg: float, kept: KeptMaps | None, told: Told | None
) -> tuple[PlayableRanges, ...] | None:
    from colophony.physics.instruments import find_instrument
    from colophony.physics.maps import contact_distances_m, playable_ranges
    from colophony.physics.survey import survey

    instrument = find_instrument(string.instrument, string.size)
    content = {"instrument": instrument, "string": string, "frequency_hz": frequency_hz, "tilt_deg": tilt_deg}
    content |= {"speeds": SPEEDS_M_S, "distances": DISTANCES, "tolerance": _TOLERANCE}
    key = "" if kept is None else kept.key("practice", content)
    if kept is not None and (found := kept.find(key)) is not None:
        earlier: tuple[PlayableRanges, ...] = found
        return earlier
    if told is not None:
        told(string.name)
    try:
        maps = playable_ranges(
            string,
            partial(survey, instrument, string, frequency_hz=frequency_hz),
            speeds_m_s=SPEEDS_M_S,
            distances_m=contact_distances_m(string, frequency_hz=frequency_hz, count=DISTANCES),
            frequency_hz=frequency_hz,
            tilt_deg=tilt_deg,
            tolerance=_TOLERANCE,
        )
    except InputError:
        return None
    if not all(one.is_finished for one in maps):
        raise KeyboardInterrupt
    if kept is not None:
        kept.keep(key, maps)
    return maps
