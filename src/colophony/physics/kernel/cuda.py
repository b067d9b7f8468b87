"""The same loop on a graphics card: one run a thread.

`loops.play_lane` is compiled once more as it stands. All arrays have the lane as their last axis, so that
neighbouring threads read neighbouring numbers. Needs the extra ``gpu``; without a card the simulator of
numba's CUDA (``NUMBA_ENABLE_CUDASIM=1``) runs the same code slowly.

`play_threads` plays from the card's own memory, whatever the string. `playing` makes the kernel that a survey
uses (`colophony.physics.kernel.card`): a string's lines lie in the memory that a block's threads share, its
body and hairs in the thread's registers, so that hardly anything is read from far.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from functools import cache
from typing import Any

import numpy as np
from numba import config, cuda, float32

from colophony.errors import InputError
from colophony.language import _
from colophony.physics.kernel.body import RELAXED, folder, interpreted
from colophony.physics.kernel.loops import ENDS, HAIR, play_lane

#: Threads a block: small, because a map has thousands of runs and a card many processors to feed.
_THREADS = 64
#: Memory that a block's threads may share without asking for more, bytes.
_NEAR = 48 * 1024
#: What the driver keeps of it for itself, a block, bytes.
_DRIVERS = 1024
#: Registers that a thread of a survey takes: all that one can have.
_REGISTERS = 256
#: Threads a block where the strings share near memory: one warp, whose rows are 32 numbers wide.
SHARING = 32
_loop = interpreted(play_lane) if config.ENABLE_CUDASIM else play_lane
#: The same, put in where it is called: its loops over hairs and modes then have a known number of rounds, are
#: unrolled, and leave hairs and modes in registers.
_inlined = (
    interpreted(play_lane)
    if config.ENABLE_CUDASIM
    else cuda.jit(device=True, forceinline=True, fastmath=set(RELAXED))(play_lane.py_func)  # type: ignore[call-arg]
)


try:
    from numba.cuda.core import config as _settings  # of the package numba-cuda
except ImportError:
    _settings = config


@contextmanager
def _set(name: str, value: Any) -> Iterator[None]:
    """Set one of the settings of numba's CUDA for a while."""
    before = getattr(_settings, name)
    setattr(_settings, name, value)
    try:
        yield
    finally:
        setattr(_settings, name, before)


def few_threads() -> AbstractContextManager[None]:
    """Let kernels be launched with fewer threads than fill a card without a warning of numba's."""
    return _set("CUDA_LOW_OCCUPANCY_WARNINGS", 0)


def kernel(function: Any = None, **options: Any) -> Any:
    """Return a kernel, or the decorator of one: compiled once a machine, and again when any body changes."""
    if function is None:
        return lambda function: kernel(function, **options)
    with _set("CACHE_DIR", folder(config.CACHE_DIR)):
        return cuda.jit(cache=True, **options)(function)


@kernel
def _play(lanes, arguments):  # type: ignore[no-untyped-def]
    lane = cuda.grid(1)
    if lane < lanes:
        _loop(lane, *arguments)


