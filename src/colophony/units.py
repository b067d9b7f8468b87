"""Names of notes, equal temperament, decibels: the only units that are not SI.

Imports `errors` and `language` alone.
Scientific pitch notation: C4 is middle C, the violin's open strings are G3 D4 A4 E5.
"""

from __future__ import annotations

import math
import re

from colophony.errors import InputError
from colophony.language import _

#: Standard tuning frequency of A4 in Hz. ISO 16:1975, Acoustics — Standard tuning frequency.
ISO_16_A4_HZ = 440.0
A4_MIDI = 69
_SHARPS = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_STEP = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_NOTE = re.compile(r"([A-Ga-g])([#♯b♭]?)(-?\d)")


def note_to_midi(name: str) -> int:
    """Return the MIDI number of a note name such as ``"F#4"``, ``"Bb3"`` or ``"c4"`` (A4 = 69).

    Raises `InputError` when the name is no note.
    """
    match = _NOTE.fullmatch(name.strip())
    if match is None:
        raise InputError(
            _("{name!r} is no note name: write a letter, # or b, and an octave, such as F#4").format(
                name=name
            )
        )
    letter, accidental, octave = match.groups()
    shift = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}[accidental]
    return _STEP[letter.upper()] + shift + 12 * (int(octave) + 1)


def midi_to_note(midi: int) -> str:
    """Return the name of a MIDI number, black keys as sharps: ``61`` is ``"C#4"``."""
    return f"{_SHARPS[midi % 12]}{midi // 12 - 1}"


def midi_to_hz(midi: float, a4_hz: float = ISO_16_A4_HZ) -> float:
    """Return the equal-tempered frequency in Hz of a (fractional) MIDI number."""
    return float(a4_hz * 2.0 ** ((midi - A4_MIDI) / 12.0))


def hz_to_midi(frequency_hz: float, a4_hz: float = ISO_16_A4_HZ) -> float:
    """Return the fractional MIDI number of a frequency in Hz, above zero."""
    return A4_MIDI + 12.0 * math.log2(frequency_hz / a4_hz)


def note_to_hz(name: str, a4_hz: float = ISO_16_A4_HZ) -> float:
    """Return the equal-tempered frequency in Hz of a note name."""
    return midi_to_hz(note_to_midi(name), a4_hz)


def hz_to_note(frequency_hz: float, a4_hz: float = ISO_16_A4_HZ) -> tuple[str, float]:
    """Return the nearest note's name and the distance from it in cents, from -50 to 50."""
    midi = hz_to_midi(frequency_hz, a4_hz)
    nearest = round(midi)
    return midi_to_note(nearest), 100.0 * (midi - nearest)


def hz_to_cents(frequency_hz: float, reference_hz: float) -> float:
    """Return the interval from a reference frequency in cents (1200 an octave)."""
    return 1200.0 * math.log2(frequency_hz / reference_hz)
