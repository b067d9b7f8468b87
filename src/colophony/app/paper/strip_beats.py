"""What a strip on the bow's stick shows: where the bow is at each beat, from the frog to the tip and back."""

from __future__ import annotations

from dataclasses import dataclass

from colophony.errors import InputError
from colophony.language import _
from colophony.physics.bows import find_bow

USUAL_BEATS, USUAL_TEMPO = 4, 60.0
_BEATS = (1, 16)
_TEMPOS = (20.0, 240.0)


@dataclass(frozen=True, slots=True)
class BeatStrip:
    """An even bow over all of the hair, one bow in ``beats`` beats at ``tempo`` beats a minute."""

    instrument: str
    size: str
    hair_mm: float
    beats: int
    tempo: float

    @property
    def seconds(self) -> float:
        """How long one bow lasts, s."""
        return 60.0 * self.beats / self.tempo

    @property
    def speed_cm_s(self) -> float:
        """How fast the bow moves, cm/s."""
        return 0.1 * self.hair_mm / self.seconds

    @property
    def marks_mm(self) -> tuple[float, ...]:
        """Distances from the frog at which a beat begins or the bow ends: one more than there are beats."""
        return tuple(self.hair_mm * beat / self.beats for beat in range(self.beats + 1))


def find_beats(
    instrument: str, size: str = "4/4", *, beats: int = USUAL_BEATS, tempo: float = USUAL_TEMPO
) -> BeatStrip:
    """Return the strip of an instrument's bow.

    Parameters
    ----------
    beats : that one bow lasts, 1 to 16
    tempo : beats a minute, 20 to 240

    Raises `InputError` for a value out of range or an unknown name.
    """
    if not _BEATS[0] <= beats <= _BEATS[1]:
        raise InputError(
            _("{beats} beats a bow are out of range: choose {least} to {most}").format(
                beats=beats, least=_BEATS[0], most=_BEATS[1]
            )
        )
    if not _TEMPOS[0] <= tempo <= _TEMPOS[1]:
        raise InputError(
            _("a tempo of {tempo:g} is out of range: choose {least:g} to {most:g} beats a minute").format(
                tempo=tempo, least=_TEMPOS[0], most=_TEMPOS[1]
            )
        )
    return BeatStrip(instrument, size, 1000.0 * find_bow(instrument, size).hair_length_m, beats, tempo)
