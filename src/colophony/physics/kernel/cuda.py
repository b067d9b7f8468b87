"""The same loop on a graphics card: one run a thread.

`loops.play_lane` is compiled once more as it stands. All arrays have the lane as their last axis, so that
neighbouring threads read neighbouring numbers. Needs the extra ``gpu``; without a card the simulator of
numba's CUDA (``NUMBA_ENABLE_CUDASIM=1``) runs the same code slowly.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

from colophony.errors import InputError

#: Threads a block: small, because a map has thousands of runs and a card many processors to feed.
_THREADS = 64


@cache
def _kernel() -> Any:
    """Return the compiled entry; raises `InputError` when there is no card to run it."""
    try:
        from numba import cuda
        from numba.core.errors import NumbaError

        if not cuda.is_available():
            raise InputError("there is no CUDA card here, or its driver does not answer: use the target cpu")
    except (ImportError, OSError) as error:
        raise InputError(
            f"CUDA is not installed ({error}): install colophony[gpu], or use the target cpu"
        ) from error
    except NumbaError as error:
        raise InputError(f"CUDA does not start ({error}): use the target cpu") from error

    from colophony.physics.kernel.loops import play_lane

    @cuda.jit(fastmath=False)  # type: ignore[untyped-decorator]
    def play(lanes, *arguments):  # type: ignore[no-untyped-def]
        lane = cuda.grid(1)
        if lane < lanes:
            play_lane(lane, *arguments)

    return play


def play_threads(lanes: int, arguments: tuple[Any, ...], written: tuple[Any, ...]) -> None:
    """Play all lanes, one a thread; ``arguments`` as `loops.play_lane` after the lane, on the host.

    Arrays are copied to the card and those in ``written`` back; they keep their identity.
    """
    from numba import cuda

    kernel = _kernel()
    there: dict[int, Any] = {}

    def moved(value: Any) -> Any:
        if isinstance(value, np.ndarray):
            if id(value) not in there:
                there[id(value)] = cuda.to_device(value)
            return there[id(value)]
        if type(value) is tuple:
            return tuple(moved(item) for item in value)
        return value

    blocks = -(-lanes // _THREADS)
    kernel[blocks, _THREADS](lanes, *(moved(value) for value in arguments))
    for array in written:
        if array.size:
            there[id(array)].copy_to_host(array)
