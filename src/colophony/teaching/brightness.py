"""How the brightness of an open string answers to speed, place and weight, and how far that errs.

Brightness is the mean level of the harmonics above the fifth against the power of the lowest four, dB. The
table is computed by ``tools/make_brightness.py`` with the program's own string. It has the signs that were
measured: weight brightens by far the most, a faster bow dulls a little, the place does little by itself
(E. Schoonderwaldt, Acta Acust. u. Acust. 95, 901-914, 2009). On the highest strings the corner stays sharper
than the harmonics below 10 kHz can show: there brightness says nothing of weight.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from colophony.listening.take import Instrument


@dataclass(frozen=True, slots=True)
class Brightness:
    """Change in dB for an octave of each variable; ``error_db`` is what a stroke strays from that (rms)."""

    of_speed: float
    of_distance: float
    of_weight: float
    error_db: float


#: By instrument and string. A small instrument's strings answer like the full-size one's, within the error.
TABLE: Mapping[tuple[Instrument, str], Brightness] = MappingProxyType(
    {
        ("violin", "G"): Brightness(-1.9, -0.3, 3.1, 0.9),
        ("violin", "D"): Brightness(-1.9, 1.6, 3.5, 0.7),
        ("violin", "A"): Brightness(-1.4, 0.3, 2.9, 0.8),
        ("violin", "E"): Brightness(0.5, -2.2, -0.1, 1.0),
        ("viola", "C"): Brightness(-2.7, 0.4, 3.5, 1.0),
        ("viola", "G"): Brightness(-2.5, 1.5, 3.4, 1.5),
        ("viola", "D"): Brightness(-1.0, 1.4, 2.7, 0.8),
        ("viola", "A"): Brightness(-1.0, 0.1, 2.1, 1.2),
        ("cello", "C"): Brightness(-2.6, 0.9, 3.0, 0.5),
        ("cello", "G"): Brightness(-1.7, 1.5, 2.1, 1.1),
        ("cello", "D"): Brightness(-2.8, 1.8, 3.6, 1.3),
        ("cello", "A"): Brightness(-1.2, 2.4, 1.8, 1.0),
    }
)
