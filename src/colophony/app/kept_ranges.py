"""Playable ranges of one string and note at a few speeds: computed once, and kept where a folder is given."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING

from colophony.errors import InputError
from colophony.physics.strings import BowedString

if TYPE_CHECKING:
    from colophony.app.kept_maps import KeptMaps
    from colophony.physics.instruments import Instrument
    from colophony.physics.maps import PlayableRanges
    from colophony.physics.simulation import Model


def ask_playable(
    instrument: Instrument,
    string: BowedString,
    *,
    frequency_hz: float,
    speeds_m_s: Sequence[float],
    distances: int,
    tolerance: float,
    tilt_deg: float = 0.0,
    model: Model | None = None,
    kept: KeptMaps | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[PlayableRanges, ...] | None:
    """Return the playable ranges at each speed; None where the engine cannot play the string.

    Parameters
    ----------
    frequency_hz : the note, Hz
    speeds_m_s : of the bow, m/s, ascending
    distances : how many contact distances
    tolerance : how fine edges are, as a share of the weight
    kept : where they are kept, by their content
    progress : told the strokes answered and those expected

    Raises `KeyboardInterrupt` where somebody stopped the strokes: nothing unfinished is kept.
    """
    from colophony.physics.maps import contact_distances_m, playable_ranges
    from colophony.physics.survey import survey

    key = ""
    if kept is not None:
        content = {"instrument": instrument, "string": string, "frequency_hz": frequency_hz, "model": model}
        content |= {"speeds": tuple(speeds_m_s), "tilt_deg": tilt_deg}
        key = kept.key("ranges", content | {"distances": distances, "tolerance": tolerance})
        if (found := kept.find(key)) is not None:
            return tuple(found)
    try:
        ranges = playable_ranges(
            string,
            partial(survey, instrument, string, frequency_hz=frequency_hz, model=model),
            speeds_m_s=speeds_m_s,
            distances_m=contact_distances_m(string, frequency_hz=frequency_hz, count=distances),
            frequency_hz=frequency_hz,
            tilt_deg=tilt_deg,
            tolerance=tolerance,
            progress=progress,
        )
    except InputError:
        return None
    if not all(one.is_finished for one in ranges):
        raise KeyboardInterrupt
    if kept is not None:
        kept.keep(key, ranges)
    return ranges
