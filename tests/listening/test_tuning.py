"""The take's own A4, against scales whose tuning was built in.

ISO 16:1975: A4 = 440 Hz; other pitches in use, 415 to 448 Hz: common practice, no source. Equal temperament.
"""

from __future__ import annotations

import numpy as np
import pytest

from colophony.listening.take import Take
from colophony.units import note_to_hz
from hearing import LEAD_S, RATE, heard
from signals import scale

SCALE = ("G3", "A3", "B3", "C4", "D4", "E4", "F#4", "G4")
A4_WITHIN_HZ = 2.0


def played(
    names: tuple[str, ...],
    tuning_hz: float,
    seed: int,
    off_cents: dict[int, float] | None = None,
    **how: object,
) -> Take:
    """Hear a slurred scale; ``off_cents`` puts notes, by their place, out of tune."""
    off = off_cents or {}
    pitches = [note_to_hz(name, tuning_hz) * 2 ** (off.get(i, 0.0) / 1200) for i, name in enumerate(names)]
    force = scale(pitches, rate=RATE, note_s=0.5, seed=seed).signal
    return heard(force, seed, kind="violin", room_s=0.2, snr_db=40, **how)


@pytest.mark.parametrize("a4_hz", [432.0, 436.0, 440.0, 442.0, 448.0])
@pytest.mark.parametrize("spread_cents", [0.0, 6.0])
def test_the_tuning_of_a_scale_is_found(a4_hz: float, spread_cents: float) -> None:
    """Within 2 Hz (8 cents), also when each finger is a little off."""
    rng = np.random.default_rng(int(a4_hz))
    off = {i: float(rng.normal(0, spread_cents)) for i in range(len(SCALE))}
    take = played(SCALE, a4_hz, 86_000, off)
    assert take.a4_hz == pytest.approx(a4_hz, abs=A4_WITHIN_HZ)
    assert [s.note for s in take.strokes if s.end_s - s.start_s > 0.2] == list(SCALE)


def test_a_baroque_pitch_that_is_given_names_the_notes_and_their_cents() -> None:
    """A4 = 415 Hz is a semitone (101 cents) below 440 Hz: unsaid, every name would be a semitone low."""
    take = played(SCALE, 415.0, 86_001, a4_hz=415.0)
    long = [s for s in take.strokes if s.end_s - s.start_s > 0.2]
    assert take.a4_hz == 415.0
    assert [s.note for s in long] == list(SCALE)
    assert all(abs(s.cents) < 6.0 for s in long if s.cents is not None)


@pytest.mark.parametrize("place", [1, 4, 5])
def test_one_note_out_of_tune_does_not_move_the_tuning_and_is_told(place: int) -> None:
    """35 cents sharp on one of eight: the take's A4 stays within 2 Hz, the note's cents tell, within 8."""
    take = played(SCALE, 440.0, 86_002, {place: 35.0})
    assert take.a4_hz == pytest.approx(440.0, abs=A4_WITHIN_HZ)
    at_s = LEAD_S + 0.5 * place + 0.25
    [stroke] = [s for s in take.strokes if s.start_s < at_s < s.end_s]
    assert stroke.note == SCALE[place]
    assert stroke.cents == pytest.approx(35.0, abs=8.0)


@pytest.mark.parametrize("names", [SCALE[:5], ("A3", "B3", "A3", "B3", "A3", "B3", "A3")])
def test_few_notes_are_not_asked_for_a_tuning(names: tuple[str, ...]) -> None:
    """Fewer than six strokes, or two pitches only, may all be out of tune alike: ISO 16 serves."""
    assert played(names, 446.0, 86_003).a4_hz == 440.0


def test_notes_that_disagree_leave_the_standard_tuning() -> None:
    """Deviations spread over the whole semitone agree on nothing."""
    off = {i: (0.0, 45.0, -30.0, 15.0, -45.0, 30.0, -15.0, 40.0)[i] for i in range(8)}
    assert played(SCALE, 440.0, 86_004, off).a4_hz == 440.0
