"""How a formula becomes a body: one Python function, compiled for the CPU, for CUDA, or run as it stands.

A body takes plain scalars and returns a tuple. Its constants come in with its arguments, so that a run in
single precision computes in single precision throughout: a literal such as ``0.5`` would make it double.

Relaxed rules of arithmetic, and what each is for (none assumes that NaN or infinity cannot occur):

* ``contract``: a product and a sum in one rounding;
* ``arcp``: a division by a constant becomes a product;
* ``nsz``: the sign of zero does not matter;
* ``reassoc`` (loops only, where sums over the body's modes run in parallel).
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from types import FunctionType
from typing import Any

import numba
from numba import config, njit
from numba.core.dispatcher import Dispatcher
from numba.misc.appdirs import AppDirs

RELAXED = frozenset({"contract", "arcp", "nsz"})
RELAXED_SUMS = RELAXED | {"reassoc"}

#: Decorator of a body: compiled where it is called, and always inlined there.
body = njit(fastmath=set(RELAXED), error_model="numpy", forceinline=True)


def loop(*, sums: bool = False, inlined: bool = False) -> Callable[[Any], Any]:
    """Return the decorator of a loop: compiled once a machine, and again whenever any body changes.

    numba keeps what it compiled beside the source and looks at that one file only: an edit of a friction law
    would go unnoticed in the loop that calls it. So the folder is named by a digest of all of them.

    Parameters
    ----------
    sums : let sums run in parallel
    inlined : always inlined where it is called
    """

    def compiled(function: Any) -> Any:
        before = config.CACHE_DIR
        config.CACHE_DIR = folder(before)
        try:
            return njit(
                fastmath=set(RELAXED_SUMS if sums else RELAXED),
                error_model="numpy",
                nogil=True,
                cache=True,
                forceinline=inlined,
            )(function)
        finally:
            config.CACHE_DIR = before

    return compiled


@cache
def folder(root: str) -> str:
    """Return where compiled loops are kept; ``root`` is numba's own setting, empty where there is none."""
    digest = hashlib.sha256(numba.__version__.encode())
    physics = Path(__file__).parent.parent
    for source in sorted(
        s for part in ("friction", "kernel", "regimes") for s in (physics / part).glob("*.py")
    ):
        digest.update(source.read_bytes())
    kept = Path(root or AppDirs("colophony", appauthor=False).user_cache_dir)
    return str(kept / f"loops-{digest.hexdigest()[:16]}")


def interpreted(function: Any) -> Any:
    """Return a compiled function as the interpreter runs it, every compiled callee replaced likewise."""
    plain = function.py_func
    callees = {
        name: interpreted(value)
        for name, value in plain.__globals__.items()
        if name in plain.__code__.co_names and isinstance(value, Dispatcher)
    }
    return FunctionType(plain.__code__, {**plain.__globals__, **callees}, plain.__name__, plain.__defaults__)
