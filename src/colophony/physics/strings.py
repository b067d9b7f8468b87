"""The strings of violin, viola, cello and double bass, full size and fractional, each figure with its source.

A string is its sounding length and its mass per length; tension and impedance follow from the pitch
it is tuned to:

    c = 2 L f        wave speed, m/s
    T = m' c^2       tension, N
    Z0 = m' c        transverse wave impedance, kg/s

Sources of mass per length:

* violin: N. Pickering, "Physical properties of violin strings", J. Catgut Acoust. Soc. 44 (1985), as
  tabulated in C. Desvages, PhD thesis, University of Edinburgh (2018);
* viola, cello: the middle of the ranges of table 16.1 in T. Rossing (ed.), "The Science of String
  Instruments", Springer (2010), as transcribed by G. Percival, PhD thesis, University of Glasgow (2013);
* the gauges "light" and "heavy" of these three: the ends of the same ranges;
* double bass: from memory, about 280 N a string on an instrument of size 3/4.

How a string loses its motion and how far its partials lie from whole multiples was measured on plucked
strings of ten instruments (Percival 2013). Inharmonicity is the mean over instruments. Decay follows a
law of two terms, r_n = r0 + r2 n^2 in 1/s, so that Q_n = pi n f / r_n; it is fitted to the mean over
instruments with modes 1 to 5 inside the measured range where two terms can reach it.
Direct measurements of bending stiffness of cello strings give an inharmonicity 2 to 5 times lower.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, TypeVar

from colophony.errors import InputError
from colophony.language import N_, _
from colophony.units import ISO_16_A4_HZ, hz_to_cents, midi_to_note, note_to_hz, note_to_midi

_T = TypeVar("_T")

InstrumentName = Literal["violin", "viola", "cello", "double bass"]
Gauge = Literal["light", "medium", "heavy"]

GAUGES: tuple[Gauge, ...] = ("light", "medium", "heavy")

#: Bridge to the end of the fingerboard as a share of the sounding length: about 55 mm of 325 mm on a
#: violin with a fingerboard of 270 mm. The same share for viola and cello is an estimate.
BOWABLE_SHARE = 55.0 / 325.0

#: A note this far below an open string, or above its highest note, still belongs to it: the string may be
#: tuned low or high.
_NEAR_CENTS = 60.0
#: How far up a string is played, in semitones: two octaves and a fourth on the top string (E5 to A7 on
#: the violin), an octave and a fifth on the others. Common practice, no source.
_HIGHEST_ON_TOP_STRING = 29
_HIGHEST_ON_OTHER_STRINGS = 19

#: Limits of a sounding length measured by the player.
_SHORTEST_M, _LONGEST_M, _LONGEST_BASS_M = 0.15, 0.80, 1.20


@dataclass(frozen=True, slots=True)
class Torsion:
    """Twisting waves of a string beside its transverse ones."""

    speed_ratio: float  #: torsional over transverse wave speed, c_t / c
    impedance_ratio: float  #: torsional impedance at the string's surface over the transverse, Z_t / Z0
    quality: float  #: Q of the torsional modes, about the same for all of them
    source: str


@dataclass(frozen=True, slots=True)
class StringData:
    """What tables say of one full-size string."""

    note: str  #: open string, scientific pitch notation
    mass_per_length_kg_m: float
    mass_range_kg_m: tuple[float, float]  #: light and heavy commercial strings
    tension_range_n: tuple[float, float]  #: commercial strings
    inharmonicity: float  #: B in f_n = n f1 sqrt(1 + B n^2)
    decay_per_s: tuple[float, float]  #: r0 and r2 in r_n = r0 + r2 n^2
    torsion: Torsion
    source: str


@dataclass(frozen=True, slots=True)
class BowedString:
    """One string of one instrument, tuned to its open note. Any figure can be replaced.

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
    gauge: Gauge = "medium"
    inharmonicity: float = 0.0  #: B of the open string in f_n = n f1 sqrt(1 + B n^2)
    decay_floor_per_s: float = (
        0.0  #: r0 of the amplitude's decay r_n = r0 + r2 n^2 of the open string's mode n
    )
    decay_growth_per_s: float = 0.0  #: r2
    torsion_speed_ratio: float = 5.2  #: torsional over transverse wave speed of the open string
    torsion_impedance_ratio: float = 2.5  #: torsional over transverse wave impedance
    torsion_quality: float = 45.0

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

    def inharmonicity_at(self, frequency_hz: float) -> float:
        """Return B when stopped at a frequency in Hz: it grows as one over the square of the length."""
        return self.inharmonicity * (self.sounding_length_m / self.stopped_length_m(frequency_hz)) ** 2

    def decay_per_s(self, frequency_hz: float) -> float:
        """Return the rate in 1/s at which a partial's amplitude dies away, by the partial's frequency in Hz.

        The law of the open string's modes read at frequency / open frequency; the finger's own loss is not
        part of it.
        """
        return self.decay_floor_per_s + self.decay_growth_per_s * (frequency_hz / self.open_frequency_hz) ** 2

    def quality(self, mode: int) -> float:
        """Return Q = pi f / r of mode 1, 2, ... of the open string, infinite for a string without loss."""
        frequency_hz = mode * self.open_frequency_hz
        rate = self.decay_per_s(frequency_hz)
        return math.pi * frequency_hz / rate if rate > 0.0 else math.inf


