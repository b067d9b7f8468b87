"""The strings of violin, viola and cello, full size and fractional, each figure with its source.

A string is its sounding length and its mass per length; tension and impedance follow from the pitch
it is tuned to:

    c = 2 L f        wave speed, m/s
    T = m' c^2       tension, N
    Z0 = m' c        transverse wave impedance, kg/s

Sources of mass per length:

* violin: N. Pickering, "Physical properties of violin strings", J. Catgut Acoust. Soc. 44 (1985), as
  tabulated in C. Desvages, PhD thesis, University of Edinburgh (2018);
* viola, cello: the middle of the ranges of table 16.1 in T. Rossing (ed.), "The Science of String
  Instruments", Springer (2010), as transcribed by G. Percival, PhD thesis, University of Glasgow (2013).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, TypeVar

from colophony.errors import InputError
from colophony.units import ISO_16_A4_HZ, hz_to_cents, note_to_hz

_T = TypeVar("_T")

InstrumentName = Literal["violin", "viola", "cello"]

#: Bridge to the end of the fingerboard as a share of the sounding length: about 55 mm of 325 mm on a
#: violin with a fingerboard of 270 mm. The same share for viola and cello is an estimate.
BOWABLE_SHARE = 55.0 / 325.0

#: A note this far below an open string still belongs to it: the string may be tuned low.
_BELOW_OPEN_CENTS = 60.0
#: How far up a string is played, in semitones: two octaves and a fourth on the top string (E5 to A7 on
#: the violin), an octave and a fifth on the others. Common practice, no source.
_HIGHEST_ON_TOP_STRING = 29
_HIGHEST_ON_OTHER_STRINGS = 19


@dataclass(frozen=True, slots=True)
class StringData:
    """What a table says of one full-size string."""

    note: str  #: open string, scientific pitch notation
    mass_per_length_kg_m: float
    tension_range_n: tuple[float, float]  #: commercial strings, Rossing (2010) table 16.1
    source: str


@dataclass(frozen=True, slots=True)
class BowedString:
    """One string of one instrument, tuned to its open note.

    ``sounding_length_m`` is bridge to nut; ``bowable_length_m`` is bridge to the fingerboard's end.
    ``source`` says where mass per length comes from, ``length_source`` the same for the length.
    """

    instrument: InstrumentName
    size: str
    name: str  #: letter, "G"
    note: str  #: "G3"
    open_frequency_hz: float
    sounding_length_m: float
    mass_per_length_kg_m: float
    source: str
    length_source: str

    @property
    def tension_n(self) -> float:
        """Tension T = m' (2 L f)^2 in N."""
        return self.mass_per_length_kg_m * self.wave_speed_m_s**2

    @property
    def wave_speed_m_s(self) -> float:
        """Speed c = 2 L f of a transverse wave in m/s."""
        return 2.0 * self.sounding_length_m * self.open_frequency_hz

    @property
    def impedance_kg_s(self) -> float:
        """Transverse wave impedance Z0 = sqrt(T m') in kg/s; the same at every stopped note."""
        return self.mass_per_length_kg_m * self.wave_speed_m_s

    @property
    def bowable_length_m(self) -> float:
        """Length from bridge to the end of the fingerboard in m (`BOWABLE_SHARE`)."""
        return BOWABLE_SHARE * self.sounding_length_m

    def stopped_length_m(self, frequency_hz: float) -> float:
        """Return the sounding length in m when stopped at a frequency in Hz, at most the open length."""
        return min(self.sounding_length_m, self.wave_speed_m_s / (2.0 * frequency_hz))


_PICKERING = "Pickering (1985), in Desvages (2018)"
_ROSSING = "middle of the range in Rossing (2010), table 16.1, in Percival (2013)"

#: Full-size strings from the lowest to the highest. Mass per length in kg/m.
FULL_SIZE: Mapping[InstrumentName, Mapping[str, StringData]] = {
    "violin": {
        "G": StringData("G3", 2.79e-3, (35.0, 51.1), _PICKERING),
        "D": StringData("D4", 1.61e-3, (34.3, 60.6), _PICKERING),
        "A": StringData("A4", 0.72e-3, (48.3, 62.7), _PICKERING),
        "E": StringData("E5", 0.41e-3, (71.4, 90.7), _PICKERING),
    },
    "viola": {
        "C": StringData("C3", 5.63e-3, (47.6, 60.7), _ROSSING),
        "G": StringData("G3", 2.505e-3, (47.6, 60.7), _ROSSING),
        "D": StringData("D4", 1.115e-3, (47.6, 60.7), _ROSSING),
        "A": StringData("A4", 0.74e-3, (60.6, 100.2), _ROSSING),
    },
    "cello": {
        "C": StringData("C2", 15.655e-3, (116.7, 138.3), _ROSSING),
        "G": StringData("G2", 6.97e-3, (116.8, 138.3), _ROSSING),
        "D": StringData("D3", 3.255e-3, (121.0, 146.9), _ROSSING),
        "A": StringData("A3", 1.71e-3, (138.3, 177.2), _ROSSING),
    },
}

_MEASURED = "measured on real instruments by Percival (2013): 317 to 327 mm"
_TRADE = "table of the trade, makers differ by several mm"
_FROM_BODY = "estimate: 0.93 of the body length"
_MEMORY = "from memory"

