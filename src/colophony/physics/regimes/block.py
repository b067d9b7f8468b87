"""Read many runs at once from what the engine kept of them: the end of each, or its start as it comes.

A block is a set of runs side by side that share string, note and contact distance; arrays have the lane as
their last axis and one precision, that of `block_of` and `rules`. The functions ``..._block`` go through the
lanes of a block on a processor, letting go of the interpreter, so that threads may take a block each. The
functions ``..._lane`` do the same for one lane, as one thread of a card does it; they use up the arrays they
read (`colophony.physics.regimes.cuda`).

The bow sets out from rest, its speed rising by ``rise`` m/s a sample until it is ``speed`` m/s, which may be
out of reach (infinite). Neither is negative.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from colophony.physics.kernel.body import loop
from colophony.physics.regimes.start import conclude, is_over, listen_on
from colophony.physics.regimes.window import Setting, read_velocity

#: Rows of the figures that `read_block` writes. Cents from the free string are nan without a pitch.
SLIPS_PER_PERIOD, SLIP_FRACTION, STEP_RATIO, CENTS, CORRELATION = range(5)
FIGURES = 5
#: Rows of the figures that `tell_block` writes; nan where the string never settled, or never slipped.
SETTLING_PERIODS, FIRST_SLIP_S = range(2)
START_FIGURES = 2
#: Lanes that are copied side by side into a `Space`, and samples of each before the next.
_SIDE_BY_SIDE = 16
_AT_ONCE = 16


class Block(NamedTuple):
    """What the runs of a block share, in their precision."""

    samples_per_period: Any  #: whole number
    period: Any  #: the same
    sample_s: Any  #: time from one sample to the next, s
    beta: Any  #: contact distance over sounding length, as simulated
    saw_tooth: Any  #: 2 Z0 / beta: times the bow's speed, the ideal step at the bridge
    octave_cents: Any
    nan: Any


class Space(NamedTuple):
    """Where one thread reads: the columns of a few lanes, each lane's samples one after the other."""

    relative: Any  #: [samples, few] velocity of the bow over the string, ideal 1 in the slip
    force: Any  #: [samples, few]
    tops: Any  #: [periods, few] heights of slips in order


def block_of(
    *,
    samples_per_period: int,
    frequency_hz: float,
    beta: float,
    impedance_kg_s: float,
    real: Any = np.float32,
) -> Block:
    """Return what the runs of a block share; ``real`` is the type of their arrays."""
    return Block(
        samples_per_period,
        *(
            real(value)
            for value in (
                samples_per_period,
                1.0 / (samples_per_period * frequency_hz),
                beta,
                2.0 * impedance_kg_s / beta,
                1200.0,
                math.nan,
            )
        ),
    )