def require_card() -> None:
    """Raise `InputError` when there is no card to run on."""
    if not cuda.is_available():
        raise InputError(
            _("there is no CUDA card here, or its driver or the extra gpu is missing: use the target cpu")
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
    with few_threads():
        _play[blocks, _THREADS](lanes, moved(arguments))
    for array in written:
        if array.size:
            there[id(array)].copy_to_host(array)


# --- strings in near memory


@kernel
def begin(lanes, waves, wave, strings, modes, hairs):  # type: ignore[no-untyped-def]
    """Lay out strings at rest, but for ``waves`` [2, points, kinds] of the kind ``wave[lane]``."""
    lane = cuda.grid(1)
    if lane >= lanes:
        return
    points = waves.shape[1]
    for row in range(strings.shape[0]):
        strings[row, lane] = 0
    for row in range(points):
        strings[row, lane] = waves[0, row, wave[lane]]
        strings[points + row, lane] = waves[1, row, wave[lane]]
    for mode in range(modes.shape[0]):
        modes[mode, 0, lane] = 0
        modes[mode, 1, lane] = 0
    for hair in range(hairs.shape[0]):
        for row in range(HAIR):
            hairs[hair, row, lane] = 0


def rows_of(points: int, torsion_points: int, sections: int) -> int:
    """Return how many numbers a string's lines and ends hold, rows of ``strings`` in `playing`."""
    return 2 * (points + torsion_points) + ENDS + sections


def near_bytes(rows: int, modes: int) -> int:
    """Return how much near memory a block of threads takes for its strings, in bytes."""
    return 4 * (rows * SHARING + 5 * max(modes, 1))


def lanes_at_once(rows: int, modes: int) -> int:
    """Return how many runs the card plays at once in near memory."""
    if config.ENABLE_CUDASIM:
        return SHARING
    card = cuda.get_current_device()
    own = near_bytes(rows, modes) + _DRIVERS
    blocks = min(
        card.MAX_SHARED_MEMORY_PER_MULTIPROCESSOR // own,
        card.MAX_REGISTERS_PER_MULTIPROCESSOR // (_REGISTERS * SHARING),
    )
    return int(card.MULTIPROCESSOR_COUNT * max(blocks, 1) * SHARING)


@cache
def playing(rows: int, hairs: int, modes: int, law: int, sections: int) -> Any:
    """Return the kernel that plays strings of so many numbers, launched with `SHARING` threads a block.

    Its arguments: lanes; ``first`` and ``kept_from`` of `loops.play_lane`; points and torsional points;
    ``bow``, a tuple of lengths [2, lanes], per_length [2, lanes], speed and weight [3, lanes] of the two
    segments of each lane; place [lanes], the number of its row in ``places``, a tuple of nut to roots, each
    with two equal rows a place; strings [rows, lanes], modes and hairs, changed; body_numbers, numbers, laws;
    ``out``, the tuple of four arrays that are written.

    Strings that do not fit the near memory are played where they lie.
    """
    shared = (rows, SHARING)
    body_shape, modes_shape, hairs_shape = (5, max(modes, 1)), (max(modes, 1), 2, 1), (hairs, HAIR, 1)

    @kernel(fastmath=set(RELAXED))
    def play_near(  # type: ignore[no-untyped-def]
        lanes, first, kept_from, points, torsion_points, bow, place, places, strings, modes_kept, hairs_kept,
        body_kept, numbers, laws, out,
    ):  # fmt: skip
        thread = cuda.threadIdx.x
        lane = cuda.blockIdx.x * SHARING + thread
        body_numbers = cuda.shared.array(body_shape, float32)
        for m in range(thread, modes, SHARING):
            for row in range(5):
                body_numbers[row, m] = body_kept[row, m]
        cuda.syncthreads()
        if lane >= lanes:
            return
        near = cuda.shared.array(shared, float32)
        own = near[:, thread : thread + 1]
        for row in range(rows):
            own[row, 0] = strings[row, lane]
        body = cuda.local.array(modes_shape, float32)
        ribbon = cuda.local.array(hairs_shape, float32)
        for m in range(modes):
            body[m, 0, 0], body[m, 1, 0] = modes_kept[m, 0, lane], modes_kept[m, 1, lane]
        for j in range(hairs):
            for row in range(HAIR):
                ribbon[j, row, 0] = hairs_kept[j, row, lane]
        _one_lane(
            lane, first, kept_from, law, sections, points, torsion_points, bow, place, places, own,
            body[:modes], body_numbers[:, :modes], ribbon, numbers, laws, out,
        )  # fmt: skip
        for row in range(rows):
            strings[row, lane] = own[row, 0]
        for m in range(modes):
            modes_kept[m, 0, lane], modes_kept[m, 1, lane] = body[m, 0, 0], body[m, 1, 0]
        for j in range(hairs):
            for row in range(HAIR):
                hairs_kept[j, row, lane] = ribbon[j, row, 0]

    @kernel(fastmath=set(RELAXED))
    def play_far(  # type: ignore[no-untyped-def]
        lanes, first, kept_from, points, torsion_points, bow, place, places, strings, modes_kept, hairs_kept,
        body_kept, numbers, laws, out,
    ):  # fmt: skip
        lane = cuda.grid(1)
        if lane >= lanes:
            return
        _one_lane(
            lane, first, kept_from, law, sections, points, torsion_points, bow, place, places,
            strings[:, lane : lane + 1], modes_kept[:, :, lane : lane + 1], body_kept,
            hairs_kept[:, :, lane : lane + 1], numbers, laws, out,
        )  # fmt: skip

    return play_near if near_bytes(rows, modes) <= _NEAR else play_far


def _play_one(  # type: ignore[no-untyped-def]
    lane, first, kept_from, law, sections, points, torsion_points, bow, place, places, own, modes,
    body_numbers, hairs, numbers, laws, out,
):  # fmt: skip
    """Play one lane, whose own memory is given; every array that `loops.play_lane` sees has one lane."""
    lengths, per_length, speed, weight = bow
    nut, tuning, at, torsion_at, torsion_part, shares, roots = places
    velocity, force, sound, sliding = out
    here, after = lane, lane + 1
    row, past = 2 * place[lane], 2 * place[lane] + 2
    line, twist = 2 * points, 2 * points + torsion_points
    waves = own[:points], own[points:line], own[line:twist], own[twist : twist + torsion_points]
    _inlined(
        0, first, kept_from, law, sections,
        lengths[:, lane], per_length[:, lane],
        nut[row:past], tuning[row:past], at[row:past], torsion_at[row:past], torsion_part[row:past],
        shares[row:past], roots[row:past],
        speed[:, here:after], weight[:, here:after],
        waves, own[twist + torsion_points :], modes, body_numbers, hairs, numbers, laws,
        velocity[:, here:after], force[:, here:after], sound[:, here:after], sliding[:, :, here:after],
    )  # fmt: skip


_one_lane = (
    _play_one
    if config.ENABLE_CUDASIM
    else cuda.jit(device=True, forceinline=True, fastmath=set(RELAXED))(_play_one)  # type: ignore[call-arg]
)