#: Sounding length in m by size. Makers differ: a length measured on the instrument is always better.
#: A viola's "3/4" is taken as a body of 14 inches (the string of a full-size violin), "1/2" as 13 and
#: "1/4" as 12 inches (the strings of a three-quarter and a half-size violin).
SOUNDING_LENGTH_M: Mapping[InstrumentName, Mapping[str, tuple[float, str]]] = {
    "violin": {
        "4/4": (0.325, _MEASURED),
        "7/8": (0.317, _TRADE),
        "3/4": (0.307, _TRADE),
        "1/2": (0.287, _TRADE),
        "1/4": (0.267, _TRADE),
        "1/8": (0.240, _FROM_BODY),
        "1/10": (0.223, _FROM_BODY),
        "1/16": (0.214, _FROM_BODY),
    },
    "viola": {
        "4/4": (0.370, "measured on real instruments by Percival (2013): 363 to 373 mm"),
        "3/4": (0.325, _MEMORY),
        "1/2": (0.307, _MEMORY),
        "1/4": (0.287, _MEMORY),
    },
    "cello": {
        "4/4": (0.690, "measured on real instruments by Percival (2013): 658 to 694 mm"),
        "3/4": (0.625, _MEMORY),
        "1/2": (0.570, _MEMORY),
        "1/4": (0.510, _MEMORY),
        "1/8": (0.445, _MEMORY),
    },
}


def find_string(
    instrument: str,
    size: str,
    name: str,
    *,
    sounding_length_m: float | None = None,
    a4_hz: float = ISO_16_A4_HZ,
) -> BowedString:
    """Return one string of an instrument.

    Fractional strings are an estimate: they keep the full-size mass per length, so that tension falls
    with the square of the length and impedance with the length. Strings made for small instruments are
    often somewhat heavier.

    Parameters
    ----------
    instrument : "violin", "viola" or "cello"
    size : "4/4", "3/4", ... (`sizes_of`)
    name : letter of the string, upper or lower case, or its open note: "G", "g", "G3"
    sounding_length_m : measured length, bridge to nut, 0.15 to 0.80 m; replaces the table's
    a4_hz : tuning, Hz

    Raises `InputError` naming the choices when instrument, size or string is unknown.
    """
    strings = _choose(FULL_SIZE, instrument, "instrument")
    length_m, length_source = _choose(SOUNDING_LENGTH_M[_name(instrument)], size, f"{instrument} size")
    if sounding_length_m is not None:
        if not 0.15 <= sounding_length_m <= 0.80:
            raise InputError(
                f"a sounding length of {1000 * sounding_length_m:.0f} mm is out of range: "
                "measure from bridge to nut, 150 to 800 mm"
            )
        length_m, length_source = sounding_length_m, "given"
    by_note = {data.note.casefold(): letter for letter, data in strings.items()}
    letter = by_note.get(name.strip().casefold(), name.strip().upper())
    data = _choose(strings, letter, f"string of a {instrument}")
    source = data.source if size == "4/4" else f"estimate: as full size, {data.source}"
    return BowedString(
        _name(instrument),
        size,
        letter,
        data.note,
        note_to_hz(data.note, a4_hz),
        length_m,
        data.mass_per_length_kg_m,
        source,
        length_source,
    )


def strings_of(instrument: str, size: str, *, a4_hz: float = ISO_16_A4_HZ) -> tuple[BowedString, ...]:
    """Return the four strings of an instrument from the lowest to the highest; raises as `find_string`."""
    names = _choose(FULL_SIZE, instrument, "instrument")
    return tuple(find_string(instrument, size, name, a4_hz=a4_hz) for name in names)


def sizes_of(instrument: str) -> tuple[str, ...]:
    """Return the sizes known for an instrument, the largest first; raises `InputError` if unknown."""
    return tuple(_choose(SOUNDING_LENGTH_M, instrument, "instrument"))


def strings_that_play(
    instrument: str, size: str, frequency_hz: float, *, a4_hz: float = ISO_16_A4_HZ
) -> tuple[BowedString, ...]:
    """Return the strings on which a frequency can be stopped, the likeliest first.

    The likeliest is the one that needs the lowest position, which is the highest string whose open note
    lies at or below the frequency. Empty when no string reaches it.

    Parameters
    ----------
    frequency_hz : sounding frequency above 0 Hz; up to 60 cents below an open string still belongs to it
    """
    strings = strings_of(instrument, size, a4_hz=a4_hz)
    reachable = []
    for string in reversed(strings):
        cents = hz_to_cents(frequency_hz, string.open_frequency_hz)
        highest = _HIGHEST_ON_TOP_STRING if string is strings[-1] else _HIGHEST_ON_OTHER_STRINGS
        if -_BELOW_OPEN_CENTS <= cents <= 100.0 * highest + _BELOW_OPEN_CENTS:
            reachable.append(string)
    return tuple(reachable)


def _name(instrument: str) -> InstrumentName:
    names: dict[str, InstrumentName] = {"violin": "violin", "viola": "viola", "cello": "cello"}
    return names[instrument]


def _choose(table: Mapping[Any, _T], name: str, what: str) -> _T:
    if name not in table:
        raise InputError(f"{name!r} is no {what}: choose one of {', '.join(table)}")
    return table[name]
