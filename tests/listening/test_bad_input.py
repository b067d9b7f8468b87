"""What is no recording of a bowed string, end to end: one clear line, or a take that claims nothing.

Truths: the signals are made here and are what their names say. Speech is espeak-ng's where it is
installed, and in any case a chain of voiced syllables by the source-filter model (G. Fant 1960,
Acoustic Theory of Speech Production). The piano-like tone has the stiff string's partials
f_n = n f_1 sqrt(1 + B n^2) (H. Fletcher, E. D. Blackham and R. Stratton 1962, J. Acoust. Soc. Am. 34,
749-761), three unisons a note, and a sudden start.
"""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray
from scipy.signal import lfilter, resample_poly

import sound_files
from colophony.errors import InputError, TakeError
from colophony.listening.listen import listen
from colophony.listening.take import Stroke, Take, ToneState

RATE = 44_100
RECORDINGS = Path(__file__).resolve().parent.parent / "recordings"
Signal = NDArray[np.float64]

#: States that say nothing of a bow: no advice can follow from them.
SILENT = {ToneState.UNSURE, ToneState.NOISE}
#: States that blame the player.
FAULTS = {ToneState.RAUCOUS, ToneState.MULTIPLE_SLIP, ToneState.LOW_ANOMALOUS}


def heard(folder: Path, sound: Signal, *, rate_hz: int = RATE, kind: str = "wav-s24") -> Take:
    take = listen(sound_files.write(folder, kind, sound, rate_hz=rate_hz))
    for stroke in take.strokes:
        assert 0 <= stroke.start_s <= stroke.end_s <= take.duration_s + 0.02
        assert 0 <= stroke.confidence <= 1
    return take


def warned(take: Take) -> set[str]:
    return {w.kind for w in take.warnings}


def share_in(take: Take, states: set[ToneState]) -> float:
    """Share of the take's duration that strokes of these states cover."""
    return sum(s.end_s - s.start_s for s in take.strokes if s.state in states) / take.duration_s


def violin(seconds: float = 8.0) -> Signal:
    """Four bows of a real G3 (tests/recordings)."""
    sound, rate_hz = soundfile.read(RECORDINGS / "violin-g3.flac")
    assert rate_hz == RATE
    return np.asarray(sound[: round(seconds * RATE)])


def same_music(take: Take, seconds: float = 8.0) -> None:
    """The first bows of `violin`, as the undamaged take shows them: G3, changes at 3.68 and 7.33 s."""
    notes = [s for s in take.strokes if s.end_s - s.start_s > 0.5]
    assert {s.note for s in notes} == {"G3"}
    starts = [s.start_s for s in notes]
    for change in (c for c in (3.68, 7.33) if c < seconds - 0.5):
        assert min(abs(s - change) for s in starts) < 0.06
    assert share_in(take, FAULTS) == 0


# One clear line


def refusal(path: Path) -> str:
    with pytest.raises(TakeError) as caught:
        listen(path)
    assert str(caught.value).startswith(path.name)
    assert str(caught.value).isprintable()
    return str(caught.value)


def test_an_empty_file_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "lesson.wav"
    path.touch()
    assert "empty" in refusal(path)


def test_text_renamed_to_wav_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "lesson.wav"
    path.write_text("Long bows on open strings.\n" * 100, encoding="utf-8")
    assert "not a sound file" in refusal(path)


def test_a_video_without_sound_is_refused(tmp_path: Path) -> None:
    assert "without sound" in refusal(sound_files.video_without_sound(tmp_path / "lesson.mp4"))


# Damage keeps what can be kept


def test_a_truncated_take_is_heard_up_to_the_damage_and_says_so(tmp_path: Path) -> None:
    path = sound_files.write(tmp_path, "wav", violin(), rate_hz=RATE)
    data = path.read_bytes()
    path.write_bytes(data[: round(0.7 * len(data))])
    take = listen(path)
    assert "truncated" in warned(take)
    assert take.duration_s == pytest.approx(0.7 * 8, abs=0.05)
    same_music(take, seconds=5.6)


@pytest.mark.parametrize("over_db", [12, 24])
def test_heavy_clipping_is_warned_of_and_not_blamed_on_the_bow(over_db: int, tmp_path: Path) -> None:
    sound = violin()
    driven = np.clip(sound / np.abs(sound).max() * 10 ** (over_db / 20), -1, 1 - 2**-15)
    take = heard(tmp_path, driven, kind="wav")
    assert "clipped" in warned(take)
    same_music(take)


def test_a_constant_offset_changes_nothing(tmp_path: Path) -> None:
    take = heard(tmp_path, 0.5 * violin() + 0.4)
    assert "clipped" not in warned(take)
    same_music(take)