_PICKERING = "Pickering (1985), in Desvages (2018)"
_ROSSING = "middle of the range in Rossing (2010), table 16.1, in Percival (2013)"
_ROSSING_END = "end of the range in Rossing (2010), table 16.1, in Percival (2013)"
_BASS_MEMORY = "from memory; inharmonicity and decay are estimates from the cello's"

#: c_t/c of the cello D measured by Woodhouse (Euphonics 9.7.1), Z_t/Z0 "typically 2 to 4" (Schumacher, in
#: Schoonderwaldt, Guettler & Askenfelt 2008), Q of 17 to 60 (Bavu, Smith & Wolfe 2005).
_TYPICAL = Torsion(5.2, 2.5, 45.0, "typical: no figures for this string were found")
#: A plain round wire: c_t = sqrt(G / rho) and Z_t/Z0 = c_t / 2c, with steel's G of 79 GPa and 7850 kg/m^3
#: (handbook values, from memory) and c = 428 m/s.
_PLAIN_STEEL = Torsion(7.4, 3.7, 45.0, "computed for a plain steel wire; Q typical")
#: Z_t 1.8 kg/s beside Z0 0.55 kg/s.
_CELLO_D = Torsion(5.2, 3.3, 45.0, "Woodhouse's cello D string, Euphonics 9.5.3 and 9.7.1")
#: Z_t about 1.5 kg/s beside Z0 0.94 kg/s. The C string's are not known and taken as equal.
_CELLO_G = Torsion(6.1, 1.6, 30.0, "Woodhouse & Loach (1999), in van Walstijn et al. (2026)")
#: Torsional formants near 225 and 450 Hz on an E string at 40 Hz.
_BASS = Torsion(5.6, 2.5, 30.0, "speed: Bavu, Smith & Wolfe (2005); impedance typical")

