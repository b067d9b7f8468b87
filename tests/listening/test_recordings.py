"""Listening against real bowed notes (tests/recordings: CC BY 3.0, tonejs-instruments).

The truth of pitch is what pYIN (librosa) and Harvest (pyworld) measured, kept in references.csv; two
excerpts are measured again here. The truth of tone: these are published instrument samples of good solo
tone, so a fault or an advice is a false alarm. `tools/check_recordings.py` asks the same of whole packages.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soundfile

from colophony.listening.listen import listen
from colophony.listening.take import Take
from independent import centre_hz, harvest_track, pyin_track, sustained
from recording_checks import (
    CHANGE_IN_ROOM_S,
    CHANGE_S,
    PITCH_CENTS,
    Pitches,
    accused,
    advised,
    long_strokes,
    unclean,
    wrong_changes,
    wrong_notes,
)
from signals import add_noise, normalise, room
from signals.phone import degrade

FOLDER = Path(__file__).resolve().parent.parent / "recordings"
with (FOLDER / "references.csv").open() as _table:
    REFERENCES = {row["file"]: row for row in csv.DictReader(_table)}
FILES = sorted(REFERENCES)


@cache
def heard(file: str) -> Take:
    return listen(FOLDER / file, instrument=REFERENCES[file]["instrument"])  # type: ignore[arg-type]


def changes_s(file: str) -> list[float]:
    return [float(at) for at in REFERENCES[file]["changes_s"].split()]


@pytest.mark.parametrize("file", FILES)
def test_the_note_played_is_the_note_heard(file: str) -> None:
    """The package names each file by its note; C2 is the cello's open fourth string."""
    assert wrong_notes(heard(file), REFERENCES[file]["note"]) == []


@pytest.mark.parametrize("file", FILES)
def test_pitch_is_within_five_cents_of_two_independent_trackers(file: str) -> None:
    """Centre of all long strokes against pYIN and Harvest over the same excerpt (vibrato up to 19 cents)."""
    row = REFERENCES[file]
    strokes = long_strokes(heard(file))
    lengths = np.array([s.end_s - s.start_s for s in strokes])
    centre = float(np.exp(np.average(np.log([s.frequency_hz for s in strokes]), weights=lengths)))
    assert abs(Pitches((float(row["pyin_hz"]), float(row["harvest_hz"]))).off_cents(centre)) < PITCH_CENTS


@pytest.mark.parametrize("file", ["cello-a4.flac", "cello-d3.flac"])
def test_the_written_pitches_are_what_the_trackers_say_today(file: str) -> None:
    """references.csv against pYIN and Harvest run anew, one cent: the file was not made up."""
    signal, rate = soundfile.read(FOLDER / file)
    first_s, last_s = sustained(signal, rate)
    harvest = centre_hz(harvest_track(signal, rate), start_s=first_s, end_s=last_s)
    pyin = centre_hz(pyin_track(signal, rate, near_hz=harvest), start_s=first_s, end_s=last_s)
    row = REFERENCES[file]
    assert abs(1200 * np.log2(harvest / float(row["harvest_hz"]))) < 1.0
    assert abs(1200 * np.log2(pyin / float(row["pyin_hz"]))) < 1.0


@pytest.mark.parametrize("file", FILES)
def test_every_change_of_bow_is_heard_and_none_besides(file: str) -> None:
    """Changes within 60 ms of the level's dip where the harmonics turn over; one-bow excerpts have none."""
    assert wrong_changes(heard(file), changes_s(file)) == []


@pytest.mark.parametrize("file", FILES)
def test_good_tone_is_heard_as_clean_for_99_percent_of_its_time(file: str) -> None:
    signal, rate = soundfile.read(FOLDER / file)
    assert unclean(heard(file), *sustained(signal, rate), changes_s(file)) == []


@pytest.mark.parametrize("file", FILES)
def test_good_tone_earns_no_advice(file: str) -> None:
    assert advised(heard(file)) == []


DEGRADED = {
    "aac": lambda x, rate: degrade(x, rate, "aac-64k"),
    "opus": lambda x, rate: degrade(x, rate, "opus-24k"),
    "16khz": lambda x, rate: degrade(x, rate, "16khz"),
    "room": lambda x, rate: (normalise(room(x, rate=rate, seconds=1.0, direct_db=3, seed=5)), rate),
    "noise": lambda x, rate: (normalise(add_noise(x, rate=rate, snr_db=20, kind="pink", seed=6)), rate),
}


@pytest.mark.parametrize("condition", DEGRADED)
@pytest.mark.parametrize("file", ["violin-g3.flac", "violin-e5.flac", "cello-c2.flac"])
def test_a_phone_a_room_or_noise_never_makes_good_tone_bad(file: str, condition: str, tmp_path: Path) -> None:
    """AAC 64 kb/s, Opus 24 kb/s, 16 kHz, 1 s of reverberation, 20 dB of noise: unsure yes, wrong no."""
    signal, rate = soundfile.read(FOLDER / file)
    sound, new_rate = DEGRADED[condition](signal, rate)
    soundfile.write(tmp_path / "take.wav", np.clip(sound, -1, 1), new_rate)
    take = listen(tmp_path / "take.wav", instrument=REFERENCES[file]["instrument"])  # type: ignore[arg-type]
    misses = wrong_notes(take, REFERENCES[file]["note"])
    within = CHANGE_IN_ROOM_S if condition == "room" else CHANGE_S
    misses += wrong_changes(take, changes_s(file), all_of_them=False, within_s=within)
    misses += accused(take, *sustained(signal, rate)) + advised(take)
    assert misses == []
