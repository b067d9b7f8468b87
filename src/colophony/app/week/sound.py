"""All tones of a week in one sound, one behind the other, and where each of them lies."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from numpy.typing import NDArray

from colophony.app.bow import RATE_HZ, levelled, render
from colophony.app.report.sound import encode_sound
from colophony.app.wav import wav_bytes
from colophony.app.week.strokes import Stroke

#: Silence before and between the tones, s: an encoder smears its edges over some hundredths.
_SILENCE_S = 0.3


@dataclass(frozen=True, slots=True)
class Tones:
    """The encoded sound (`report.sound.MIME`) and begin and end of each tone in it, s."""

    content: bytes
    spans_s: tuple[tuple[float, float], ...]


def join_tones(strokes: Sequence[Stroke]) -> Tones:
    """Return the tones of strokes in their order, each at a safe level (`colophony.app.bow.levelled`).

    A failure stays as much softer than the target before it as the string makes it; it is never louder than
    is safe.
    """
    silence = np.zeros(round(_SILENCE_S * RATE_HZ))
    parts: list[NDArray[np.float64]] = [silence]
    spans, now, target_db = [], len(silence), math.inf
    for stroke in strokes:
        sound = render(stroke.bowed)
        own_db = levelled(stroke.bowed, sound)[1]
        target_db = own_db if stroke.is_target else target_db
        sound = sound * 10.0 ** (min(own_db, target_db) / 20.0)
        spans.append((now / RATE_HZ, (now + len(sound)) / RATE_HZ))
        parts += [sound, silence]
        now += len(sound) + len(silence)
    whole = np.concatenate(parts)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "tones.wav"
        path.write_bytes(wav_bytes(whole, rate_hz=RATE_HZ))
        carried = encode_sound(path, duration_s=len(whole) / RATE_HZ)
    return Tones(carried.content, tuple(spans))
