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

from types import FunctionType
from typing import Any

from numba import njit
from numba.core.dispatcher import Dispatcher

RELAXED = frozenset({"contract", "arcp", "nsz"})
RELAXED_SUMS = RELAXED | {"reassoc"}

#: Decorator of a body: compiled where it is called, and always inlined there.
body = njit(fastmath=set(RELAXED), error_model="numpy", forceinline=True)


def interpreted(function: Any) -> Any:
    """Return a compiled function as the interpreter runs it, every compiled callee replaced likewise."""
    plain = function.py_func
    callees = {
        name: interpreted(value)
        for name, value in plain.__globals__.items()
        if name in plain.__code__.co_names and isinstance(value, Dispatcher)
    }
    return FunctionType(plain.__code__, {**plain.__globals__, **callees}, plain.__name__, plain.__defaults__)
