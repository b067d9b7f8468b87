"""Vibrato, swings of level and drift of pitch, against curves that were built into the sawtooth.

The truth is the curve itself (*Euphonics* 9.4.2 for the wave); body, room and microphone come after it.
"""

from __future__ import annotations

import numpy as np
import pytest

from colophony.listening.take import Stroke
from colophony.units import hz_to_cents
from hearing import RATE, heard, longest, phone_of
from signals import clean_start, fade, helmholtz

#: Pitch, rate and extent to either side, as players use them (common practice, no source).
VIBRATOS = ((196.0, 5.5, 20.0), (293.66, 6.0, 30.0), (440.0, 6.5, 15.0), (880.0, 5.5, 40.0))
LOW = (98.0, 5.0, 12.0)


def vibrating(hz: float, rate_hz: float, cents: float, seed: int, room_s: float) -> Stroke:
    force = helmholtz(hz, 2.0, rate=RATE, vibrato_hz=rate_hz, vibrato_cents=cents, seed=seed)
    kind = "cello" if hz < 190 else "violin"
    return longest(heard(fade(force, rate=RATE), seed, kind=kind, room_s=room_s, phone=phone_of(seed)))


@pytest.mark.parametrize("seed", [81_000, 81_001])
@pytest.mark.parametrize(("hz", "rate_hz", "cents"), [LOW, *VIBRATOS])
def test_vibrato_is_measured_and_does_not_move_the_centre(
    hz: float, rate_hz: float, cents: float, seed: int
) -> None:
    """The sine that was built in, close by: rate within 0.2 Hz, extent 15 % (G2: 25 %), centre 3 cents."""
    stroke = vibrating(hz, rate_hz, cents, seed, room_s=0.0)
    assert stroke.frequency_hz is not None
    assert abs(hz_to_cents(stroke.frequency_hz, hz)) < 3.0
    assert stroke.steadiness.vibrato_hz == pytest.approx(rate_hz, abs=0.2)
    assert stroke.steadiness.vibrato_cents == pytest.approx(cents, rel=0.25 if hz < 130 else 0.15)


@pytest.mark.parametrize("room_s", [0.2, 0.8])
@pytest.mark.parametrize(("hz", "rate_hz", "cents"), VIBRATOS)
def test_a_room_hides_some_of_a_vibrato_and_never_adds_to_it(
    hz: float, rate_hz: float, cents: float, room_s: float
) -> None:
    """Reverberation averages over the swing that is past (M. R. Schroeder, JASA 37, 1965, the decay)."""
    steady = vibrating(hz, rate_hz, cents, 81_002, room_s=room_s).steadiness
    assert steady.vibrato_hz == pytest.approx(rate_hz, abs=0.2)
    assert steady.vibrato_cents is not None
    assert steady.vibrato_cents < 1.05 * cents


@pytest.mark.parametrize("seed", [82_000, 82_001, 82_002])
def test_a_still_finger_has_no_vibrato_and_no_swing(seed: int) -> None:
    """A level and a pitch that were built constant, but for the jitter of 0.1 % a period."""
    steady = longest(heard(clean_start(220.0, 2.0, rate=RATE, seed=seed), seed, kind="cello")).steadiness
    assert steady.vibrato_hz is None
    assert steady.vibrato_cents is None
    assert steady.level_swing_db is not None
    assert steady.level_swing_db < 1.5
    assert steady.pitch_swing_cents is not None
    assert steady.pitch_swing_cents < 3.0


def swelling(gain_db: float) -> float | None:
    speed = 0.1 * 10 ** (np.linspace(-gain_db / 2, gain_db / 2, 200) / 20)
    force = fade(helmholtz(293.66, 2.5, rate=RATE, speed=speed, seed=5), rate=RATE)
    return longest(heard(force, 83_000, kind="violin", room_s=0.3, snr_db=50)).steadiness.level_swing_db


@pytest.mark.parametrize("gain_db", [-6.0, 6.0, 12.0, 20.0])
def test_a_crescendo_or_a_slight_diminuendo_swings_the_level_by_its_span(gain_db: float) -> None:
    """Level in dB moves evenly over the span; between its 5th and 95th hundredth lie nine tenths of it.

    The settled part is somewhat shorter than the stroke: between 0.7 and 0.95 of the span.
    """
    swing = swelling(gain_db)
    assert swing is not None
    assert 0.7 * abs(gain_db) < swing < 0.95 * abs(gain_db) + 0.5


@pytest.mark.parametrize("gain_db", [-12.0, -20.0])
def test_the_swing_of_a_long_diminuendo_is_not_exaggerated(gain_db: float) -> None:
    """By its level a diminuendo to nothing is like a string that rings on: its end is left out."""
    swing = swelling(gain_db)
    assert swing is not None
    assert 0.2 * abs(gain_db) < swing < 0.95 * abs(gain_db) + 0.5


@pytest.mark.parametrize("cents", [10.0, 25.0, 50.0])
@pytest.mark.parametrize("vibrato_cents", [0.0, 15.0])
def test_a_drift_of_pitch_is_told_apart_from_vibrato(cents: float, vibrato_cents: float) -> None:
    """The pitch slides evenly; vibrato on top must not add to the swing. 0.7 to 0.95 of it, as above."""
    slide = 440.0 * 2 ** (np.linspace(-cents / 2, cents / 2, 300) / 1200)
    force = helmholtz(slide, 2.5, rate=RATE, vibrato_cents=vibrato_cents, seed=6)
    swing = longest(
        heard(fade(force, rate=RATE), 84_000, kind="violin", room_s=0.3, snr_db=45)
    ).steadiness.pitch_swing_cents
    assert swing is not None
    assert 0.7 * cents < swing < 0.95 * cents + 2.0


def test_what_a_short_note_cannot_tell_is_none() -> None:
    """Less than half a second holds no two cycles of vibrato at 4 Hz (arithmetic)."""
    stroke = longest(heard(clean_start(440.0, 0.4, rate=RATE), 85_000, kind="violin", room_s=0.0))
    assert stroke.steadiness.vibrato_hz is None
    assert stroke.steadiness.level_swing_db is None
    assert stroke.steadiness.pitch_swing_cents is None
