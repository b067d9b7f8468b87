"""Decoding, against the signals that were written, other resamplers and published format facts."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import resample_poly

import sound_files
from colophony.errors import TakeError
from colophony.listening.decode import MAX_TAKE_S, Recording

RATE = 22_050
ONSETS_S = (0.5, 1.25)
SOUND_KINDS = sorted(sound_files.KINDS)


def tone(hz: float, *, seconds: float, rate_hz: int, level: float = 0.5) -> NDArray[np.float64]:
    return level * np.sin(2 * np.pi * hz * np.arange(round(seconds * rate_hz)) / rate_hz)


def plucks(rate_hz: int) -> NDArray[np.float64]:
    """Two seconds with sharp, ringing onsets at the times of `ONSETS_S`."""
    t = np.arange(2 * rate_hz) / rate_hz
    sound = np.zeros_like(t)
    for start in ONSETS_S:
        after = np.maximum(t - start, 0)
        sound += np.where(t >= start, 0.6 * np.sin(2 * np.pi * 2000 * after) * np.exp(-60 * after), 0)
    return sound


def heard(path: Path, *, rate_hz: int = RATE, block_s: float = 10.0) -> NDArray[np.float32]:
    with Recording(path) as recording:
        return np.concatenate(list(recording.blocks(rate_hz=rate_hz, block_s=block_s)))


def level_db(wave: NDArray[np.floating]) -> float:
    return float(10 * np.log10(np.mean(np.square(wave, dtype=np.float64)) + 1e-20))


@pytest.mark.parametrize("kind", SOUND_KINDS)
def test_an_onset_keeps_its_time_in_every_format(kind: str, tmp_path: Path) -> None:
    """Truth: the signal that was written. Encoders' start-up delay must not shift what was played."""
    path = sound_files.write(tmp_path, kind, plucks(44_100), rate_hz=44_100)
    sound = heard(path)
    assert np.isfinite(sound).all()
    assert sound.dtype == np.float32
    assert len(sound) / RATE == pytest.approx(2.0, abs=0.05)  # encoders pad to whole frames
    for start in ONSETS_S:
        begin = round((start - 0.3) * RATE)
        part = np.abs(sound[begin : begin + round(0.5 * RATE)])
        found = (begin + int(np.argmax(part > 0.25 * part.max()))) / RATE
        assert found == pytest.approx(start, abs=0.005)


