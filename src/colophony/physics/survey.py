"""Ask many strokes of one string at once, and keep only what the string did.

`survey` sorts the strokes into blocks of one place of the hairs, plays each block side by side in single
precision, reads the state from the last periods and forgets the motion: memory does not grow with the number
of strokes. Processors take a block each. `colophony.physics.kernel.card` does the same on a graphics card.
"""

from __future__ import annotations

import math
import os
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_EXCEPTION, ThreadPoolExecutor, wait
from dataclasses import dataclass, fields
from itertools import pairwise
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from colophony.errors import InputError
from colophony.language import _
from colophony.physics.bowings import START_KINDS, Answers, Bowings
from colophony.physics.gestures import out_of_range
from colophony.physics.instruments import Instrument, find_instrument
from colophony.physics.kernel.state import LANES, Segments, Strings
from colophony.physics.player import Model, Place, Player, Target
from colophony.physics.regimes import block as reader
from colophony.physics.regimes.rules import rules
from colophony.physics.regimes.start import ROWS
from colophony.physics.simulation import note_of
from colophony.physics.strings import BowedString

Floats: TypeAlias = NDArray[np.float64]

#: The state is read from so many periods at the end of a stroke. Chosen, as are spread and tremble below.
READ_PERIODS = 16
#: The fewest samples a period: with 200 a map has the measured limits, with 150 and fewer it has not.
_FEWEST_SAMPLES = 200
#: Starts need twice as many: with 200 creaking ones are often told as slipping (docs/physics.md).
_TIMES_FOR_STARTS = 2
#: The hairs, each at a point of its own, may lie wider apart than in the ribbon by this factor.
_SPREAD = 1.3
#: Velocity of the waves with which a string begins that is not at rest, rms, m/s.
_TREMBLE_M_S = 1e-3
_LONGEST_PERIODS = 2000
#: Rise of the speed in a step that stands for an infinite one, m/s: 0 times it is 0.
_AT_ONCE = 1e30