def test_gaps_that_are_no_numbers_change_nothing(tmp_path: Path) -> None:
    sound = violin()
    sound[np.arange(len(sound)) % 50_000 < 20] = np.nan
    same_music(heard(tmp_path, sound, kind="wav-f32"))


def test_a_telephone_rate_is_heard_and_its_limit_told(tmp_path: Path) -> None:
    take = heard(tmp_path, resample_poly(violin(), 80, 441), rate_hz=8000)
    assert "narrow_band" in warned(take)
    same_music(take)


# Nothing to hear


@pytest.mark.parametrize("level", [0.0, 1e-4])
def test_a_minute_of_silence_has_no_tone_and_no_claim(level: float, tmp_path: Path) -> None:
    """Digital zero, and hiss 80 dB below full scale."""
    take = heard(tmp_path, level * np.random.default_rng(1).standard_normal(60 * RATE))
    assert {"no_tone", "quiet"} <= warned(take)
    assert all(s.state in SILENT and s.note is None for s in take.strokes)


def test_digital_silence_holds_no_stroke(tmp_path: Path) -> None:
    assert heard(tmp_path, np.zeros(30 * RATE)).strokes == ()


def test_loud_noise_has_no_tone(tmp_path: Path) -> None:
    take = heard(tmp_path, 0.1 * np.random.default_rng(2).standard_normal(10 * RATE))
    assert "no_tone" in warned(take)
    assert all(s.state in SILENT for s in take.strokes)


@pytest.mark.parametrize("place", [0.0, 0.5, 1.0])
def test_a_click_is_no_stroke(place: float, tmp_path: Path) -> None:
    sound = np.zeros(2 * RATE)
    sound[min(len(sound) - 1, round(place * len(sound)))] = 0.9
    take = heard(tmp_path, sound)
    assert all(s.state in SILENT and s.note is None for s in take.strokes)


def test_a_constant_value_is_no_tone(tmp_path: Path) -> None:
    take = heard(tmp_path, np.full(5 * RATE, 0.3))
    assert "no_tone" in warned(take)
    assert "clipped" not in warned(take)
    assert all(s.state in SILENT for s in take.strokes)


@pytest.mark.parametrize("seconds", [0.001, 0.01, 0.05, 0.1])
def test_a_moment_of_sound_is_enough_or_says_that_it_is_not(seconds: float, tmp_path: Path) -> None:
    t = np.arange(round(seconds * RATE)) / RATE
    take = heard(tmp_path, 0.3 * np.sin(2 * np.pi * 440 * t))
    assert all(s.note == "A4" or s.state in SILENT for s in take.strokes)
    assert share_in(take, FAULTS) == 0
    assert take.strokes or "no_tone" in warned(take)


# Other sounds than a bowed string


@pytest.mark.parametrize("hz", [50.0, 60.0])
def test_mains_hum_is_not_pressed_bowing(hz: float, tmp_path: Path) -> None:
    """Below the cello's lowest string (65.4 Hz), so no string of these instruments."""
    t = np.arange(5 * RATE) / RATE
    take = heard(tmp_path, 0.1 * np.sin(2 * np.pi * hz * t) + 0.03 * np.sin(6 * np.pi * hz * t))
    assert share_in(take, FAULTS) == 0


def test_a_siren_is_not_pressed_bowing(tmp_path: Path) -> None:
    t = np.arange(5 * RATE) / RATE
    take = heard(tmp_path, 0.3 * np.sin(2 * np.pi * (100 * t + 300 * t**2)))
    assert share_in(take, FAULTS) == 0


def test_applause_is_not_pressed_bowing(tmp_path: Path) -> None:
    """Claps of 2 ms at random times, 440 a second."""
    rng = np.random.default_rng(3)
    claps = rng.standard_normal(5 * RATE) * (rng.random(5 * RATE) < 0.01)
    take = heard(tmp_path, 0.1 * np.convolve(claps, np.exp(-np.arange(800) / 100), "same"))
    assert share_in(take, FAULTS) == 0


@pytest.mark.parametrize("first_hz", [98.0, 220.0, 523.25])
def test_a_piano_is_plucked_or_open_never_at_fault(first_hz: float, tmp_path: Path) -> None:
    notes = [piano(first_hz * 2 ** (step / 12), seconds=1.5, seed=step) for step in (0, 4, 7, 12)]
    take = heard(tmp_path, np.concatenate(notes))
    assert share_in(take, FAULTS | {ToneState.HELMHOLTZ}) == 0
    assert not any(s.onset.kind in ("creaking", "slipping") for s in take.strokes)


def test_voiced_syllables_are_not_pressed_bowing(tmp_path: Path) -> None:
    take = heard(tmp_path, syllables(seed=4))
    claims_little(take)


