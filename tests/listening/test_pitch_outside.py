"""Pitch and names of notes against the standard and against programs that this project did not write.

ISO 16:1975, *Acoustics - Standard tuning frequency*: A4 = 440 Hz. Equal temperament: twelve equal ratios an
octave; the two-decimal frequencies below are from memory and are checked against librosa as well.
"""

from __future__ import annotations

from pathlib import Path

import librosa
import numpy as np
import pytest
import soundfile

from colophony.listening.listen import listen
from colophony.listening.take import Stroke, ToneState
from colophony.units import hz_to_cents, hz_to_note, midi_to_note, note_to_hz, note_to_midi
from independent import centre_hz, harvest_track, pyin_track
from signals import clean_start, join, recorded, silence

RATE = 44_100
#: Every open string of violin, viola and cello, and the violin's compass above them.
TEMPERED_HZ = {
    "C2": 65.41, "G2": 98.00, "C3": 130.81, "D3": 146.83, "G3": 196.00, "A3": 220.00, "D4": 293.66,
    "A4": 440.00, "E5": 659.26, "A5": 880.00, "E6": 1318.51, "A6": 1760.00, "E7": 2637.02,
}  # fmt: skip


@pytest.mark.parametrize(("note", "hz"), TEMPERED_HZ.items())
def test_names_and_frequencies_follow_equal_temperament_at_iso_16(note: str, hz: float) -> None:
    """The known values, to half a unit of their last digit; and librosa's conversion, exactly."""
    assert note_to_hz(note) == pytest.approx(hz, abs=0.0051)
    assert note_to_hz(note) == pytest.approx(float(librosa.note_to_hz(note)), rel=1e-12)
    assert hz_to_note(hz)[0] == note


def test_all_names_agree_with_librosa_over_the_whole_compass() -> None:
    """C2 to E7, both ways, in sharps."""
    for midi in range(36, 101):
        assert note_to_midi(str(librosa.midi_to_note(midi, unicode=False))) == midi
        assert midi_to_note(midi) == str(librosa.midi_to_note(midi, unicode=False))


def played(
    folder: Path,
    frequencies_hz: list[float],
    *,
    vibrato_cents: float = 0.0,
    kind: str = "violin",
    seed: int = 2,
) -> list[Stroke]:
    """Return the strokes of computed bowed notes of 1.2 s, separate bows, through a body and a room."""
    parts = [silence(0.4, rate=RATE)]
    for i, hz in enumerate(frequencies_hz):
        tone = clean_start(hz, 1.2, rate=RATE, vibrato_cents=vibrato_cents, seed=i)
        tone[-2000:] *= np.linspace(1, 0, 2000)
        parts += [tone / np.abs(tone).max(), silence(0.4, rate=RATE)]
    path = folder / "take.wav"
    soundfile.write(
        path, recorded(join(parts, rate=RATE).signal, rate=RATE, kind=kind, room_s=0.3, seed=seed), RATE
    )  # type: ignore[arg-type]
    return [s for s in listen(path, a4_hz=440.0).strokes if s.end_s - s.start_s > 0.4]


@pytest.mark.parametrize(
    ("kind", "names"),
    [
        ("cello", ["C2", "G2", "D3", "A3", "E4"]),
        ("viola", ["C3", "G3", "D4", "A4", "F#5"]),
        ("violin", ["G3", "D4", "A4", "E5", "B5"]),
        ("violin", ["E6", "A6", "C7", "E7"]),
    ],
)
def test_tempered_notes_are_heard_by_name_within_five_cents(
    kind: str, names: list[str], tmp_path: Path
) -> None:
    """Computed sawtooths (Euphonics 9.4.2) at tempered frequencies, C2 to E7: name and cents right."""
    strokes = played(tmp_path, [note_to_hz(n) for n in names], kind=kind)
    assert [s.note for s in strokes] == names
    assert max(abs(s.cents) for s in strokes if s.cents is not None) < 5.0


@pytest.mark.parametrize("cents", [-40.0, -20.0, 20.0, 40.0])
def test_a_note_out_of_tune_keeps_its_name_and_shows_its_cents(cents: float, tmp_path: Path) -> None:
    """The cent is 1/1200 octave by definition (A. J. Ellis, 1885)."""
    strokes = played(tmp_path, [n * 2 ** (cents / 1200) for n in (220.0, 440.0, 659.2551)])
    assert [s.note for s in strokes] == ["A3", "A4", "E5"]
    assert [s.cents for s in strokes] == pytest.approx([cents] * 3, abs=5.0)


@pytest.mark.parametrize("hz", [98.0, 293.66, 587.33, 880.0])
def test_vibrato_is_centred_where_two_independent_trackers_centre_it(hz: float, tmp_path: Path) -> None:
    """20 cents either side at 5.5 Hz: pYIN and Harvest on the same stroke, 5 cents."""
    # A body that does not drown the fundamental: Harvest loses the pitch of others altogether.
    (stroke,) = played(tmp_path, [hz], vibrato_cents=20.0, kind="cello" if hz < 150 else "violin", seed=0)
    signal, _ = soundfile.read(tmp_path / "take.wav")
    inside = {"start_s": 0.55, "end_s": 1.5}  # the tone without its ends: five whole cycles
    assert stroke.frequency_hz is not None
    for track in (pyin_track(signal, RATE, near_hz=hz), harvest_track(signal, RATE)):
        assert abs(hz_to_cents(stroke.frequency_hz, centre_hz(track, **inside))) < 5.0


def test_these_tones_are_steady(tmp_path: Path) -> None:
    """A sawtooth with one flyback a period is Helmholtz motion: never a fault."""
    strokes = played(tmp_path, [196.0, 293.66, 440.0, 659.26])
    assert {s.state for s in strokes} <= {ToneState.STEADY, ToneState.HELMHOLTZ}