def survey(
    instrument: Instrument | str,
    string: BowedString | str,
    bowings: Bowings,
    *,
    note: str | None = None,
    frequency_hz: float | None = None,
    periods: int = 100,
    starts: bool = False,
    model: Model | None = None,
    samples_per_period: int | None = None,
    target: Target = "cpu",
    threads: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Answers:
    """Return what the string did under each of many strokes.

    Parameters
    ----------
    instrument, string, note, frequency_hz : as `simulate`; the note does not change
    bowings : [n] strokes, in any order; those of one distance and tilt share the work of a block
    periods : length of every stroke in periods of the note, 20 to 2000. J. Woodhouse (Acustica 78, 137-153,
        1993) plays 100; a light bow may take longer to settle
    starts : also read how the strokes begin (``settling_periods``, ``first_slip_s``, ``start_kind``); else
        these are nan and unknown
    model : what is simulated; everything by default
    samples_per_period : 40 to 20 000; by default 200, on long strings as many as keep the hairs close; twice
        as many where starts are read
    target : ``"cpu"`` or ``"cuda"``
    threads : blocks at once; by default one for each processor
    progress : called with the strokes done and all of them

    Raises
    ------
    InputError : a stroke or number that is out of range
    """
    model = model or Model()
    instrument = find_instrument(instrument) if isinstance(instrument, str) else instrument
    string = instrument.string(string) if isinstance(string, str) else string
    course = note_of(string, note, frequency_hz)
    if not isinstance(course, float | int):
        raise InputError(_("the note of a survey does not change: give one frequency"))
    if not READ_PERIODS + 4 <= periods <= _LONGEST_PERIODS:
        raise InputError(
            _("{periods} periods are out of range: choose {least} to {most}").format(
                periods=periods, least=READ_PERIODS + 4, most=_LONGEST_PERIODS
            )
        )
    if target not in ("cpu", "cuda"):
        raise InputError(_("{target!r} is no target of a survey: choose cpu or cuda").format(target=target))
    setting = Setting(instrument, string, float(course), model, samples_per_period, periods, starts)
    strokes, places, same = setting.seat(Strokes.of(bowings))
    answers = _no_answers(len(strokes.weight_n))
    total = len(same)

    def told(done: int) -> None:
        if progress:
            progress(done * total // len(strokes.weight_n), total)

    if target == "cuda":
        from colophony.physics.kernel.card import answer_on_card

        answer_on_card(setting, strokes, places, answers, told)
    else:
        _answer_on_processors(setting, strokes, places, answers, threads or os.cpu_count() or 1, told)
    return Answers(*(getattr(answers, field.name)[same] for field in fields(Answers)))


@dataclass(frozen=True, slots=True, eq=False)
class Strokes:
    """`Bowings` in which every stroke has its own numbers: arrays [n]."""

    speed_m_s: Floats
    weight_n: Floats
    distance_m: Floats
    tilt_deg: Floats
    acceleration_m_s2: Floats
    seed: NDArray[np.int64]

    @classmethod
    def of(cls, bowings: Bowings) -> Strokes:
        """Return the strokes; `InputError` names the first number that is out of range."""
        columns = np.broadcast_arrays(*(np.atleast_1d(getattr(bowings, field.name)) for field in fields(cls)))
        if not columns[0].size:
            raise InputError(_("there are no strokes to bow: give one or more"))
        for values, name, least, most in (
            (columns[0], "speed", 0.0, math.inf),
            (columns[1], "weight", 0.0, 20.0),
            (columns[2], "distance", 0.0005, 1.0),
            (columns[3], "tilt", -60.0, 60.0),
            (columns[4], "acceleration", 0.0, math.inf),
        ):
            wrong = ~((values >= least) & (values <= most))
            if wrong.any():
                raise out_of_range(name, float(values[wrong][0]), least, most)
        if np.any(np.isinf(columns[0]) & np.isinf(columns[4])):
            raise InputError(
                _("a stroke has neither speed nor acceleration: give one of them a finite value")
            )
        seed = np.asarray(columns[5], np.int64)
        return cls(*(np.asarray(column, float) for column in columns[:5]), seed)  # type: ignore[call-arg]


@dataclass(frozen=True, slots=True, eq=False)
class Seat:
    """Strokes of one place of the hairs."""

    place: Place
    strokes: range

    def blocks(self, most: int) -> Iterator[NDArray[np.intp]]:
        """Yield the numbers of at most so many strokes at a time."""
        for first in range(self.strokes.start, self.strokes.stop, most):
            yield np.arange(first, min(first + most, self.strokes.stop))


class Setting:
    """What the strokes of a survey share."""

    def __init__(
        self,
        instrument: Instrument,
        string: BowedString,
        frequency_hz: float,
        model: Model,
        samples_per_period: int | None,
        periods: int,
        starts: bool,
    ) -> None:
        """Prepare the string at its note."""
        self.player = Player(
            instrument,
            string,
            frequency_hz=frequency_hz,
            model=model,
            samples_per_period=samples_per_period
            or _samples(instrument, string, frequency_hz, model) * (_TIMES_FOR_STARTS if starts else 1),
            precision="single",
        )
        self.frequency_hz, self.starts = frequency_hz, starts
        self.period = self.player.design.samples_per_period
        self.steps, self.read = periods * self.period, READ_PERIODS * self.period

    def pieces(self) -> list[range]:
        """Return the steps of a stroke in the pieces in which it is played and heard, the last to be read.

        A start is read from its first sample on; of the rest only the end is kept.
        """
        if not self.starts:
            return [range(self.steps)]
        odd = self.steps % self.read
        bounds = [*([0] if odd else []), *range(odd, self.steps + 1, self.read)]
        return [range(a, b) for a, b in pairwise(bounds)]

    def seat(self, strokes: Strokes) -> tuple[Strokes, list[Seat], NDArray[np.intp]]:
        """Return the strokes that differ for the engine, where the hairs lie in them, and which is whose.

        The hairs lie on whole points of the string: distances nearer to one another than that are one place,
        and the same stroke there is played once.
        """
        found: dict[int, int] = {}
        seats: list[Place] = []
        # Distance and tilt as one number: ten times as fast for a million as by two columns.
        settings, which = np.unique(strokes.distance_m + 1j * strokes.tilt_deg, return_inverse=True)
        number = np.empty(len(settings))
        for i, setting in enumerate(settings.tolist()):
            place = self.player.place(setting.real, setting.imag, self.frequency_hz)
            if id(place) not in found:
                found[id(place)] = len(seats)
                seats.append(place)
            number[i] = found[id(place)]
        rows = np.stack(
            [
                number[which],
                strokes.speed_m_s,
                strokes.acceleration_m_s2,
                strokes.weight_n,
                strokes.seed.astype(float),
            ]
        )
        order = np.lexsort(rows[::-1])
        rows = rows[:, order]
        is_new = np.concatenate([[True], np.any(rows[:, 1:] != rows[:, :-1], axis=0)])
        same = np.empty(len(order), np.intp)
        same[order] = np.cumsum(is_new) - 1
        one = order[is_new]
        kept = Strokes(*(getattr(strokes, field.name)[one] for field in fields(Strokes)))
        bounds = np.searchsorted(rows[0, is_new], np.arange(len(seats) + 1))
        return kept, [Seat(p, range(a, b)) for p, (a, b) in zip(seats, pairwise(bounds), strict=True)], same

    def rise(self, strokes: Strokes, lanes: NDArray[np.intp]) -> Floats:
        """Return by how much the bow's speed rises in a step, m/s; a bow may have it at once."""
        return np.minimum(strokes.acceleration_m_s2[lanes] / self.player.design.rate_hz, _AT_ONCE)

    def shared(self, place: Place) -> reader.Block:
        """Return what the reader needs to know of a block."""
        return reader.block_of(
            samples_per_period=self.period,
            frequency_hz=self.frequency_hz,
            beta=place.beta,
            impedance_kg_s=self.player.string.impedance_kg_s,
        )

    def tremble(self, seeds: NDArray[np.int64]) -> NDArray[np.float32]:
        """Return the waves with which strings begin, [2, points, lanes]; 0 for those at rest."""
        waves = np.zeros((2, self.player.nut, len(seeds)), np.float32)
        for seed in np.unique(seeds[seeds != 0]):
            drawn = np.random.default_rng(int(seed)).normal(0.0, _TREMBLE_M_S, waves.shape[:2])
            waves[:, :, seeds == seed] = drawn[:, :, None]
        return waves

    def segments(self, place: Place, speed: Floats, rise: Floats, weight: Floats, *, of: range) -> Segments:
        """Return steps of strokes that set out from rest: ``rise`` m/s a step up to ``speed``, [lanes]."""
        with np.errstate(divide="ignore"):
            knees = np.unique(np.ceil(np.minimum(speed / np.maximum(rise, 1e-30), 1e9))).astype(np.int64)
        inside = knees[(knees > of.start) & (knees < of.stop)]
        edges = np.concatenate([[of.start], inside, [of.stop]])
        lengths = np.diff(edges)
        count = len(lengths)
        nut, tuning, at, torsion_at, torsion_part, shares, roots = (
            np.repeat(column, count, axis=0) for column in place.columns
        )
        return Segments(
            lengths,
            nut,
            tuning,
            at,
            torsion_at,
            torsion_part,
            shares,
            roots,
            np.minimum(speed, rise * edges[:, None]),
            np.broadcast_to(weight, (count + 1, len(weight))),
        )


def _samples(instrument: Instrument, string: BowedString, frequency_hz: float, model: Model) -> int:
    """Return how many samples a period a survey takes when nobody says otherwise."""
    length = string.stopped_length_m(frequency_hz)
    close = 2 * (model.points - 1) * length / (_SPREAD * instrument.ribbon.width_m)
    return max(_FEWEST_SAMPLES, math.ceil(close))


def _no_answers(count: int) -> Answers:
    figures = [np.full(count, np.nan, np.float32) for _ in range(7)]
    state, kind = np.full(count, -1, np.int8), np.full(count, START_KINDS.index("unknown"), np.int8)
    return Answers(state, *figures, kind)  # type: ignore[call-arg, arg-type]


def write_answers(
    answers: Answers,
    block: NDArray[np.intp],
    beta: float | Floats,
    states: NDArray[np.int8],
    figures: NDArray[np.floating],
    start: tuple[NDArray[np.int8], NDArray[np.floating]] | None,
) -> None:
    """Put what was read of a block where it belongs; lanes beyond the block's strokes are left out."""
    count = len(block)
    answers.state[block] = states[:count]
    answers.beta[block] = beta
    for name, row in (
        ("slips_per_period", reader.SLIPS_PER_PERIOD),
        ("slip_fraction", reader.SLIP_FRACTION),
        ("step_ratio", reader.STEP_RATIO),
        ("cents", reader.CENTS),
    ):
        getattr(answers, name)[block] = figures[row, :count]
    if start is not None:
        kinds, told = start
        answers.start_kind[block] = kinds[:count]
        answers.settling_periods[block] = told[reader.SETTLING_PERIODS, :count]
        answers.first_slip_s[block] = told[reader.FIRST_SLIP_S, :count]


# --- on processors


def _answer_on_processors(
    setting: Setting,
    strokes: Strokes,
    seats: list[Seat],
    answers: Answers,
    threads: int,
    progress: Callable[[int], None],
) -> None:
    own = threading.local()
    done = 0

    def answer(place: Place, block: NDArray[np.intp]) -> None:
        if not hasattr(own, "space"):
            own.space = reader.space_for(setting.read, setting.period)
        _answer_block(setting, strokes, place, block, own.space, answers)

    with ThreadPoolExecutor(max_workers=threads) as pool:
        blocks = {
            pool.submit(answer, seat.place, block): len(block)
            for seat in seats
            for block in seat.blocks(LANES)
        }
        try:
            waiting = set(blocks)
            while waiting:
                finished, waiting = wait(waiting, timeout=0.2, return_when=FIRST_EXCEPTION)
                for block in finished:
                    block.result()
                    done += blocks[block]
                if finished:
                    progress(done)
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _answer_block(
    setting: Setting,
    strokes: Strokes,
    place: Place,
    block: NDArray[np.intp],
    space: Any,
    answers: Answers,
) -> None:
    """Play and read the strokes of one block; free lanes repeat its last stroke."""
    lanes = np.concatenate([block, np.repeat(block[-1:], LANES - len(block))])
    player, read = setting.player, setting.read
    speed, weight = strokes.speed_m_s[lanes], strokes.weight_n[lanes]
    rise = setting.rise(strokes, lanes)
    strings = Strings(
        player.numbers,
        lanes=LANES,
        points=player.nut,
        torsion_points=player.design.torsion_points,
        hairs=player.model.points,
        real=np.float32,
    )
    for line, waves in zip(strings.waves[:2], setting.tremble(strokes.seed[lanes]), strict=True):
        line += waves
    bow = (rise.astype(np.float32), speed.astype(np.float32))
    shared, n = setting.shared(place), rules(np.float32)
    memory = np.zeros((ROWS, LANES), np.float32)
    for piece in setting.pieces():
        segments = setting.segments(place, speed, rise, weight, of=piece)
        played = strings.play(segments, keep=min(read, len(piece)))
        if setting.starts:
            reader.start_block(played.velocity, piece.start, setting.steps, *bow, shared, space, memory, n)
    states = np.empty(LANES, np.int8)
    figures = np.empty((reader.FIGURES, LANES), np.float32)
    reader.read_block(
        played.velocity, played.force, setting.steps - read, *bow, weight.astype(np.float32),
        shared, space, n, states, figures,
    )  # fmt: skip
    start = None
    if setting.starts:
        kinds, told = np.empty(LANES, np.int8), np.empty((reader.START_FIGURES, LANES), np.float32)
        reader.tell_block(setting.steps, shared, memory, n, kinds, told)
        start = kinds, told
    write_answers(answers, block, place.beta, states, figures, start)
