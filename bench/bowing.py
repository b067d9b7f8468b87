"""How long a step of the bowed string takes, and what each of its parts costs.

Everything is timed in turns within one process, several rounds of it, and the best of each is kept: then
ratios hold on a busy machine too. One turn is some hundredths
of a second, so that some fall between other work.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Literal

from bench.transcription import NoCompilerError, compile_step, play_in_c
from colophony.physics.friction import McIntyre1979, Smith2000
from colophony.physics.gestures import Stroke, steady
from colophony.physics.instruments import find_instrument
from colophony.physics.kernel.state import LANES
from colophony.physics.simulation import Model, Player, simulate

_ROUNDS = 15
_STEPS = 25_000
_PYTHON_STEPS = 400
#: Steps in lanes, and how many at the end are kept: a map of the
#: playable range looks at 16 periods of 100.
_LANE_STEPS, _LANE_KEPT = 12_000, 2_000
FULL = Model()
#: The full model with one part left out or another in its place: what each part costs.
VARIANTS = {
    "two hairs": replace(FULL, points=2),
    "one hair": replace(FULL, points=1),
    "no torsion": replace(FULL, torsion=False),
    "stiff hair": replace(FULL, compliant_hair=False),
    "no string stiffness": replace(FULL, stiffness=False),
    "no body": replace(FULL, body=False),
    "the hyperbolic curve": replace(FULL, friction=McIntyre1979()),
    "the steady-sliding curve": replace(FULL, friction=Smith2000()),
    "one hair, nothing else": Model(
        points=1, compliant_hair=False, torsion=False, stiffness=False, body=False
    ),
}


def strokes(count: int) -> list[Stroke]:
    """Bow strokes of 15 cm/s, 30 mm from the bridge, from 0.4 to 1 N."""
    return [steady(0.15, 0.4 + 0.6 * lane / max(1, count - 1), 0.03, ramp_s=0.0) for lane in range(count)]


def player(
    model: Model,
    *,
    lanes: int = 1,
    precision: Literal["double", "single"] = "double",
    target: Literal["cpu", "python", "cuda"] = "cpu",
    samples_per_period: int | None = None,
) -> Player:
    """An open G string of a violin under the bow, in Helmholtz motion or on the way there."""
    violin = find_instrument("violin")
    string = violin.string("G")
    return Player(
        violin,
        string,
        frequency_hz=string.open_frequency_hz,
        model=model,
        lanes=lanes,
        samples_per_period=samples_per_period,
        precision=precision,
        target=target,
    )


def per_step(made: Player, *, steps: int = _STEPS, keep: int | None = None) -> Callable[[], float]:
    """Return what plays on for so many steps and returns nanoseconds per step and lane.

    ``keep``: how many steps at the end are written out, all if not given.
    """
    bows = strokes(made.strings.lanes)

    def turn() -> float:
        start = time.perf_counter()
        made.play(bows, steps=steps, keep=keep)
        return 1e9 * (time.perf_counter() - start) / steps / len(bows)

    return turn


def side_by_side(model: Model, precision: Literal["double", "single"]) -> Callable[[], float]:
    """`per_step` for a full set of lanes."""
    made = player(model, lanes=LANES, precision=precision)
    return per_step(made, steps=_LANE_STEPS, keep=_LANE_KEPT)


def stroke_s() -> float:
    """Seconds it takes to `simulate` one second of the G string as everybody does, design included."""
    bow = strokes(1)[0]
    start = time.perf_counter()
    simulate("violin", "G", bow, seconds=2.0)
    return 0.5 * (time.perf_counter() - start)


def measure() -> dict[str, object]:
    """Return nanoseconds per step (and lane) by name; ``stroke_s``, seconds a second of string takes;
    ``steps_a_second_of_string``; the names of the ``variants``; and why C is
    ``missing`` if it is.
    """
    turns: dict[str, Callable[[], float]] = {
        "full": per_step(player(FULL)),
        "full single": per_step(player(FULL, precision="single")),
        "lanes single": side_by_side(FULL, "single"),
        "lanes single no body": side_by_side(replace(FULL, body=False), "single"),
        "lanes double": side_by_side(FULL, "double"),
        "python": per_step(player(FULL, target="python"), steps=_PYTHON_STEPS),
        "stroke_s": stroke_s,
    }
    turns |= {name: per_step(player(model)) for name, model in VARIANTS.items()}
    missing: str | None = None
    with tempfile.TemporaryDirectory() as folder:
        try:
            turns |= {f"C {precision}": _in_c(Path(folder), precision) for precision in ("double", "single")}
        except NoCompilerError as reason:
            missing = str(reason)
        best = {name: turn() for name, turn in turns.items()}  # the first compiles
        for _ in range(_ROUNDS):
            best = {name: min(best[name], turn()) for name, turn in turns.items()}
    return best | {
        "steps_a_second_of_string": player(FULL).design.rate_hz,
        "missing": missing,
        "variants": list(VARIANTS),
    }


def _in_c(folder: Path, precision: Literal["double", "single"]) -> Callable[[], float]:
    play, made, bows = compile_step(folder, precision), player(FULL, precision=precision), strokes(1)

    def turn() -> float:
        start = time.perf_counter()
        play_in_c(play, made.strings, made.segments(bows, steps=_STEPS))
        return 1e9 * (time.perf_counter() - start) / _STEPS

    return turn
