"""What a player chooses at the bench, in a player's units: read from an address, checked, written back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from colophony.app.bow import Request, settle
from colophony.app.phrases import capital
from colophony.errors import InputError
from colophony.language import N_, _, figures
from colophony.physics.strings import (
    FULL_SIZE,
    BowedString,
    find_string,
    highest_note,
    sizes_of,
    strings_of,
)
from colophony.teaching.sounding_points import m_to_point
from colophony.units import midi_to_note, note_to_hz, note_to_midi

#: Nearest a bow is laid to the bridge, in mm, and how far over the fingerboard's end, as a share.
NEAREST_MM = 3.0
_BEYOND_FINGERBOARD = 1.3
#: A bow at the middle of the string divides it evenly; nobody plays there.
_FARTHEST_SHARE = 0.42
SPEED_CM_S = (1.0, 150.0)
_USUAL_SPEED_CM_S = 20.0
LEAST_WEIGHT_N = 0.02
#: More than a player's arm gives for long (common practice, no source; measured strokes stay below half).
GREATEST_WEIGHT_N: Mapping[str, float] = {"violin": 4.0, "viola": 5.0, "cello": 8.0}
_GREATEST_OF_OTHERS_N = 12.0
TILT_DEG = (0.0, 60.0)

_USUAL_STRING: Mapping[str, str] = {"violin": "D", "viola": "G", "cello": "D", "double bass": "D"}

INSTRUMENTS = tuple(FULL_SIZE)
FIELDS = ("instrument", "size", "string", "note", "distance_mm", "speed_cm_s", "weight_n", "tilt_deg")


@dataclass(frozen=True, slots=True)
class Limits:
    """Least and greatest of each variable of the bow stroke on one string and note."""

    distance_mm: tuple[float, float]
    speed_cm_s: tuple[float, float]
    weight_n: tuple[float, float]
    tilt_deg: tuple[float, float]


@dataclass(frozen=True)
class Setting:
    """A string, its note and one steady stroke. ``note`` is empty for the open string.

    Made by `Setting.read` or `Setting.usual`, which check; ``tilt_deg`` counts from flat hair.
    """

    instrument: str
    size: str
    string: str
    note: str
    distance_mm: float
    speed_cm_s: float
    weight_n: float
    tilt_deg: float

    @classmethod
    def usual(
        cls, instrument: str = "violin", size: str = "4/4", string: str = "", note: str = ""
    ) -> Setting:
        """Return an ordinary stroke in the middle of the bowing room, under the weight that suits the string.

        Place and weight are those of `colophony.app.bow.settle`, as far as the bench goes. Raises
        `InputError` as `read` does.
        """
        bowed = _find(instrument, size, string or _USUAL_STRING.get(instrument, ""))
        limits = limits_of(bowed, _frequency(bowed, note))
        stroke = settle(
            Request(instrument, size, bowed.name, note or None, speed_cm_s=_USUAL_SPEED_CM_S), bowed
        )
        distance_mm = _within(limits.distance_mm, stroke.distance_mm)
        weight_n = _within(limits.weight_n, stroke.weight_n)
        made = cls(instrument, size, bowed.name, note, distance_mm, _USUAL_SPEED_CM_S, weight_n, 0.0)
        made.check()
        return made

    @classmethod
    def read(cls, fields: Mapping[str, str], *, prefix: str = "") -> Setting:
        """Read a setting from the fields of an address; what is left out is as usual.

        Raises `InputError` with the first thing to put right.
        """
        given = {name: fields.get(prefix + name, "").strip() for name in FIELDS}
        made = cls.usual(
            given["instrument"] or "violin", given["size"] or "4/4", given["string"], _note(given["note"])
        )
        for name, what, unit in _VARIABLES:
            if given[name]:
                value: dict[str, Any] = {name: _number(given[name], what, unit)}
                made = replace(made, **value)
        made.check()
        return made

    def check(self) -> None:
        """Raise `InputError` for the first value outside its limits."""
        limits = limits_of(self.bowed, self.frequency_hz)
        for name, what, unit in _VARIABLES:
            low, high = getattr(limits, name)
            value = getattr(self, name)
            if not low <= value <= high:
                raise InputError(
                    _(
                        "{what} of {value} {unit} is out of reach here: choose {least} to {most} {unit}."
                    ).format(
                        what=capital(_(what)),
                        value=figures(f"{value:g}"),
                        unit=_(unit),
                        least=figures(f"{low:g}"),
                        most=figures(f"{high:g}"),
                    )
                )

    def query(self, *, prefix: str = "") -> dict[str, str]:
        """Return the fields of an address that reopens exactly this setting; inverse of `read`."""
        values = {name: getattr(self, name) for name in FIELDS}
        return {
            prefix + name: f"{value:.10g}" if isinstance(value, float) else value
            for name, value in values.items()
        }

    @cached_property
    def bowed(self) -> BowedString:
        """The string under the bow."""
        return _find(self.instrument, self.size, self.string)

    @property
    def frequency_hz(self) -> float:
        """The note's frequency in Hz, stopped or open."""
        return _frequency(self.bowed, self.note)

    @property
    def sounding_note(self) -> str:
        """The note that should sound: ``"A4"``."""
        return self.note or self.bowed.note

    @property
    def length_m(self) -> float:
        """Sounding length in m, from the bridge to the nut or the finger."""
        return self.bowed.stopped_length_m(self.frequency_hz)

    @property
    def sounding_point(self) -> float:
        """Place of the bow, 1 at the bridge to 5 at the fingerboard's end; above 5.5 over it."""
        return m_to_point(self.distance_mm / 1000, self.bowed, frequency_hz=self.frequency_hz)


