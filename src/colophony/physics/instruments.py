"""A whole instrument: its strings, its body and the hair of its bow."""

from __future__ import annotations

from dataclasses import dataclass

from colophony.errors import InputError
from colophony.language import _
from colophony.physics.bodies import Body, find_body
from colophony.physics.bows import Ribbon, find_ribbon
from colophony.physics.strings import NO_STRING, BowedString, InstrumentName, strings_of
from colophony.units import ISO_16_A4_HZ


@dataclass(frozen=True, slots=True)
class Instrument:
    """What is played. Any part can be replaced (`dataclasses.replace`)."""

    name: InstrumentName
    size: str
    strings: tuple[BowedString, ...]  #: from the lowest to the highest
    body: Body
    ribbon: Ribbon

    def string(self, name: str) -> BowedString:
        """Return a string by its letter ("G", "g") or open note ("G3"); `InputError` if none has it."""
        wanted = name.strip().casefold()
        for string in self.strings:
            if wanted in (string.name.casefold(), string.note.casefold()):
                return string
        names = ", ".join(string.name for string in self.strings)
        raise InputError(_(NO_STRING).format(given=name, instrument=_(self.name), known=names))


def find_instrument(
    name: str,
    size: str = "4/4",
    *,
    gauge: str = "medium",
    a4_hz: float = ISO_16_A4_HZ,
    seed: int = 1,
) -> Instrument:
    """Return an instrument of the catalogue.

    Parameters
    ----------
    name : "violin", "viola", "cello" or "double bass"
    size : "4/4", "3/4", ... (`strings.sizes_of`)
    gauge : of its strings, "light", "medium" or "heavy"
    a4_hz : tuning, Hz
    seed : of the body's higher modes: another seed is another instrument of the same kind

    Raises `InputError` naming the choices when one of them is unknown.
    """
    strings = strings_of(name, size, gauge=gauge, a4_hz=a4_hz)
    body = find_body(name, size, seed=seed)
    return Instrument(strings[0].instrument, size, strings, body, find_ribbon(name, size))
