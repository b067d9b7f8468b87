"""Comparison with a player's own accepted tone: one string, one body, one room.

Two slips a period weaken the fundamental and raise the energy near twice it (E. Schoonderwaldt, *JASA* 126,
2709-2720, 2009; R. Bader & R. Mores, arXiv:1804.05695). Brighter and duller are tilts that were built in.
"""

from __future__ import annotations

import numpy as np
import pytest

from colophony.listening.colour import Reference, make_reference
from colophony.listening.take import Stroke, ToneState
from hearing import RATE, heard, longest
from signals import fade, helmholtz, multiple_slip
from signals.strings import Signal

CASES = [
    (98.0, "cello", 88_000),
    (196.0, "violin", 88_001),
    (293.66, "viola", 88_002),
    (440.0, "violin", 88_003),
]


def tilted(force: Signal, hz: float, db: float) -> Signal:
    """Raise the harmonics above the fourth by ``db`` against the lowest four, softly between."""
    frequencies = np.fft.rfftfreq(len(force), 1 / RATE) / hz
    gain_db = db * np.interp(frequencies, [4.25, 4.75], [0.0, 1.0])
    return np.fft.irfft(np.fft.rfft(force) * 10 ** (gain_db / 20), len(force))


def tone(hz: float, seed: int, db: float = 0.0) -> Signal:
    return fade(tilted(helmholtz(hz, 1.5, rate=RATE, seed=seed), hz, db), rate=RATE)


def stroke(force: Signal, case: tuple[float, str, int], reference: Reference | None = None) -> Stroke:
    _, kind, seed = case
    return longest(heard(force, seed, kind=kind, room_s=0.3, snr_db=45, reference=reference))


def accepted(case: tuple[float, str, int]) -> Reference:
    return make_reference([stroke(tone(case[0], seed), case) for seed in (1, 2)])


@pytest.mark.parametrize("case", CASES)
def test_the_accepted_tone_again_is_one_slip_a_period_and_neither_brighter_nor_duller(
    case: tuple[float, str, int],
) -> None:
    """The same sawtooth with other jitter: nothing differs."""
    again = stroke(tone(case[0], 3), case, accepted(case))
    assert again.state is ToneState.HELMHOLTZ
    assert again.brightness.against_reference_db == pytest.approx(0.0, abs=1.0)
    assert "against_reference" not in [e.kind for e in again.evidence]


@pytest.mark.parametrize("db", [-8.0, 8.0])
@pytest.mark.parametrize("case", CASES)
def test_a_brighter_or_duller_tone_is_said_to_be_so(case: tuple[float, str, int], db: float) -> None:
    """A tilt of 8 dB about the fourth harmonic: the right sign, within 2 dB, and worth saying."""
    other = stroke(tone(case[0], 3, db), case, accepted(case))
    assert other.brightness.against_reference_db == pytest.approx(db, abs=2.0)
    assert "against_reference" in [e.kind for e in other.evidence]


@pytest.mark.parametrize("case", CASES)
def test_another_note_is_not_compared(case: tuple[float, str, int]) -> None:
    """A whole tone away body and room colour other harmonics: nothing can be said."""
    other = stroke(tone(case[0] * 2 ** (2 / 12), 3), case, accepted(case))
    assert other.brightness.against_reference_db is None
    assert other.state is ToneState.STEADY


@pytest.mark.parametrize("drift_hz", [0.0, 0.4])
@pytest.mark.parametrize("slips", [2, 3])
@pytest.mark.parametrize("case", CASES)
def test_several_slips_are_never_taken_for_the_accepted_tone(
    case: tuple[float, str, int], slips: int, drift_hz: float
) -> None:
    """Schoonderwaldt (2009): weak fundamental, energy near 2 f0 (or 3 f0); steady or multiple-slip."""
    force = multiple_slip(case[0], 1.5, rate=RATE, slips=slips, drift_hz=drift_hz, seed=4)
    many = stroke(fade(force, rate=RATE), case, accepted(case))
    assert many.state in (ToneState.STEADY, ToneState.MULTIPLE_SLIP)


def test_the_tilt_of_the_test_is_what_it_says() -> None:
    """Eight decibels between harmonics 1 and 8, by Fourier transform."""
    plain, bright = (
        np.abs(np.fft.rfft(tilted(helmholtz(100.0, 1.0, rate=RATE, jitter=0.0), 100.0, db)))
        for db in (0.0, 8.0)
    )
    gained = 20 * np.log10(bright[[100, 800]] / plain[[100, 800]])
    assert gained == pytest.approx([0.0, 8.0], abs=0.1)