#: Full-size strings from the lowest to the highest: mass per length and its range in kg/m, range of
#: tension in N, inharmonicity, decay in 1/s. The double bass's are those of size 3/4, which orchestras use.
FULL_SIZE: Mapping[InstrumentName, Mapping[str, StringData]] = {
    "violin": {
        "G": StringData(
            "G3", 2.79e-3, (2.12e-3, 3.09e-3), (35.0, 51.1), 2.5e-4, (0.542, 0.205), _TYPICAL, _PICKERING
        ),
        "D": StringData(
            "D4", 1.61e-3, (0.92e-3, 1.63e-3), (34.3, 60.6), 3.4e-4, (1.15, 0.337), _TYPICAL, _PICKERING
        ),
        "A": StringData(
            "A4", 0.72e-3, (0.58e-3, 0.75e-3), (48.3, 62.7), 2.1e-4, (2.14, 0.369), _TYPICAL, _PICKERING
        ),
        "E": StringData(
            "E5", 0.41e-3, (0.38e-3, 0.48e-3), (71.4, 90.7), 0.48e-4, (3.43, 0.204), _PLAIN_STEEL, _PICKERING
        ),
    },
    "viola": {
        "C": StringData(
            "C3", 5.63e-3, (4.95e-3, 6.31e-3), (47.6, 60.7), 2.5e-4, (0.477, 0.233), _TYPICAL, _ROSSING
        ),
        "G": StringData(
            "G3", 2.505e-3, (2.2e-3, 2.81e-3), (47.6, 60.7), 1.5e-4, (0.779, 0.0909), _TYPICAL, _ROSSING
        ),
        "D": StringData(
            "D4", 1.115e-3, (0.98e-3, 1.25e-3), (47.6, 60.7), 0.9e-4, (1.035, 0.255), _TYPICAL, _ROSSING
        ),
        "A": StringData(
            "A4", 0.74e-3, (0.56e-3, 0.92e-3), (60.6, 100.2), 0.76e-4, (2.33, 0.197), _TYPICAL, _ROSSING
        ),
    },
    "cello": {
        "C": StringData(
            "C2", 15.655e-3, (14.33e-3, 16.98e-3), (116.7, 138.3), 5.8e-4, (0.292, 0.149), _CELLO_G, _ROSSING
        ),
        "G": StringData(
            "G2", 6.97e-3, (6.38e-3, 7.56e-3), (116.8, 138.3), 2.2e-4, (0.46, 0.095), _CELLO_G, _ROSSING
        ),
        "D": StringData(
            "D3", 3.255e-3, (2.94e-3, 3.57e-3), (121.0, 146.9), 1.8e-4, (1.31, 0.22), _CELLO_D, _ROSSING
        ),
        "A": StringData(
            "A3", 1.71e-3, (1.5e-3, 1.92e-3), (138.3, 177.2), 0.6e-4, (2.15, 0.108), _CELLO_D, _ROSSING
        ),
    },
    "double bass": {
        "E": StringData(
            "E1", 37.8e-3, (34e-3, 41.6e-3), (245.0, 315.0), 4e-4, (0.22, 0.07), _BASS, _BASS_MEMORY
        ),
        "A": StringData(
            "A1", 21.2e-3, (19.1e-3, 23.3e-3), (245.0, 315.0), 3e-4, (0.28, 0.08), _BASS, _BASS_MEMORY
        ),
        "D": StringData(
            "D2", 11.9e-3, (10.7e-3, 13.1e-3), (245.0, 315.0), 2e-4, (0.36, 0.09), _BASS, _BASS_MEMORY
        ),
        "G": StringData(
            "G2", 6.68e-3, (6.01e-3, 7.35e-3), (245.0, 315.0), 1e-4, (0.46, 0.095), _BASS, _BASS_MEMORY
        ),
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
    "double bass": {
        "4/4": (1.080, "statement of a string maker: 1060 to 1100 mm"),
        "3/4": (1.045, "statement of a string maker: 1030 to 1060 mm"),
        "1/2": (0.965, _MEMORY),
        "1/4": (0.900, _MEMORY),
    },
}


def find_string(
    instrument: str,
    size: str,
    name: str,
    *,
    gauge: str = "medium",
    sounding_length_m: float | None = None,
    a4_hz: float = ISO_16_A4_HZ,
) -> BowedString:
    """Return one string of an instrument.

    Fractional strings are an estimate: they keep the full-size mass per length, so that tension falls
    with the square of the length and impedance with the length. Strings made for small instruments are
    often somewhat heavier. Such a string bends as stiffly and twists as fast as the full-size one, so that
    inharmonicity rises as 1 / length^4 and both ratios of torsion as 1 / length. Decay rates are kept.
    A gauge changes mass per length and, with it, tension, impedance and inharmonicity in proportion.

    Parameters
    ----------
    instrument : "violin", "viola", "cello" or "double bass"
    size : "4/4", "3/4", ... (`sizes_of`)
    name : letter of the string, upper or lower case, or its open note: "G", "g", "G3"
    gauge : "light", "medium" or "heavy"
    sounding_length_m : measured length, bridge to nut, 0.15 to 0.80 m, up to 1.20 m for a double bass;
        replaces the table's
    a4_hz : tuning, Hz

    Raises `InputError` naming the choices when instrument, size, string or gauge is unknown.
    """
    strings = _choose(FULL_SIZE, instrument, _NO_INSTRUMENT)
    length_m, length_source = _choose(SOUNDING_LENGTH_M[_name(instrument)], size, _NO_SIZE, instrument)
    if sounding_length_m is not None:
        longest_m = _LONGEST_BASS_M if instrument == "double bass" else _LONGEST_M
        if not _SHORTEST_M <= sounding_length_m <= longest_m:
            raise InputError(
                _(
                    "a sounding length of {length} mm is out of range: measure from bridge to nut, {least} "
                    "to {most} mm"
                ).format(
                    length=f"{1000 * sounding_length_m:.0f}",
                    least=f"{1000 * _SHORTEST_M:.0f}",
                    most=f"{1000 * longest_m:.0f}",
                )
            )
        length_m, length_source = sounding_length_m, "given"
    by_note = {data.note.casefold(): letter for letter, data in strings.items()}
    letter = by_note.get(name.strip().casefold(), name.strip().upper())
    data = _choose(strings, letter, NO_STRING, instrument)
    light, heavy = data.mass_range_kg_m
    mass = _choose({"light": light, "medium": data.mass_per_length_kg_m, "heavy": heavy}, gauge, _NO_GAUGE)
    table_size = "3/4" if instrument == "double bass" else "4/4"
    source = data.source
    if gauge != "medium":
        source = _MEMORY if instrument == "double bass" else _ROSSING_END
    if size != table_size:
        source = f"estimate: as {'full size' if table_size == '4/4' else table_size}, {source}"
    shorter = SOUNDING_LENGTH_M[_name(instrument)][table_size][0] / length_m
    return BowedString(
        instrument=_name(instrument),
        size=size,
        name=letter,
        note=data.note,
        open_frequency_hz=note_to_hz(data.note, a4_hz),
        sounding_length_m=length_m,
        mass_per_length_kg_m=mass,
        source=source,
        length_source=length_source,
        gauge=_gauge(gauge),
        inharmonicity=data.inharmonicity * (mass / data.mass_per_length_kg_m) * shorter**4,
        decay_floor_per_s=data.decay_per_s[0],
        decay_growth_per_s=data.decay_per_s[1],
        torsion_speed_ratio=data.torsion.speed_ratio * shorter,
        torsion_impedance_ratio=data.torsion.impedance_ratio * shorter,
        torsion_quality=data.torsion.quality,
    )


def strings_of(
    instrument: str, size: str, *, gauge: str = "medium", a4_hz: float = ISO_16_A4_HZ
) -> tuple[BowedString, ...]:
    """Return the four strings of an instrument from the lowest to the highest; raises as `find_string`."""
    names = _choose(FULL_SIZE, instrument, _NO_INSTRUMENT)
    return tuple(find_string(instrument, size, name, gauge=gauge, a4_hz=a4_hz) for name in names)


def sizes_of(instrument: str) -> tuple[str, ...]:
    """Return the sizes known for an instrument, the largest first; raises `InputError` if unknown."""
    return tuple(_choose(SOUNDING_LENGTH_M, instrument, _NO_INSTRUMENT))


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
        above_open = hz_to_cents(frequency_hz, string.open_frequency_hz)
        above_highest = hz_to_cents(frequency_hz, note_to_hz(highest_note(string), a4_hz))
        if above_open >= -_NEAR_CENTS and above_highest <= _NEAR_CENTS:
            reachable.append(string)
    return tuple(reachable)


def highest_note(string: BowedString) -> str:
    """Return the highest note that is played on a string, such as ``"A7"`` on the violin's E."""
    *_, top = FULL_SIZE[string.instrument]
    semitones = _HIGHEST_ON_TOP_STRING if string.name == top else _HIGHEST_ON_OTHER_STRINGS
    return midi_to_note(note_to_midi(string.note) + semitones)


def _name(instrument: str) -> InstrumentName:
    return next(name for name in FULL_SIZE if name == instrument)


def _gauge(gauge: str) -> Gauge:
    return next(name for name in GAUGES if name == gauge)


_NO_INSTRUMENT = N_("{given!r} is no instrument: choose one of {known}")
_NO_SIZE = N_("{given!r} is no {instrument} size: choose one of {known}")
NO_STRING = N_("{given!r} is no string of a {instrument}: choose one of {known}")
_NO_GAUGE = N_("{given!r} is no gauge: choose one of {known}")


def no_size(size: str, instrument: str) -> InputError:
    """Return the refusal of a size that an instrument does not come in."""
    return _unknown(size, sizes_of(instrument), _NO_SIZE, instrument)


def _choose(table: Mapping[Any, _T], name: str, refusal: str, instrument: str = "") -> _T:
    if name not in table:
        raise _unknown(name, table, refusal, instrument)
    return table[name]


def _unknown(given: str, known: Iterable[str], refusal: str, instrument: str) -> InputError:
    return InputError(_(refusal).format(given=given, instrument=_(instrument), known=", ".join(known)))
