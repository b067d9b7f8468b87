"""What a phone or a message service does to a recording: lossy coding and a lower rate, in memory."""

from __future__ import annotations

import io
from typing import Literal

import av
import numpy as np
from scipy.signal import resample_poly

from .strings import Signal

Degradation = Literal["aac-64k", "opus-24k", "16khz"]
DEGRADATIONS: tuple[Degradation, ...] = ("aac-64k", "opus-24k", "16khz")
#: Container, codec, bit rate and the rate that the codec wants.
_CODECS = {"aac-64k": ("mp4", "aac", 64_000, 44_100), "opus-24k": ("ogg", "libopus", 24_000, 48_000)}


def resampled(signal: Signal, rate: int, to: int) -> Signal:
    """Change the rate (polyphase filter)."""
    common = int(np.gcd(rate, to))
    return np.asarray(resample_poly(signal, to // common, rate // common))


def encode(signal: Signal, rate: int, kind: Literal["aac-64k", "opus-24k"]) -> bytes:
    """Return an m4a (AAC, 64 kb/s) or ogg (Opus, 24 kb/s) file's bytes."""
    container, codec, bit_rate, wanted = _CODECS[kind]
    samples = np.clip(resampled(signal, rate, wanted) if rate != wanted else signal, -1, 1).astype(np.float32)
    target = io.BytesIO()
    with av.open(target, "w", format=container) as out:
        stream = out.add_stream(codec, rate=wanted, layout="mono")
        stream.bit_rate = bit_rate
        layout = "fltp" if codec == "aac" else "flt"
        block = 1024 if codec == "aac" else 960
        for at in range(0, len(samples), block):
            piece = np.zeros((1, block), dtype=np.float32)
            piece[0, : len(samples[at : at + block])] = samples[at : at + block]
            frame = av.AudioFrame.from_ndarray(piece, format=layout, layout="mono")
            frame.sample_rate, frame.pts = wanted, at
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return target.getvalue()


def decode(data: bytes) -> tuple[Signal, int]:
    """Return the samples of an encoded file, mono, and their rate."""
    with av.open(io.BytesIO(data)) as source:
        stream = source.streams.audio[0]
        rate = int(stream.rate)
        resampler = av.AudioResampler(format="flt", layout="mono", rate=rate)
        pieces = [f.to_ndarray()[0] for frame in source.decode(stream) for f in resampler.resample(frame)]
        pieces += [f.to_ndarray()[0] for f in resampler.resample(None)]
    return np.concatenate(pieces).astype(float), rate


def degrade(signal: Signal, rate: int, kind: Degradation) -> tuple[Signal, int]:
    """Return the signal as it comes back from a phone, and its rate. Nothing shifts by more than 5 ms."""
    if kind == "16khz":
        return resampled(signal, rate, 16_000), 16_000
    back, new_rate = decode(encode(signal, rate, kind))
    return back[: round(len(signal) / rate * new_rate)], new_rate