@pytest.mark.parametrize("kind", SOUND_KINDS)
def test_a_tone_keeps_its_level_and_frequency_in_every_format(kind: str, tmp_path: Path) -> None:
    """Truth: the signal that was written; 0.2 dB and 1 cent are far below what an ear notices."""
    path = sound_files.write(tmp_path, kind, tone(440.0, seconds=2, rate_hz=44_100), rate_hz=44_100)
    middle = heard(path)[RATE // 2 : RATE // 2 + RATE]
    written_db = 20 * np.log10(0.5 / np.sqrt(2))
    if kind == "mp3":
        written_db += 20 * np.log10(0.95)  # this encoder lowers by 5 % as headroom (measured)
    assert level_db(middle) == pytest.approx(written_db, abs=0.2)
    spectrum = np.abs(np.fft.rfft(middle * np.hanning(RATE), 64 * RATE))
    found_hz = np.argmax(spectrum) / 64
    assert abs(1200 * np.log2(found_hz / 440.0)) < 1


@pytest.mark.parametrize("ending", ["wav", "txt", "mp3", ""])
def test_the_content_decides_not_the_name(ending: str, tmp_path: Path) -> None:
    path = sound_files.write(tmp_path, "flac", tone(440.0, seconds=0.5, rate_hz=44_100), rate_hz=44_100)
    renamed = path.rename(tmp_path / (f"take.{ending}" if ending else "take"))
    with Recording(renamed) as recording:
        assert recording.container == "flac"
        assert recording.codec == "flac"
        assert recording.duration_s == pytest.approx(0.5)


@pytest.mark.parametrize("rate_hz", [8_000, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000, 96_000, 192_000])
def test_every_source_rate_gives_the_same_tone(rate_hz: int, tmp_path: Path) -> None:
    path = sound_files.write(tmp_path, "wav-f32", tone(1000.0, seconds=1, rate_hz=rate_hz), rate_hz=rate_hz)
    with Recording(path) as recording:
        assert recording.sample_rate_hz == rate_hz
        sound = np.concatenate(list(recording.blocks(rate_hz=RATE)))
    assert len(sound) == pytest.approx(RATE, abs=2)
    inner = slice(RATE // 10, -RATE // 10)
    expected = tone(1000.0, seconds=1, rate_hz=RATE)
    assert np.max(np.abs(sound[: len(expected)][inner] - expected[: len(sound)][inner])) < 1e-4  # -80 dB


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
def test_resampling_is_flat_below_9_khz_and_removes_what_would_fold_back(
    rate_hz: int, tmp_path: Path
) -> None:
    """Analytic: a tone keeps its level, or vanishes above half the new rate.

    Measured at 44.1, 48 and 96 kHz: within 0.01 dB to 9 kHz, -0.5 dB at 10 kHz, below -58 dB at
    11.3 kHz and below -90 dB from 11.6 kHz on.
    """

    def change_db(hz: float) -> float:
        sound = tone(hz, seconds=1, rate_hz=rate_hz)
        path = sound_files.write(tmp_path, "wav-f32", sound, rate_hz=rate_hz)
        return level_db(heard(path)[RATE // 10 : -RATE // 10]) - level_db(sound)

    for hz in (50.0, 1000.0, 5000.0, 9000.0):
        assert abs(change_db(hz)) < 0.02, hz
    assert change_db(10_000.0) > -0.7
    assert change_db(11_300.0) < -55
    for hz in (11_600.0, 13_000.0, 17_000.0, 20_000.0):
        assert change_db(hz) < -90, hz


@pytest.mark.parametrize("rate_hz", [44_100, 48_000])
def test_resampling_agrees_with_scipy(rate_hz: int, tmp_path: Path) -> None:
    """Reference: `scipy.signal.resample_poly`, on noise limited to 8 kHz, where both are flat."""
    rng = np.random.default_rng(7)
    spectrum = np.fft.rfft(rng.standard_normal(2 * rate_hz))
    spectrum[8000 * 2 :] = 0
    noise = np.fft.irfft(spectrum)
    noise *= 0.5 / np.abs(noise).max()
    ours = heard(sound_files.write(tmp_path, "wav-f64", noise, rate_hz=rate_hz))
    common = int(np.gcd(RATE, rate_hz))
    theirs = resample_poly(noise, RATE // common, rate_hz // common, window=("kaiser", 12.0))
    inner = slice(RATE // 5, -RATE // 5)
    assert len(ours) == pytest.approx(len(theirs), abs=2)
    difference = level_db(ours[: len(theirs)][inner] - theirs[: len(ours)][inner]) - level_db(theirs[inner])
    assert difference < -55  # resample_poly's own passband ripple sets this limit


def test_blocks_are_exact_and_their_size_does_not_change_the_sound(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    noise = 0.3 * rng.standard_normal(round(7.3 * 48_000))
    path = sound_files.write(tmp_path, "wav", noise, rate_hz=48_000)
    whole = heard(path, block_s=60.0)
    with Recording(path) as recording:
        blocks = list(recording.blocks(rate_hz=RATE, block_s=1.0))
        assert [len(b) for b in blocks[:-1]] == [RATE] * 7
        assert 0 < len(blocks[-1]) < RATE
        assert recording.heard_s == pytest.approx(7.3, abs=1e-3)
        again = list(recording.blocks(rate_hz=RATE, block_s=0.37))
    assert np.array_equal(np.concatenate(blocks), whole)
    assert np.array_equal(np.concatenate(again), whole)


@pytest.mark.parametrize("samples", [1, 10, 44, 100])
def test_the_shortest_sound_is_not_swallowed(samples: int, tmp_path: Path) -> None:
    result = heard(sound_files.write(tmp_path, "wav-f32", np.full(samples, 0.5), rate_hz=44_100))
    assert len(result) == (samples + 1) // 2
    assert np.isfinite(result).all()
    assert result[0] > 0.1


def test_not_a_number_becomes_silence(tmp_path: Path) -> None:
    sound = tone(440.0, seconds=1, rate_hz=44_100).astype(np.float32)
    sound[1000:1010], sound[2000], sound[3000] = np.nan, np.inf, -np.inf
    result = heard(sound_files.write(tmp_path, "wav-f32", sound, rate_hz=44_100), rate_hz=44_100)
    assert np.isfinite(result).all()
    assert np.all(result[1000:1010] == 0)
    assert result[2000] == result[3000] == 0


# Channels


def test_two_equal_channels_sound_like_one(tmp_path: Path) -> None:
    one = tone(440.0, seconds=1, rate_hz=RATE)
    result = heard(sound_files.write(tmp_path, "wav-f32", np.stack([one, one]), rate_hz=RATE))
    assert np.allclose(result, one, atol=1e-6)


@pytest.mark.parametrize("kind", ["wav", "m4a-aac"])
def test_opposite_channels_do_not_cancel(kind: str, tmp_path: Path) -> None:
    """The mean of a wave and its opposite is silence; each onset must be heard at its level."""
    one = plucks(44_100) + np.where(
        np.arange(88_200) > 22_050, tone(660.0, seconds=2, rate_hz=44_100, level=0.2), 0
    )
    alone = heard(sound_files.write(tmp_path, kind, one, rate_hz=44_100))
    result = heard(sound_files.write(tmp_path, kind, np.stack([one, -0.9 * one]), rate_hz=44_100))
    for begin in (0.5, 1.25):
        part = slice(round(begin * RATE), round((begin + 0.3) * RATE))
        assert level_db(result[part]) == pytest.approx(level_db(alone[part]), abs=0.5)


def test_a_dead_channel_costs_half_the_amplitude_and_never_the_tone(tmp_path: Path) -> None:
    one = tone(440.0, seconds=1, rate_hz=RATE)
    result = heard(sound_files.write(tmp_path, "wav-f32", np.stack([np.zeros_like(one), one]), rate_hz=RATE))
    assert np.allclose(result, one / 2, atol=1e-6)


def test_a_constant_offset_is_not_taken_for_the_louder_channel(tmp_path: Path) -> None:
    one = tone(440.0, seconds=1, rate_hz=RATE, level=0.1)
    pair = np.stack([one, -one + 0.5])
    result = heard(sound_files.write(tmp_path, "wav-f32", pair, rate_hz=RATE))
    assert np.std(result[RATE // 2 :]) == pytest.approx(0.1 / np.sqrt(2), rel=0.05)


def test_of_six_channels_the_one_with_the_tone_is_heard(tmp_path: Path) -> None:
    """A film's centre channel: the mean of six would lose 15.6 dB."""
    six = np.zeros((6, RATE))
    six[2] = tone(440.0, seconds=1, rate_hz=RATE)
    result = heard(sound_files.write(tmp_path, "wav-f32", six, rate_hz=RATE))
    assert level_db(result[RATE // 2 :]) == pytest.approx(level_db(six[2]), abs=0.1)


def test_a_change_between_channels_makes_no_click(tmp_path: Path) -> None:
    """In phase for two seconds, opposite for two, in phase again: no step beyond the tone's own slope."""
    one = tone(220.0, seconds=6, rate_hz=RATE)
    other = one.copy()
    other[2 * RATE : 4 * RATE] *= -1
    result = heard(sound_files.write(tmp_path, "wav-f32", np.stack([one, other]), rate_hz=RATE))
    slope = 2 * np.pi * 220 / RATE * 0.5
    own_steps = {2 * RATE, 4 * RATE}  # where the mean itself breaks off
    steps = np.abs(np.diff(result))
    for place in own_steps:
        steps[place - 2 : place + 2] = 0
    assert steps.max() < 1.5 * slope + 0.5 / (0.005 * RATE)


# Overload


@pytest.mark.parametrize("kind", ["wav", "wav-s24", "flac"])
@pytest.mark.parametrize("later_gain", [1.0, 0.6])
def test_overload_is_counted_exactly_in_lossless_files(kind: str, later_gain: float, tmp_path: Path) -> None:
    """Analytic: of a sine driven to 1.5 times full scale, 1 - (2/pi) asin(1/1.5) = 0.535 is cut."""
    sound = later_gain * np.clip(tone(440.0, seconds=2, rate_hz=44_100, level=1.5), -1, 1 - 2**-15)
    assert share(tmp_path, kind, sound) == pytest.approx(1 - 2 / np.pi * np.arcsin(1 / 1.5), abs=0.01)


@pytest.mark.parametrize("kind", ["wav", "mp3", "m4a-aac", "opus", "ogg-vorbis"])
@pytest.mark.parametrize("hz", [65.4, 196.0, 880.0])
def test_a_loud_clean_tone_is_not_called_overloaded(kind: str, hz: float, tmp_path: Path) -> None:
    assert share(tmp_path, kind, bowed(hz)) < 0.002


@pytest.mark.parametrize("kind", ["wav", "wav-s24", "wav-u8", "wav-f32"])
@pytest.mark.parametrize("hz", [0.0, 50.0, 65.4])
def test_a_smooth_or_constant_top_is_not_called_flat(kind: str, hz: float, tmp_path: Path) -> None:
    """At these rates the samples beside a low tone's peak are equal to within the format's step."""
    level = 0.3 * (np.cos(2 * np.pi * hz * np.arange(88_200) / 44_100))
    assert share(tmp_path, kind, level) < 0.002


@pytest.mark.parametrize("kind", ["mp3", "m4a-aac", "opus", "ogg-vorbis"])
@pytest.mark.parametrize("hz", [65.4, 196.0])
def test_overload_is_seen_through_a_lossy_codec(kind: str, hz: float, tmp_path: Path) -> None:
    """Truth: the share of samples that were cut before encoding; within a factor of two."""
    driven = 2.5 * bowed(hz)
    cut = np.mean(np.abs(driven) >= 1)
    assert cut / 2 < share(tmp_path, kind, np.clip(driven, -1, 1)) < 2 * cut


def bowed(hz: float) -> NDArray[np.float64]:
    """A sawtooth-like tone with vibrato, a swell and a fade, reaching 0.98 of full scale."""
    t = np.arange(3 * 44_100) / 44_100
    phase = 2 * np.pi * (hz * t - 0.01 * hz / (2 * np.pi * 5.5) * np.cos(2 * np.pi * 5.5 * t))
    wave = np.zeros_like(t)
    for k in range(1, int(12_000 / hz)):
        wave += np.sin(k * phase + 0.7 * k * k) / k * np.exp(-k * hz / 6000)
    wave *= np.clip(np.minimum(t / 0.3, (3 - t) / 0.5), 0, 1) * (1 + 0.1 * np.sin(2 * np.pi * 0.7 * t))
    return wave * (0.98 / np.abs(wave).max())


def share(folder: Path, kind: str, sound: NDArray[np.float64]) -> float:
    with Recording(sound_files.write(folder, kind, sound, rate_hz=44_100)) as recording:
        for _ in recording.blocks(rate_hz=RATE):
            pass
        assert not recording.truncated
        return recording.clipped_share


# Length and memory


def sparse_wav(path: Path, *, seconds: float, rate_hz: int, channels: int = 2) -> Path:
    """A WAV file of digital silence that takes no room on disk (RIFF header, then a hole)."""
    size = round(seconds * rate_hz) * channels * 2
    header = b"RIFF" + (36 + size).to_bytes(4, "little") + b"WAVEfmt " + (16).to_bytes(4, "little")
    header += (1).to_bytes(2, "little") + channels.to_bytes(2, "little") + rate_hz.to_bytes(4, "little")
    header += (rate_hz * channels * 2).to_bytes(4, "little") + (channels * 2).to_bytes(2, "little")
    header += (16).to_bytes(2, "little") + b"data" + size.to_bytes(4, "little")
    with path.open("wb") as file:
        file.write(header)
        file.truncate(len(header) + size)
    return path


def test_a_take_beyond_the_limit_is_refused_with_the_limit(tmp_path: Path) -> None:
    path = sparse_wav(tmp_path / "long.wav", seconds=MAX_TAKE_S + 1200, rate_hz=8000, channels=1)
    with pytest.raises(TakeError, match=r"2 h 20 min long; the limit is 2 h\. Cut it"):
        Recording(path)


def test_a_stream_that_hides_its_length_is_stopped_at_the_limit(tmp_path: Path) -> None:
    """A recorder that lost power leaves a size of zero in the header; the sound goes on to the file's end."""
    path = sparse_wav(tmp_path / "long.wav", seconds=MAX_TAKE_S + 60, rate_hz=8000, channels=1)
    with path.open("r+b") as file:
        file.seek(40)
        file.write(b"\xff\xff\xff\xff")
    with pytest.raises(TakeError, match="the limit is 2 h"), Recording(path) as recording:
        for _ in recording.blocks(rate_hz=8000):
            pass


def test_memory_does_not_grow_with_the_length(tmp_path: Path) -> None:
    """Four minutes at 96 kHz in stereo are 184 MB as floats; the process may grow by a tenth of that."""
    resource = pytest.importorskip("resource")
    path = sparse_wav(tmp_path / "long.wav", seconds=240, rate_hz=96_000)
    with Recording(path) as recording:
        blocks = recording.blocks(rate_hz=RATE)
        next(blocks)
        before_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        count = 1 + sum(1 for _ in blocks)
        grown_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before_kb
    assert count == 24
    assert grown_kb < 18_000
