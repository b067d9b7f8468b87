"""Why a change is advised, for a teacher: what was heard, the law behind the cure, and the room it gains."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from colophony.language import N_, _, figures, note_name
from colophony.listening.take import Instrument, Stroke, ToneState
from colophony.physics.strings import BowedString, find_string, strings_that_play
from colophony.teaching import wording
from colophony.teaching.faults import Fault, computed_relief_db, is_way_back, relief_db
from colophony.teaching.room import TYPICAL_SPEED_M_S, Change, Rooms
from colophony.teaching.sounding_points import MIDDLE, point_to_m
from colophony.units import note_to_hz

#: Two figures for the same change that differ by so much are both told.
APART_DB = 2.0


@dataclass(frozen=True, slots=True)
class Occurrence:
    """A fault found in one stroke: its seconds, the lowest confidence of its spans, first and last moment."""

    fault: Fault
    seconds: float
    confidence: float
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Place:
    """Where a stroke was likely played."""

    string: BowedString
    frequency_hz: float
    note: str | None

    @property
    def shortened(self) -> float:
        """Open over stopped length, 1 and above."""
        return self.string.sounding_length_m / self.string.stopped_length_m(self.frequency_hz)

    @property
    def named(self) -> str:
        """The note as players call it, or its frequency."""
        return note_name(self.note).replace("#", "♯") if self.note else f"{self.frequency_hz:.0f} Hz"

    @property
    def middle_mm(self) -> float:
        """The middle of the bowing room, mm from the bridge."""
        return 1000.0 * point_to_m(MIDDLE, self.string, frequency_hz=self.frequency_hz)


def place_of(
    stroke: Stroke, instrument: Instrument | None, size: str, string: str | None, a4_hz: float
) -> Place | None:
    """Return where a stroke was likely played: on the string named, else where the hand lies lowest.

    None where instrument or note are not known, or no string has the note.
    """
    note, frequency_hz = _bowed_note(stroke, a4_hz)
    if instrument is None or frequency_hz is None:
        return None
    candidates = strings_that_play(instrument, size, frequency_hz, a4_hz=a4_hz)
    if string is not None:
        named = find_string(instrument, size, string, a4_hz=a4_hz)
        candidates = tuple(candidate for candidate in candidates if candidate == named) or candidates
    if not candidates:
        return None
    return Place(candidates[0], frequency_hz, note)


def _bowed_note(stroke: Stroke, a4_hz: float) -> tuple[str | None, float | None]:
    """Return the note that was bowed and its frequency; of a groan only the wanted note is known."""
    if stroke.state is not ToneState.LOW_ANOMALOUS:
        return stroke.note, stroke.frequency_hz
    for item in stroke.evidence:
        wanted = item.values.get("wanted")
        if isinstance(wanted, str):
            return wanted, note_to_hz(wanted, a4_hz)
    return None, None


#: What one change gains, with the field ``{gain}``.
_GAINS: dict[Change, str] = {
    ("weight", "less"): N_("a quarter less weight {gain}"),
    ("weight", "more"): N_("a third more weight {gain}"),
    ("speed", "less"): N_("a quarter less speed {gain}"),
    ("speed", "more"): N_("a third more speed {gain}"),
    ("distance", "nearer"): N_("nearer, in proportion to the stopped string, {gain}"),
    ("distance", "farther"): N_("one sounding point farther {gain}"),
}
_GAINS_OF: Mapping[str, dict[Change, str]] = MappingProxyType(
    {
        "groaning": {
            ("weight", "less"): N_("half the weight {gain}"),
            ("speed", "more"): N_("double the speed {gain}"),
        },
        "creaking-start": {("speed", "more"): N_("a third more acceleration {gain}")},
        "slipping-start": {("speed", "less"): N_("a quarter less acceleration {gain}")},
    }
)


def why(
    occurrence: Occurrence,
    stroke: Stroke,
    place: Place | None,
    rooms: Rooms | None,
    cures: list[tuple[Change, float | None]],
) -> str:
    """Return why cures are advised, in the language of the moment: what was heard, the law, the room."""
    fault = occurrence.fault
    parts = [_observed(occurrence, stroke), _(fault.law)]
    parts += [
        wording.evidence(item, reader="teacher") for item in stroke.evidence if item.kind.startswith("own_")
    ]
    if place is not None and rooms is not None and fault.kind == "tone":
        parts += _room(place, rooms)
    words = _GAINS | _GAINS_OF.get(fault.name, {})
    gains = [
        _(words[change]).format(gain=_gain(fault, change, relief, rooms))
        for change, relief in cures
        if relief is not None
    ]
    if gains:
        parts.append(_("Room gained: {gains}.").format(gains=", ".join(gains)))
    return " ".join(parts)


def _room(place: Place, rooms: Rooms) -> list[str]:
    """Return how much room the note has in the middle, as sentences; nothing where none is known."""
    room = rooms.here
    if room.weight_n is None:
        return []
    bears = _(
        "In the middle of the bowing room ({distance} mm) at {speed} cm/s, {note} on the {string} string "
        "bears about {span}, {decibels} dB ({source})."
    ).format(
        distance=f"{place.middle_mm:.0f}",
        speed=f"{100 * TYPICAL_SPEED_M_S:.0f}",
        note=place.named,
        string=place.string.name,
        span=wording.newtons(room.weight_n),
        decibels=f"{room.range_db:.0f}",
        source=wording.source(room),
    )
    parts = [bears, wording.wanders(rooms.wander, reader="teacher"), wording.differ(room, reader="teacher")]
    return [part for part in parts if part]


def _gain(fault: Fault, change: Change, relief: float, rooms: Rooms | None) -> str:
    """Return a relief in dB; beside the lesser that counts stands the greater, where they lie far apart."""
    said_db = figures(f"{relief:.1f} dB")
    if is_way_back(fault, change):
        return said_db
    published = relief_db(fault.name, change)
    computed = None if rooms is None else computed_relief_db(fault.name, change, rooms)
    if published is None or computed is None or max(published, computed) - relief < APART_DB:
        return said_db
    greater = figures(f"{max(published, computed):.1f}")
    words = (
        _("{gain} (published law: {greater})") if published > computed else _("{gain} (computed: {greater})")
    )
    return words.format(gain=said_db, greater=greater)


_HELD: Mapping[str, str] = MappingProxyType(
    {
        "pressed": N_("Pressed for {seconds} s between {start} and {end} s (confidence {confidence})."),
        "groaning": N_("Groaning for {seconds} s between {start} and {end} s (confidence {confidence})."),
        "surface": N_("Surface sound for {seconds} s between {start} and {end} s (confidence {confidence})."),
        "no-tone": N_("Hair noise for {seconds} s between {start} and {end} s (confidence {confidence})."),
    }
)


def _observed(occurrence: Occurrence, stroke: Stroke) -> str:
    confidence = figures(f"{occurrence.confidence:.2f}")
    if occurrence.fault.kind == "start":
        settling_ms = stroke.onset.settling_ms
        if settling_ms is None:
            return _(
                "The start took longer than is accepted to settle (confidence {confidence}; Guettler and "
                "Askenfelt 1997)."
            ).format(confidence=confidence)
        return _(
            "The start took about {settling} ms, longer than is accepted to settle (confidence {confidence}; "
            "Guettler and Askenfelt 1997)."
        ).format(settling=f"{settling_ms:.0f}", confidence=confidence)
    if occurrence.fault.kind == "colour":
        difference_db = stroke.brightness.against_reference_db or 0.0
        return _("{difference} dB against the reference take (confidence {confidence}).").format(
            difference=f"{difference_db:+.0f}", confidence=confidence
        )
    return _(_HELD[occurrence.fault.name]).format(
        seconds=figures(f"{occurrence.seconds:.1f}"),
        start=figures(f"{occurrence.start_s:.1f}"),
        end=figures(f"{occurrence.end_s:.1f}"),
        confidence=confidence,
    )
