"""The engine's step in C (``step.c``): compiled if there is a compiler, called on the engine's memory."""

from __future__ import annotations

import ctypes
import shutil
import subprocess
from pathlib import Path
from typing import Any

import numpy as np

from colophony.physics.friction.van_walstijn_2026 import Numbers as LawNumbers
from colophony.physics.kernel.state import Played, Segments, Strings
from colophony.physics.kernel.string import StringNumbers

SOURCE = Path(__file__).resolve().parent / "step.c"
FLAGS = ("-O3", "-march=native", "-ffast-math")
#: What step.c takes by place; it must be changed with the engine.
_STRING_FIELDS = (
    "one half least_weight dt z0 y_string y_torsion y_hair hair_spring hair_keep per_point bridge nut "
    "torsion_end body_keep body_drive dispersion"
)
_LAW_FIELDS = (
    "one half half_dt q_from q_falls sigma0 per_sigma0 mu_s p1 p2 p3 q1 q2 q3 per_tau_g tau_g2 y_a rise "
    "rise_tau_g2 rise_begins heating heat_step b_tau c_tau still"
)


class NoCompilerError(Exception):
    """There is no C compiler on this machine."""


def compile_step(folder: Path, precision: str) -> Any:
    """Return ``play`` of step.c for "double" or "single", built in a folder. Raises `NoCompilerError`."""
    if " ".join(StringNumbers._fields) != _STRING_FIELDS or " ".join(LawNumbers._fields) != _LAW_FIELDS:
        raise RuntimeError("the engine's numbers have changed: change bench/step.c with them")
    compiler = shutil.which("cc") or shutil.which("gcc") or shutil.which("clang")
    if compiler is None:
        raise NoCompilerError("no cc, gcc or clang: the C transcription was not measured")
    real = "double" if precision == "double" else "float"
    library = folder / f"step-{real}.so"
    compiled = folder / f"step-{real}.o"
    subprocess.run(
        [compiler, *FLAGS, f"-DREAL={real}", "-fPIC", "-c", str(SOURCE), "-o", str(compiled)], check=True
    )
    # Linked without the flags: with -ffast-math some compilers add a start-up that makes the whole process
    # round subnormal numbers to zero.
    subprocess.run([compiler, "-shared", str(compiled), "-lm", "-o", str(library)], check=True)
    return ctypes.CDLL(str(library)).play


def play_in_c(play: Any, strings: Strings, segments: Segments) -> Played:
    """Play one segment of one string under the thermal law, as ``strings.play(segments)`` would."""
    if len(segments.lengths) != 1 or strings.lanes != 1 or strings.law != 0:
        raise ValueError("the transcription plays one segment of one string under the thermal law")
    steps, hairs = int(segments.lengths[0]), strings.hairs.shape[0]
    real, number = strings.real, ctypes.c_double if strings.real is np.float64 else ctypes.c_float
    out = Played(
        np.empty((steps, 1), real),
        np.empty((steps, 1), real),
        np.empty((steps, 1), real),
        np.empty((steps, hairs, 1), real),
    )
    kept: list[Any] = []  # arrays must live until the call returns

    def pointer(array: Any) -> ctypes.c_void_p:
        if not (array.flags.c_contiguous or array.flags.f_contiguous):
            raise RuntimeError("the engine's memory has changed: change bench/step.c with it")
        kept.append(array)
        return ctypes.c_void_p(kept[-1].ctypes.data)

    def flat(numbers: Any) -> Any:
        values: list[float] = []
        for value in numbers:
            values.extend(value) if isinstance(value, tuple) else values.append(value)
        return np.array(values, real)

    towards_nut, towards_bridge, torsion_nut, torsion_bridge = strings.waves
    whole = ctypes.c_long
    play(
        whole(steps),
        whole(strings.step),
        pointer(flat(strings.numbers)),
        pointer(flat(strings.laws[0])),
        whole(strings.sections),
        whole(int(segments.nut[0])),
        number(segments.tuning[0]),
        pointer(segments.at[0].astype(np.int_)),
        whole(int(segments.torsion_at[0])),
        number(segments.torsion_part[0]),
        pointer(segments.shares[0].astype(real)),
        pointer(segments.roots[0].astype(real)),
        number(segments.speed[0, 0]),
        number(segments.speed[1, 0]),
        number(segments.weight[0, 0]),
        number(segments.weight[1, 0]),
        whole(towards_nut.shape[0]),
        pointer(towards_nut),
        pointer(towards_bridge),
        whole(torsion_nut.shape[0]),
        pointer(torsion_nut),
        pointer(torsion_bridge),
        pointer(strings.ends),
        whole(strings.modes.shape[0]),
        pointer(strings.modes),
        pointer(strings.body),
        whole(hairs),
        pointer(strings.hairs),
        pointer(out.velocity),
        pointer(out.force),
        pointer(out.sound),
        pointer(out.sliding),
    )
    strings.step += steps
    return out
