"""Ears without listening: what a recording holds decides what is heard. Runs in the listening process."""

from __future__ import annotations

import io
import math
import os
import struct
import time
import wave
from collections.abc import Callable
from pathlib import Path
from typing import Any

from colophony.errors import TakeError
from colophony.teaching.findings import Advice, Findings, Say, Summary
from factories import make_stroke, make_take


def _wav(seconds: float = 0.25, rate: int = 8000) -> bytes:
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        rows = range(int(seconds * rate))
        samples = (int(8000 * math.sin(2 * math.pi * 440 * i / rate)) for i in rows)
        file.writeframes(b"".join(struct.pack("<h", sample) for sample in samples))
    return out.getvalue()


def long_sound() -> bytes:
    """Return a sound as long as the take that the fake ears hear."""
    return _wav(5.5)


#: A short real sound, of which the fake ears hear two strokes. What follows its end is no part of it.
SOUND = _wav()


def make_findings(note: str = "A4") -> Findings:
    say = Say(
        "Let the bow be a little lighter.", "Use a little less weight.", "Less weight at this distance."
    )
    advice = Advice("weight", "less", "The string was pressed out of its period.", say, "pressed")
    rough = make_take().strokes[1]
    take = make_take(make_stroke(note=note), rough)
    summary = Summary(
        0.7,
        2,
        advice,
        Say("One bow was scratchy.", "One stroke was scratchy.", "One of two strokes was raucous."),
        Say("Listen for the scratch.", "Listen whether it clears.", "Does it clear?"),
    )
    return Findings(take, ((), (advice,)), summary)


def hear(path: Path, request: Any, *, progress: Callable[[float], None] | None = None) -> Findings:
    content = Path(path).read_bytes()[:100_000]
    if b"crash" in content:
        os._exit(3)
    if b"slow" in content:
        for step in range(200):
            if progress is not None:
                progress(step / 200)
            time.sleep(0.05)
    if not content.startswith(b"RIFF"):
        raise TakeError(f"{Path(path).name}: this file holds no sound, send a recording.")
    if progress is not None:
        progress(1.0)
    said = content[len(SOUND) :]  # what a test wrote behind the sound
    played = next((note for note in ("C2", "G3", "D4", "E5") if note.encode() in said), "A4")
    return make_findings(note=request.string or played)
