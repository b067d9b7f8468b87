"""How long a map takes: many strokes at once, and what a step of one costs beside a plain bowed voice."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np

from bench.bowing import FULL, side_by_side
from colophony.app.bench import Setting
from colophony.app.bench.map import LOOKS, ask_map
from colophony.physics.bowings import Bowings
from colophony.physics.instruments import find_instrument
from colophony.physics.maps import RAMP_PERIODS, contact_distances_m, weights_n
from colophony.physics.strings import BowedString
from colophony.physics.survey import survey

VOICE = Path(__file__).with_name("voice.cpp")
SPEED_M_S = 0.1
_ROUNDS = 8


def grid(string: BowedString, distances: int, weights: int, *, apart: float = 0.0) -> Bowings:
    """Every weight at every contact distance at 10 cm/s, as a map asks for them.

    Distances that are one place for the engine share their strokes, unless weights grow by ``apart`` from one
    distance to the next.
    """
    distance = contact_distances_m(string, count=distances)
    weight = weights_n(string, speed_m_s=SPEED_M_S, distance_m=distance, count=weights)
    d, w = np.meshgrid(distance, weight, indexing="ij")
    w *= 1.0 + apart * np.arange(distances)[:, None]
    rise = SPEED_M_S * string.open_frequency_hz / RAMP_PERIODS
    return Bowings(SPEED_M_S, w.ravel(), d.ravel(), 0.0, rise)


def measure() -> dict[str, float | None]:
    """Return seconds by the size of the map, nanoseconds of a step, and of a sample of the voice."""
    string = find_instrument("violin").string("D")
    ask = partial(survey, "violin", string)

    def timed(bowings: Bowings, **how: object) -> Callable[[], float]:
        def turn() -> float:
            start = time.perf_counter()
            ask(bowings, **how)  # type: ignore[arg-type]
            return time.perf_counter() - start

        return turn

    def first_look() -> float:
        found = ask_map(Setting.usual("violin", "4/4", "D"), LOOKS["first"])
        assert found is not None
        return found.seconds

    whole = grid(string, 40, 50)
    turns = {
        "map": timed(whole),
        "strokes": timed(grid(string, 40, 50, apart=1e-4)),
        "map one thread": timed(whole, threads=1),
        "quick map": first_look,
        "column": timed(grid(string, 1, 32)),
        "step": side_by_side(FULL, "single"),
    }
    with tempfile.TemporaryDirectory() as folder:
        voice = compile_voice(Path(folder))
        if voice:
            turns["voice"] = voice
        best = {name: turn() for name, turn in turns.items()}
        for _ in range(_ROUNDS):
            best = {name: min(best[name], turn()) for name, turn in turns.items()}
    return {"voice": None, **best}


def compile_voice(folder: Path) -> Callable[[], float] | None:
    """Return what measures the toolkit's voice, nothing where compiler or toolkit is missing."""
    compiler = shutil.which("g++") or shutil.which("clang++")
    if compiler is None:
        return None
    program = folder / "voice"
    built = subprocess.run(
        [compiler, "-O3", "-march=native", str(VOICE), "-o", str(program), "-lstk"],
        capture_output=True,
        check=False,
    )
    if built.returncode:
        return None
    return lambda: float(subprocess.run([str(program)], capture_output=True, check=True).stdout)