@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")
@pytest.mark.parametrize(
    "voice",
    ["en", "en+f3", "de"],
)
def test_speech_is_not_pressed_bowing(voice: str, tmp_path: Path) -> None:
    path = tmp_path / "speech.wav"
    words = "Please play the second line again, slowly, with the whole bow, to the end of every note."
    subprocess.run(["espeak-ng", "-v", voice, "-w", str(path), words], check=True)
    claims_little(listen(path))


def claims_little(take: Take) -> None:
    """At most a tenth of the time may be called faulty, unless the take says that it is no single string."""
    assert share_in(take, {ToneState.HELMHOLTZ}) == 0
    assert share_in(take, FAULTS) < 0.1 or "not_one_string" in warned(take)


def piano(hz: float, *, seconds: float, seed: int) -> Signal:
    rng = np.random.default_rng(seed)
    t = np.arange(round(seconds * RATE)) / RATE
    wave = np.zeros_like(t)
    for n in range(1, 30):
        partial_hz = n * hz * np.sqrt(1 + 4e-4 * n * n)
        if partial_hz > 15_000:
            break
        for off_hz in (-0.15, 0.1, 0.2):  # three strings, not quite in tune
            angle = 2 * np.pi * (partial_hz + off_hz * np.sqrt(n)) * t + rng.uniform(0, 2 * np.pi)
            wave += np.sin(angle) * np.exp(-t * (1 + 0.35 * n)) / n**1.2
    wave *= 1 - np.exp(-t * 800)
    return 0.5 * wave / np.abs(wave).max()


def syllables(*, seed: int) -> Signal:
    """Fourteen voiced syllables: gliding pulses through three formants, with pauses and hisses between."""
    rng = np.random.default_rng(seed)
    parts: list[Signal] = []
    for number in range(14):
        length = round(rng.uniform(0.12, 0.3) * RATE)
        glide_hz = np.linspace(rng.uniform(90, 150), rng.uniform(90, 150), length)
        wave = np.diff(np.floor(np.cumsum(glide_hz) / RATE), prepend=0)
        for formant_hz, width_hz in ((rng.uniform(300, 800), 80), (rng.uniform(900, 2200), 100), (2500, 150)):
            r, angle = np.exp(-np.pi * width_hz / RATE), 2 * np.pi * formant_hz / RATE
            wave = lfilter([1 - r], [1, -2 * r * np.cos(angle), r * r], wave)
        wave *= np.hanning(length)
        parts += [0.5 * wave / np.abs(wave).max(), np.zeros(round(rng.uniform(0.03, 0.2) * RATE))]
        if number % 3 == 0:
            parts.append(0.05 * rng.standard_normal(round(0.08 * RATE)))
    return np.concatenate(parts)


# Length


def test_a_long_take_keeps_its_times(tmp_path: Path) -> None:
    """Three minutes, silent but for a bow at the start and one at the end (`make bench` hears two hours)."""
    path = tmp_path / "long.flac"
    bow = violin(3.0)
    with soundfile.SoundFile(path, "w", RATE, 1) as file:
        file.write(bow)
        for _ in range(174):
            file.write(np.zeros(RATE))
        file.write(bow)
    take = listen(path)
    assert take.duration_s == pytest.approx(180, abs=0.1)
    played = [s for s in take.strokes if s.note is not None]
    assert [s.note for s in played] == ["G3", "G3"]
    assert_near(played[0], 0.0, 3.0)
    assert_near(played[1], 177.0, 180.0)


def assert_near(stroke: Stroke, start_s: float, end_s: float) -> None:
    assert stroke.start_s == pytest.approx(start_s, abs=0.1)
    assert stroke.end_s == pytest.approx(end_s, abs=0.2)


def test_a_take_beyond_two_hours_is_refused_with_the_limit(tmp_path: Path) -> None:
    path = tmp_path / "night.wav"
    size = 2 * 8000 * 3 * 3600
    sound_files.write(tmp_path, "wav", np.zeros(8), rate_hz=8000).rename(path)
    data = bytearray(path.read_bytes())
    place = data.index(b"data")
    data[place + 4 : place + 8] = size.to_bytes(4, "little")
    path.write_bytes(data[: place + 8])
    with path.open("r+b") as file:
        file.truncate(place + 8 + size)
    assert "the limit is 2 h" in refusal(path)


def test_an_instrument_whose_strings_are_known_but_not_heard_is_refused(tmp_path: Path) -> None:
    """The catalogue of strings holds the double bass; the ear was never tried on one."""
    path = sound_files.write(tmp_path, "wav-s24", violin(1.0), rate_hz=RATE)
    with pytest.raises(InputError, match="'double bass' are not heard: choose one of violin, viola, cello"):
        listen(path, instrument="double bass")  # type: ignore[arg-type]
