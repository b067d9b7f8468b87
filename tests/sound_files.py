"""Writes small sound and video files of every kind that a phone or recorder makes.

Encoded with PyAV's and libsndfile's encoders, so that decoding is not tested against itself alone.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import soundfile
from numpy.typing import NDArray

#: Kind: file ending and coding, with the rate it needs when it cannot take any.
KINDS: dict[str, tuple[str, str, int | None]] = {
    "wav": ("wav", "pcm_s16le", None),
    "wav-u8": ("wav", "pcm_u8", None),
    "wav-s24": ("wav", "pcm_s24le", None),
    "wav-s32": ("wav", "pcm_s32le", None),
    "wav-f32": ("wav", "pcm_f32le", None),
    "wav-f64": ("wav", "pcm_f64le", None),
    "aiff": ("aiff", "pcm_s16be", None),
    "caf": ("caf", "pcm_s16be", None),
    "flac": ("flac", "flac", None),
    "mp3": ("mp3", "libmp3lame", None),
    "opus": ("opus", "libopus", 48_000),
    "m4a-aac": ("m4a", "aac", None),
    "m4a-alac": ("m4a", "alac", None),
    "mov": ("mov", "aac", None),
    "webm-opus": ("webm", "libopus", 48_000),
    "ogg-vorbis": ("ogg", "", None),
    "webm-vorbis": ("webm", "", None),
    "mp4-video": ("mp4", "aac", None),
    "mov-video": ("mov", "pcm_s16le", None),
    "webm-video": ("webm", "libopus", 48_000),
}
_PICTURES = {"mp4": "libx264", "mov": "mpeg4", "webm": "libvpx"}


def write(
    folder: Path, kind: str, samples: NDArray[np.floating], *, rate_hz: int, picture_lead_s: float = 0.0
) -> Path:
    """Writes (n,) or (channels, n) samples; returns the new file. ``-video`` kinds carry a picture too."""
    ending, coding, needed_hz = KINDS[kind]
    sound = np.atleast_2d(np.asarray(samples, dtype=np.float32))
    path = folder / f"{kind}.{ending}"
    if kind == "ogg-vorbis":
        soundfile.write(path, sound.T, rate_hz, format="OGG", subtype="VORBIS")
    elif kind == "webm-vorbis":
        _rewrap(write(folder, "ogg-vorbis", sound, rate_hz=rate_hz), path)
    else:
        _encode(path, coding, sound, rate_hz, needed_hz or rate_hz, kind.endswith("-video"), picture_lead_s)
    return path


def video_without_sound(path: Path) -> Path:
    """Writes half a second of grey picture."""
    with av.open(path, "w") as container:
        _add_picture(container, "libx264", 0.5)
    return path


def _encode(
    path: Path, coding: str, sound: NDArray[np.float32], rate_hz: int, to_hz: int, video: bool, lead_s: float
) -> None:
    layout = {1: "mono", 2: "stereo", 6: "5.1"}[len(sound)]
    with av.open(path, "w") as container:
        stream = container.add_stream(coding, rate=to_hz, layout=layout)
        if video:
            _add_picture(container, _PICTURES[path.suffix[1:]], sound.shape[1] / rate_hz + lead_s)
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(sound), format="fltp", layout=layout)
        frame.sample_rate = rate_hz
        frame.pts = round(lead_s * rate_hz)
        frame.time_base = Fraction(1, rate_hz)
        resampler = av.AudioResampler(format=stream.codec_context.format, layout=layout, rate=to_hz)
        for piece in resampler.resample(frame) + resampler.resample(None):
            container.mux(stream.encode(piece))
        container.mux(stream.encode(None))


def _add_picture(container: av.container.OutputContainer, coding: str, seconds: float) -> None:
    stream = container.add_stream(coding, rate=10)
    stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
    for index in range(max(1, round(10 * seconds))):
        grey = np.full((48, 64, 3), (40 + index) % 256, dtype=np.uint8)
        frame = av.VideoFrame.from_ndarray(grey, format="rgb24")
        frame.pts, frame.time_base = index, Fraction(1, 10)
        container.mux(stream.encode(frame))
    container.mux(stream.encode(None))


def _rewrap(source: Path, target: Path) -> None:
    """Moves the coded sound into another container unchanged."""
    with av.open(source) as old, av.open(target, "w") as new:
        stream = new.add_stream_from_template(old.streams.audio[0])
        for packet in old.demux(old.streams.audio[0]):
            if packet.dts is not None:
                packet.stream = stream
                new.mux(packet)
