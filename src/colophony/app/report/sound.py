"""The take's sound, small enough to travel inside a page: AAC in an MP4 container, mono."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np

#: A page carries at most this much sound, in s; at `LONG_BIT_RATE` some 13 MB of text.
LONGEST_S = 20 * 60.0
RATE_HZ = 44100
#: Bits a second. Bowed strings in mono are near transparent at the first; a long take takes the second.
BIT_RATE = 96_000
LONG_BIT_RATE = 64_000
_LONG_S = 5 * 60.0
MIME = "audio/mp4"


@dataclass(frozen=True, slots=True)
class CarriedSound:
    """Encoded sound: the file's bytes, the seconds of the take in it, and whether more was left out."""

    content: bytes
    seconds: float
    cut: bool


def encode_sound(path: Path, *, duration_s: float, longest_s: float = LONGEST_S) -> CarriedSound:
    """Return the sound of a recording as AAC, from its start, on the time scale of the take.

    Parameters
    ----------
    path : the recording, in any format that `colophony.listening.decode` reads
    duration_s : its length in s, which chooses the bit rate
    longest_s : what goes beyond is left out

    Raises `TakeError` when the recording cannot be read.
    """
    import av

    from colophony.listening.decode import Recording

    target = io.BytesIO()
    most = round(longest_s * RATE_HZ)
    written, cut = 0, False
    with (
        Recording(path) as recording,
        av.open(target, "w", format="mp4") as container,
    ):
        stream = container.add_stream("aac", rate=RATE_HZ, layout="mono", options={"aac_coder": "fast"})
        stream.bit_rate = BIT_RATE if duration_s <= _LONG_S else LONG_BIT_RATE
        for block in recording.blocks(rate_hz=RATE_HZ):
            kept = block[: most - written]
            cut = len(kept) < len(block)
            if len(kept):
                frame = av.AudioFrame.from_ndarray(
                    np.ascontiguousarray(kept[None, :].clip(-1.0, 1.0)), format="fltp", layout="mono"
                )
                frame.sample_rate = RATE_HZ
                frame.pts = written
                container.mux(stream.encode(frame))
                written += len(kept)
            if cut:
                break
        container.mux(stream.encode(None))
    return CarriedSound(target.getvalue(), written / RATE_HZ, cut)
