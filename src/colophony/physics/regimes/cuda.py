"""The same reading on a graphics card: one run a thread.

Kernels for arrays that are on the card already, launched as ``kernel[blocks, threads](lanes, arguments)``
with the arguments of the function of `colophony.physics.regimes.block` of the same name, after the lane.
The functions may as well be called within the kernel that plays the string.
"""

from __future__ import annotations

from typing import Any

from numba import config, cuda

from colophony.physics.kernel.body import interpreted
from colophony.physics.regimes import block


def _on_card(function: Any) -> Any:
    """Return a loop as it is called within a kernel: the card's simulator runs it as plain Python."""
    return interpreted(function) if config.ENABLE_CUDASIM else function  # type: ignore[attr-defined]


_read, _start, _tell = (_on_card(f) for f in (block.read_lane, block.start_lane, block.tell_lane))


@cuda.jit
def read_lane(lanes, arguments):  # type: ignore[no-untyped-def]
    """Read the last samples of every run."""
    lane = cuda.grid(1)  # type: ignore[attr-defined]
    if lane < lanes:
        _read(lane, *arguments)


@cuda.jit
def start_lane(lanes, arguments):  # type: ignore[no-untyped-def]
    """Take the next piece of every run."""
    lane = cuda.grid(1)  # type: ignore[attr-defined]
    if lane < lanes:
        _start(lane, *arguments)


@cuda.jit
def tell_lane(lanes, arguments):  # type: ignore[no-untyped-def]
    """Write how every run began."""
    lane = cuda.grid(1)  # type: ignore[attr-defined]
    if lane < lanes:
        _tell(lane, *arguments)
