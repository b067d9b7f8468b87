"""The sound that is measured on: real bowed notes from the tests' recordings, a minute of them."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import soundfile
from numpy.typing import NDArray

RATE_HZ = 44_100
MINUTE_S = 60
_RECORDINGS = Path(__file__).resolve().parent.parent / "tests" / "recordings"
_PAUSE_S = 0.4

#: Formats for the decoding table: ending, and the encoder that soundfile or av knows.
FORMATS = {"wav": "pcm_s16le", "flac": "flac", "mp3": "libmp3lame", "m4a": "aac", "opus": "libopus"}


def minute() -> NDArray[np.float32]:
    """One minute, mono at 44.1 kHz: the excerpts in order of name, again from the first until it is full."""
    parts: list[NDArray[np.float32]] = []
    for path in sorted(_RECORDINGS.glob("*.flac")):
        sound, rate_hz = soundfile.read(path, dtype="float32")
        if rate_hz != RATE_HZ or sound.ndim != 1:
            raise SystemExit(f"{path.name}: mono at {RATE_HZ} Hz is needed for the benchmark")
        parts += [sound, np.zeros(round(_PAUSE_S * RATE_HZ), dtype=np.float32)]
    if not parts:
        raise SystemExit(f"no recordings in {_RECORDINGS.name}; run the benchmark from a full checkout")
    return np.resize(np.concatenate(parts), MINUTE_S * RATE_HZ)


def write_wav(path: Path, sound: NDArray[np.float32], *, times: int = 1) -> Path:
    """Writes the sound ``times`` times in a row as 16-bit WAV."""
    with soundfile.SoundFile(path, "w", RATE_HZ, 1, "PCM_16") as file:
        for _ in range(times):
            file.write(sound)
    return path


def write_coded(path: Path, sound: NDArray[np.float32], coding: str) -> Path:
    """Writes the sound with one of FFmpeg's encoders."""
    rate_hz = 48_000 if coding == "libopus" else RATE_HZ
    with av.open(path, "w") as container:
        stream = container.add_stream(coding, rate=rate_hz, layout="mono")
        frame = av.AudioFrame.from_ndarray(sound[None, :], format="fltp", layout="mono")
        frame.sample_rate, frame.pts, frame.time_base = RATE_HZ, 0, Fraction(1, RATE_HZ)
        resampler = av.AudioResampler(format=stream.codec_context.format, layout="mono", rate=rate_hz)
        for piece in resampler.resample(frame) + resampler.resample(None):
            container.mux(stream.encode(piece))
        container.mux(stream.encode(None))
    return path
