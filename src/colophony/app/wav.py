"""A sound as a WAV file: 16 bit, which everything plays."""

from __future__ import annotations

import io
import wave

import numpy as np
from numpy.typing import NDArray


def wav_bytes(sound: NDArray[np.floating], *, rate_hz: int) -> bytes:
    """Return a sound as the bytes of a WAV file: linear PCM of 16 bit, rounded; beyond full scale it is cut.

    Parameters
    ----------
    sound : [n] or [n, channels], full scale -1 to 1
    rate_hz : samples a second
    """
    steps = np.rint(np.asarray(sound, dtype=np.float64) * 32767.0).clip(-32768, 32767).astype("<i2")
    target = io.BytesIO()
    with wave.open(target, "wb") as file:
        file.setnchannels(1 if steps.ndim == 1 else steps.shape[1])
        file.setsampwidth(2)
        file.setframerate(rate_hz)
        file.writeframes(steps.tobytes())
    return target.getvalue()