_VARIABLES = (
    ("distance_mm", N_("a contact distance"), "mm"),
    ("speed_cm_s", N_("a speed"), "cm/s"),
    ("weight_n", N_("a weight"), "N"),
    ("tilt_deg", N_("a tilt"), N_("degrees")),
)


def limits_of(bowed: BowedString, frequency_hz: float) -> Limits:
    """Return what can be asked of a string at a note, in a player's units."""
    farthest_m = min(
        _BEYOND_FINGERBOARD * bowed.bowable_length_m, _FARTHEST_SHARE * bowed.stopped_length_m(frequency_hz)
    )
    return Limits(
        distance_mm=(NEAREST_MM, float(math.floor(1000 * farthest_m))),
        speed_cm_s=SPEED_CM_S,
        weight_n=(LEAST_WEIGHT_N, GREATEST_WEIGHT_N.get(bowed.instrument, _GREATEST_OF_OTHERS_N)),
        tilt_deg=TILT_DEG,
    )


def choices_of(instrument: str, size: str) -> dict[str, list[tuple[str, str]]]:
    """Return the sizes and strings of an instrument as (value, label), the lowest string first."""
    return {
        "size": [(value, value) for value in sizes_of(instrument)],
        "string": [(bowed.name, f"{bowed.name} ({bowed.note})") for bowed in strings_of(instrument, size)],
    }


def _find(instrument: str, size: str, string: str) -> BowedString:
    if instrument not in INSTRUMENTS:
        raise InputError(
            _("{name!r} is no instrument here: choose one of {known}.").format(
                name=instrument[:30], known=", ".join(INSTRUMENTS)
            )
        )
    return find_string(instrument, size[:30], string[:30] or strings_of(instrument, size[:30])[0].name)


def _note(text: str) -> str:
    """Return a note's name as it is written here: ``f♯4`` is ``F#4``; empty for the open string."""
    return midi_to_note(note_to_midi(text[:8])) if text else ""


def _frequency(bowed: BowedString, note: str) -> float:
    if not note:
        return bowed.open_frequency_hz
    highest = highest_note(bowed)
    if not note_to_midi(bowed.note) <= note_to_midi(note) <= note_to_midi(highest):
        raise InputError(
            _("{note} is not on the {string} string: choose {lowest} to {highest}, or leave it open.").format(
                note=note, string=bowed.name, lowest=bowed.note, highest=highest
            )
        )
    return note_to_hz(note)


def _within(limits: tuple[float, float], value: float | None) -> float:
    assert value is not None
    return min(max(value, limits[0]), limits[1])


def _number(text: str, what: str, unit: str) -> float:
    try:
        value = float(text[:30].replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        line = _("{text!r} is not {what}: write a number of {unit}, such as 20.")
        raise InputError(line.format(text=text[:30], what=_(what), unit=_(unit)))
    return value
