"""A survey on a graphics card: one stroke a thread, played, read and forgotten on the card.

Strokes are taken in chunks, so that memory does not grow with their number; only what was read of them
comes back. On a card every stroke may have a place and a ramp of its own: nothing has to be sorted into
blocks of one place, and only strokes that reach their speed at the same step are kept together, because the
threads of a warp wait for each other there. While one chunk is played the next is prepared.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np
from numba import config, cuda
from numpy.typing import NDArray

from colophony.physics.bowings import Answers
from colophony.physics.kernel.body import interpreted
from colophony.physics.kernel.cuda import (
    SHARING,
    begin,
    few_threads,
    kernel,
    lanes_at_once,
    playing,
    require_card,
    rows_of,
)
from colophony.physics.kernel.loops import HAIR
from colophony.physics.kernel.state import Strings
from colophony.physics.regimes import block as reader
from colophony.physics.regimes.block import Block
from colophony.physics.regimes.rules import rules
from colophony.physics.regimes.start import ROWS

if TYPE_CHECKING:
    from colophony.physics.survey import Seat, Setting, Strokes

#: A chunk fills the card so many times: twice, because reading waits for memory and hides it by numbers.
_FILLS = 2
#: Memory that the kept motion of a chunk may take, bytes; two chunks are on the card at once.
_MEMORY = 2 << 30
_THREADS = 64


def answer_on_card(
    setting: Setting,
    strokes: Strokes,
    seats: list[Seat],
    answers: Answers,
    progress: Callable[[int], None],
) -> None:
    """Play and read strokes on the card and write what the strings did.

    Parameters
    ----------
    strokes, seats : of `Setting.seat`
    progress : called with the number of strokes done

    Raises
    ------
    InputError : there is no card
    """
    require_card()
    total, done = len(strokes.weight_n), 0
    knees = _knees(setting, strokes)
    order = np.argsort(knees, kind="stable")
    own = np.repeat(np.arange(len(seats)), [len(seat.strokes) for seat in seats])
    most = lanes_of_chunk(setting)
    playing_now: list[_Chunk] = []
    slots = [_Slot(setting, seats, min(most, total)) for _ in range(1 if total <= most else 2)]

    def finish() -> None:
        nonlocal done
        chunk = playing_now.pop(0)
        chunk.write(answers)
        done += len(chunk.numbers)
        progress(done)

    with few_threads():
        for i, first in enumerate(range(0, total, most)):
            numbers = order[first : first + most]
            chunk = _Chunk(setting, strokes, numbers, own[numbers], knees[numbers])
            if len(playing_now) == len(slots):
                finish()
            chunk.play(slots[i % len(slots)])
            playing_now.append(chunk)
        while playing_now:
            finish()


def lanes_of_chunk(setting: Setting) -> int:
    """Return how many strokes a chunk has: whole fills of the card, fewer where much is kept of each."""
    player = setting.player
    rows = rows_of(player.nut, player.design.torsion_points, player.numbers.sections)
    fill = lanes_at_once(rows, player.numbers.body.shape[1])
    kept = 4 * setting.read * (3 if setting.starts else 2)
    most = _MEMORY // kept
    return max(min(_FILLS, most // fill) * fill, min(fill, most // SHARING * SHARING), SHARING)


def _knees(setting: Setting, strokes: Strokes) -> NDArray[np.int64]:
    """Return the step at which each bow has its speed, as `Setting.segments` reckons it, up to the last."""
    rise = setting.rise(strokes, np.arange(len(strokes.speed_m_s)))
    steps = np.minimum(strokes.speed_m_s / np.maximum(rise, 1e-30), setting.steps)
    return np.ceil(steps).astype(np.int64)


class _Slot:
    """Memory on the card for one chunk of at most so many strokes, used again for the next but one."""

    def __init__(self, setting: Setting, seats: list[Seat], lanes: int) -> None:
        player, self.seats = setting.player, seats
        numbers, hairs, modes = player.numbers, player.model.points, player.numbers.body.shape[1]
        rows = rows_of(player.nut, player.design.torsion_points, numbers.sections)
        self.stream = cuda.stream()
        self.kernel = playing(rows, hairs, modes, numbers.law, numbers.sections)
        body = np.zeros((5, max(modes, 1)), np.float32)
        body[:, :modes] = numbers.body
        # Only its numbers are used, in the card's precision.
        one = Strings(numbers, lanes=1, points=1, torsion_points=1, hairs=1, real=np.float32)
        self.fixed = self.sent(body), one.numbers, one.laws
        columns = (np.concatenate(c) for c in zip(*(seat.place.columns for seat in seats), strict=True))
        self.places = tuple(
            self.sent(np.repeat(c, 2, axis=0), np.int64 if c.dtype.kind == "i" else np.float32)
            for c in columns
        )
        blocks = [setting.shared(seat.place) for seat in seats]
        self.block = blocks[0]
        self.betas, self.saw_teeth = (
            self.sent([getattr(block, name) for block in blocks], np.float32)
            for name in ("beta", "saw_tooth")
        )
        self.strings = (
            self._new((rows, lanes)),
            self._new((max(modes, 1), 2, lanes)),
            self._new((hairs, HAIR, lanes)),
        )
        self.velocity, self.force = (self._new((setting.read, lanes)) for _ in range(2))
        self.tops = self._new((setting.read // setting.period, lanes))
        # What is not asked for is written to one place again and again.
        unwanted = (
            self._new((setting.read, lanes), strides=(0, 4)),
            self._new((setting.read, hairs, lanes), strides=(0, 0, 4)),
        )
        self.out = (self.velocity, self.force, *unwanted)
        self.read = self._new((lanes,), np.int8), self._new((reader.FIGURES, lanes))
        if setting.starts:
            self.heard = self._new((setting.read, lanes))
            self.memory = self._new((ROWS, lanes))
            self.told = self._new((lanes,), np.int8), self._new((reader.START_FIGURES, lanes))

    def sent(self, array: Any, dtype: Any = None) -> Any:
        """Return an array on the card."""
        return cuda.to_device(np.ascontiguousarray(array, dtype), stream=self.stream)

    def back(self, array: Any) -> Any:
        """Return an array from the card, when all that was asked of this slot before is done."""
        return array.copy_to_host(stream=self.stream)

    def _new(self, shape: tuple[int, ...], dtype: Any = np.float32, strides: Any = None) -> Any:
        return cuda.device_array(shape, dtype, strides=strides, stream=self.stream)


class _Chunk:
    """Strokes that are played at once: what is worked out for them beforehand, and what comes back."""

    def __init__(
        self,
        setting: Setting,
        strokes: Strokes,
        numbers: NDArray[np.intp],
        place: NDArray[np.intp],
        knees: NDArray[np.int64],
    ) -> None:
        self.setting, self.numbers, self.place, self.knees = setting, numbers, place, knees
        self.speed, self.weight = strokes.speed_m_s[numbers], strokes.weight_n[numbers]
        self.rise = setting.rise(strokes, numbers)
        seeds, self.wave = np.unique(strokes.seed[numbers], return_inverse=True)
        self.waves = setting.tremble(seeds)

    def play(self, slot: _Slot) -> None:
        """Ask the card to play and read the strokes; return before it has."""
        self.slot = slot
        setting, stream, lanes = self.setting, slot.stream, len(self.numbers)
        player, n = setting.player, rules(np.float32)
        place = slot.sent(self.place, np.int64)
        seats = slot.betas, slot.saw_teeth, place
        bow = slot.sent(self.rise, np.float32), slot.sent(self.speed, np.float32)
        weight = slot.sent(self.weight, np.float32)
        launch = -(-lanes // _THREADS), _THREADS, stream
        begin[launch](lanes, slot.sent(self.waves), slot.sent(self.wave, np.int64), *slot.strings)
        if setting.starts:
            _clear[launch](lanes, slot.memory)
        for piece in setting.pieces():
            slot.kernel[-(-lanes // SHARING), SHARING, stream](
                lanes, piece.start, len(piece) - min(len(piece), setting.read), player.nut,
                player.design.torsion_points, self._bow(slot, piece), place, slot.places, *slot.strings,
                *slot.fixed, slot.out,
            )  # fmt: skip
            if setting.starts:
                slot.heard.copy_to_device(slot.velocity, stream=stream)
                _start[launch](
                    lanes, slot.heard[: len(piece)], piece.start, setting.steps, *bow, seats, slot.block,
                    slot.memory, n,
                )  # fmt: skip
        _read[launch](
            lanes, slot.velocity, slot.force, slot.tops, setting.steps - setting.read, *bow, weight, seats,
            slot.block, n, *slot.read,
        )  # fmt: skip
        if setting.starts:
            _tell[launch](lanes, setting.steps, slot.block, slot.memory, n, *slot.told)

    def _bow(self, slot: _Slot, piece: range) -> tuple[Any, ...]:
        """Return the two segments of every stroke within a piece: up to its knee, and from there on."""
        edges = np.empty((3, len(self.numbers)), np.int64)
        edges[0], edges[1], edges[2] = piece.start, np.clip(self.knees, piece.start, piece.stop), piece.stop
        lengths = np.diff(edges, axis=0)
        return (
            slot.sent(lengths),
            slot.sent(1.0 / np.maximum(lengths, 1), np.float32),
            slot.sent(np.minimum(self.speed, self.rise * edges), np.float32),
            slot.sent(np.broadcast_to(self.weight, edges.shape), np.float32),
        )

    def write(self, answers: Answers) -> None:
        """Wait for the card, and put what was read where it belongs."""
        from colophony.physics.survey import write_answers

        slot, lanes = self.slot, len(self.numbers)
        states, figures = (slot.back(array) for array in slot.read)
        start = None
        if self.setting.starts:
            kinds, told = (slot.back(array) for array in slot.told)
            start = kinds[:lanes], told[:, :lanes]
        betas = np.array([seat.place.beta for seat in slot.seats])
        write_answers(answers, self.numbers, betas[self.place], states, figures, start)


# --- reading: what `regimes.cuda` does, with the place of the bow of each lane


def _on_card(function: Any) -> Any:
    return interpreted(function) if config.ENABLE_CUDASIM else function


_read_lane, _start_lane, _tell_lane = (
    _on_card(function) for function in (reader.read_lane, reader.start_lane, reader.tell_lane)
)


@kernel
def _clear(lanes, memory):  # type: ignore[no-untyped-def]
    lane = cuda.grid(1)
    if lane < lanes:
        for row in range(memory.shape[0]):
            memory[row, lane] = 0


def _own_block_of(lane, seats, block):  # type: ignore[no-untyped-def]
    """Return what the strokes share, with the place of this one.

    ``seats`` are beta and saw-tooth [places], and each lane's number of its place.
    """
    beta, saw_tooth, place = seats
    own = place[lane]
    return Block(
        block.samples_per_period, block.period, block.sample_s, beta[own], saw_tooth[own], block.octave_cents,
        block.nan,
    )  # fmt: skip


_own_block = _own_block_of if config.ENABLE_CUDASIM else cuda.jit(device=True)(_own_block_of)


@kernel
def _read(  # type: ignore[no-untyped-def]
    lanes, velocity, force, tops, first, rise, speed, weight, seats, block, n, states, figures
):
    lane = cuda.grid(1)
    if lane < lanes:
        own = _own_block(lane, seats, block)
        _read_lane(lane, velocity, force, tops, first, rise, speed, weight, own, n, states, figures)


@kernel
def _start(lanes, velocity, first, total, rise, speed, seats, block, memory, n):  # type: ignore[no-untyped-def]
    lane = cuda.grid(1)
    if lane < lanes:
        _start_lane(lane, velocity, first, total, rise, speed, _own_block(lane, seats, block), memory, n)


@kernel
def _tell(lanes, total, block, memory, n, kinds, figures):  # type: ignore[no-untyped-def]
    lane = cuda.grid(1)
    if lane < lanes:
        _tell_lane(lane, total, block, memory, n, kinds, figures)
