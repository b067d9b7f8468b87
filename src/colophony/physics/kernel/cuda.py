"""The same loop on a graphics card: one run a thread.

`loops.play_lane` is compiled once more as it stands. All arrays have the lane as their last axis, so that
neighbouring threads read neighbouring numbers. Needs the extra ``gpu``; without a card the simulator of
numba's CUDA (``NUMBA_ENABLE_CUDASIM=1``) runs the same code slowly.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import config, cuda

from colophony.errors import InputError
from colophony.physics.kernel.body import interpreted
from colophony.physics.kernel.loops import play_lane

#: Threads a block: small, because a map has thousands of runs and a card many processors to feed.
_THREADS = 64
_loop = interpreted(play_lane) if config.ENABLE_CUDASIM else play_lane


@cuda.jit
def _play(lanes, arguments):  # type: ignore[no-untyped-def]
    lane = cuda.grid(1)
    if lane < lanes:
        _loop(lane, *arguments)


def require_card() -> None:
    """Raise `InputError` when there is no card to run on."""
    if not cuda.is_available():
        raise InputError(
            "there is no CUDA card here, or its driver or colophony[gpu] is missing: use the target cpu"
        )


def play_threads(lanes: int, arguments: tuple[Any, ...], written: tuple[Any, ...]) -> None:
    """Play all lanes, one a thread; ``arguments`` as `loops.play_lane` after the lane, on the host.

    Arrays are copied to the card and those in ``written`` back; they keep their identity.
    """
    require_card()
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
    _play[blocks, _THREADS](lanes, moved(arguments))
    for array in written:
        if array.size:
            there[id(array)].copy_to_host(array)