def space_for(samples: int, samples_per_period: int, real: Any = np.float32) -> Space:
    """Return the space in which one thread reads so many samples of any number of lanes."""
    periods = max(1, samples // samples_per_period)
    return Space(*(np.empty((rows, _SIDE_BY_SIDE), real, order="F") for rows in (samples, samples, periods)))


# --- the end of a run


@loop()
def read_block(velocity, force, first, rise, speed, weight, block, space, n, states, figures):  # type: ignore[no-untyped-def]
    """Read the last samples of every run of a block.

    Parameters
    ----------
    velocity : [samples, lanes] of the string under the bow, m/s; at least four periods, 16 by custom
    force : [samples, lanes] on the bridge, N
    first : number of the first of these samples since the bow set out
    rise, speed : [lanes] what the bow does, m/s a sample and m/s
    weight : [lanes] N at the end; without weight nothing is bowed
    block, space, n : `block_of`, `space_for` so many samples, `rules`
    states : [lanes] int8, written: index into `STATES`
    figures : [`FIGURES`, lanes], written
    """
    samples, lanes = velocity.shape
    side_by_side = space.relative.shape[1]
    for lane in range(0, lanes, side_by_side):
        few = min(side_by_side, lanes - lane)
        for row in range(0, samples, _AT_ONCE):
            after = min(row + _AT_ONCE, samples)
            for k in range(few):
                _slide_over(
                    velocity, lane + k, row, after, first, first + samples, rise, speed, block,
                    space.relative, k, n,
                )  # fmt: skip
                for i in range(row, after):
                    space.force[i, k] = force[i, lane + k]
        for k in range(few):
            _read_column(k, space, samples, lane + k, first, rise, speed, weight, block, n, states, figures)


@loop()
def read_lane(lane, velocity, force, tops, first, rise, speed, weight, block, n, states, figures):  # type: ignore[no-untyped-def]
    """Read one run as `read_block` does; ``tops`` [periods, lanes] is written over."""
    samples = velocity.shape[0]
    _slide_over(velocity, lane, 0, samples, first, first + samples, rise, speed, block, velocity, lane, n)
    space = Space(velocity, force, tops)
    _read_column(lane, space, samples, lane, first, rise, speed, weight, block, n, states, figures)


@loop()
def _read_column(at, space, samples, lane, first, rise, speed, weight, block, n, states, figures):  # type: ignore[no-untyped-def]
    """Read the column ``at`` of a space and write what the run in ``lane`` did."""
    zero = n.one - n.one
    mean = _mean_speed(rise[lane], speed[lane], first, first + samples, n)
    setting = Setting(
        block.samples_per_period, block.period, block.beta, block.saw_tooth * mean, weight[lane] > zero
    )
    seen, _ = read_velocity(at, space.relative, space.force, samples, space.tops, setting, n)
    states[lane] = seen.state
    figures[SLIPS_PER_PERIOD, lane] = seen.slips_per_period
    figures[SLIP_FRACTION, lane] = seen.slip_fraction
    figures[STEP_RATIO, lane] = seen.step_n / setting.ideal_step if setting.ideal_step > zero else block.nan
    figures[CENTS, lane] = -block.octave_cents * math.log2(seen.period) if seen.period > zero else block.nan
    figures[CORRELATION, lane] = seen.correlation


# --- the start of a run


@loop()
def start_block(velocity, first, total, rise, speed, block, space, memory, n):  # type: ignore[no-untyped-def]
    """Take the next piece of every run of a block whose starts are read.

    Parameters
    ----------
    velocity : [samples, lanes] of the string under the bow, m/s; the run's pieces in order, without gaps
    first : number of the first of these samples since the bow set out
    total : number of samples in the whole run
    rise, speed : [lanes] what the bow does, m/s a sample and m/s
    block, space, n : `block_of`, `space_for` any number of samples, `rules`
    memory : [`ROWS`, lanes], all 0 before the first piece
    """
    samples, lanes = velocity.shape
    side_by_side = space.relative.shape[1]
    for begin in range(0, samples, space.relative.shape[0]):
        count = min(space.relative.shape[0], samples - begin)
        piece = velocity[begin : begin + count]
        for lane in range(0, lanes, side_by_side):
            few = min(side_by_side, lanes - lane)
            for row in range(0, count, _AT_ONCE):
                after = min(row + _AT_ONCE, count)
                for k in range(few):
                    if is_over(lane + k, memory, n):
                        continue
                    _slide_over(
                        piece, lane + k, row, after, first + begin, total, rise, speed, block,
                        space.relative, k, n,
                    )  # fmt: skip
            for k in range(few):
                listen_on(
                    k, space.relative, first + begin, count, block.samples_per_period, block.period,
                    memory, lane + k, n,
                )  # fmt: skip


@loop()
def start_lane(lane, velocity, first, total, rise, speed, block, memory, n):  # type: ignore[no-untyped-def]
    """Take the next piece of one run as `start_block` does."""
    samples = velocity.shape[0]
    if is_over(lane, memory, n):
        return
    _slide_over(velocity, lane, 0, samples, first, total, rise, speed, block, velocity, lane, n)
    listen_on(lane, velocity, first, samples, block.samples_per_period, block.period, memory, lane, n)


@loop()
def tell_block(total, block, memory, n, kinds, figures):  # type: ignore[no-untyped-def]
    """Write how the runs of a block, each of ``total`` samples, began; their memory is used up.

    Parameters
    ----------
    kinds : [lanes] int8, written: index into `START_KINDS`
    figures : [`START_FIGURES`, lanes], written
    """
    for lane in range(memory.shape[1]):
        tell_lane(lane, total, block, memory, n, kinds, figures)


@loop()
def tell_lane(lane, total, block, memory, n, kinds, figures):  # type: ignore[no-untyped-def]
    """Write how one run began, as `tell_block` does."""
    zero = n.one - n.one
    told = conclude(lane, total, block.period, memory, n)
    kinds[lane] = told.kind
    figures[SETTLING_PERIODS, lane] = told.settling_periods if told.settling_periods >= zero else block.nan
    figures[FIRST_SLIP_S, lane] = told.first_slip * block.sample_s if told.first_slip >= zero else block.nan


# --- the bow


@loop(inlined=True)
def _slide_over(source, lane, row, after, first, total, rise, speed, block, target, at, n):  # type: ignore[no-untyped-def]
    """Put how fast the bow slides over the string, ideal 1 in the slip, from one column into another.

    Rows ``row`` to before ``after``; row 0 is the run's sample ``first`` of ``total``. While the bow is slow,
    its speed counts as a share of the greatest: else every velocity would be great beside it.
    """
    faster, greatest = rise[lane], speed[lane]
    zero = n.one - n.one
    real = type(n.one)
    slowest = n.slowest * min(faster * real(total - 1), greatest)
    sample = real(first + row)
    if faster * sample >= greatest:
        share = block.beta / max(greatest, n.tiny)
        for i in range(row, after):
            target[i, at] = (greatest - source[i, lane]) * share
        return
    for i in range(row, after):
        bow = min(faster * sample, greatest)
        reckoned = max(bow, max(slowest, n.tiny))
        # Before the bow has moved at all nothing slides.
        target[i, at] = (bow - source[i, lane]) * block.beta / reckoned if bow > zero else zero
        sample += n.one


@loop()
def _mean_speed(rise, speed, first, after, n):  # type: ignore[no-untyped-def]
    """Return the mean speed of the bow over samples ``first`` to before ``after``, in m/s."""
    real = type(n.one)
    begin, end = real(first), real(after)
    if rise * begin >= speed:
        return speed
    last = end
    if rise * (end - n.one) > speed:
        last = real(int(speed / rise) + 1)  # the first sample at which it is no longer faster
    risen = (last - begin) * rise * n.half * (begin + last - n.one)
    level = end - last
    if level > begin - begin:
        risen += level * speed
    return risen / (end - begin)
