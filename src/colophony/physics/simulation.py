"""How does the string answer this bow? `simulate` plays one stroke, `simulate_many` many side by side."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from itertools import pairwise
from typing import get_args

import numpy as np
from numpy.typing import NDArray

from colophony.errors import InputError
from colophony.language import N_, _, figures
from colophony.physics.gestures import Course, Stroke, as_curve
from colophony.physics.instruments import Instrument, find_instrument
from colophony.physics.kernel.state import LANES
from colophony.physics.motion import Motion
from colophony.physics.player import Model, Player, Precision, Target
from colophony.physics.strings import BowedString
from colophony.units import note_to_hz

__all__ = ["Model", "simulate", "simulate_many"]

#: A hair slides where it is this much of the bow's speed behind the string or ahead of it.
_SLIDING_SHARE = 0.1
_LONGEST_S = 120.0
_SIGNALS = ("velocity", "force", "sound", "sliding")
#: From so many runs on, a block of `LANES` is faster than one after the other.
_FEWEST_SIDE_BY_SIDE = 8


def simulate(
    instrument: Instrument | str,
    string: BowedString | str,
    bow: Stroke,
    *,
    note: str | None = None,
    frequency_hz: Course | None = None,
    seconds: float = 1.0,
    model: Model | None = None,
    samples_per_period: int | None = None,
    frames: int = 0,
    target: Target = "cpu",
    precision: Precision = "double",
) -> Motion:
    """Return what a string did under a stroke, from rest.

    Travelling waves on both sides of the bow, with the losses and stiffness of this string, torsion, a
    ribbon of several hairs, and the body's modes at the bridge coupled both ways (`Model`).

    Parameters
    ----------
    instrument : an `Instrument`, or the name of a full-size one
    string : a `BowedString`, its letter or its open note
    bow : what the bow does
    note : name of the note, such as "B3"; the open string where neither this nor ``frequency_hz`` is given
    frequency_hz : the note in Hz, or a `Curve` of it (note changes, vibrato)
    seconds : length of the run, above 0, to 120
    model : what is simulated; everything by default
    samples_per_period : 40 to 20 000; by default the fewest that give 96 kHz, at least 200
    frames : shapes of the string to keep over the last two periods, 0 to 1000
    target : "cpu", "python" (slow, for comparison) or "cuda"
    precision : "double" or "single"

    Returns
    -------
    `Motion`, from the first sample on

    Raises `InputError` for anything out of range, with the limit and what to do.
    """
    return _run(
        instrument,
        string,
        [bow],
        note,
        frequency_hz,
        seconds,
        model,
        samples_per_period,
        frames,
        target,
        precision,
        None,
    )[0]


def simulate_many(
    instrument: Instrument | str,
    string: BowedString | str,
    bows: Sequence[Stroke],
    *,
    note: str | None = None,
    frequency_hz: Course | None = None,
    seconds: float = 1.0,
    model: Model | None = None,
    samples_per_period: int | None = None,
    keep_periods: float | None = None,
    target: Target = "cpu",
    precision: Precision = "single",
) -> list[Motion]:
    """Return what the string did under each of many strokes, played side by side.

    The strokes may differ in speed and weight; contact distance and tilt must be the same.
    ``keep_periods`` keeps only so many periods of the note at the end of each run. Else as `simulate`.
    """
    return _run(
        instrument,
        string,
        bows,
        note,
        frequency_hz,
        seconds,
        model,
        samples_per_period,
        0,
        target,
        precision,
        keep_periods,
    )


def _run(
    instrument: Instrument | str,
    string: BowedString | str,
    bows: Sequence[Stroke],
    note: str | None,
    frequency_hz: Course | None,
    seconds: float,
    model: Model | None,
    samples_per_period: int | None,
    frames: int,
    target: Target,
    precision: Precision,
    keep_periods: float | None,
) -> list[Motion]:
    model = model or Model()
    instrument = find_instrument(instrument) if isinstance(instrument, str) else instrument
    string = instrument.string(string) if isinstance(string, str) else string
    course = note_of(string, note, frequency_hz)
    if not 0.0 < seconds <= _LONGEST_S:
        raise InputError(
            _("{seconds} s of bowing is out of range: choose above 0, to {most} s").format(
                seconds=figures(f"{seconds:g}"), most=figures(f"{_LONGEST_S:g}")
            )
        )
    for name, value, known in (
        (N_("target"), target, get_args(Target)),
        (N_("precision"), precision, get_args(Precision)),
    ):
        if value not in known:
            raise InputError(
                _("{given!r} is no {kind}: choose one of {known}").format(
                    given=value, kind=_(name), known=", ".join(known)
                )
            )
    if not bows:
        return []
    if any((b.distance_m, b.tilt_deg) != (bows[0].distance_m, bows[0].tilt_deg) for b in bows):
        raise InputError(
            _(
                "strokes side by side must share contact distance and tilt: play those of another distance "
                "apart"
            )
        )
    if not 0 <= frames <= 1000:
        raise InputError(_("{count} shapes are out of range: choose 0 to 1000").format(count=frames))
    play = partial(
        _play_block,
        instrument,
        string,
        course=course,
        seconds=seconds,
        model=model,
        samples_per_period=samples_per_period,
        frames=frames,
        target=target,
        precision=precision,
        keep_periods=keep_periods,
    )
    if target != "cpu" or len(bows) < _FEWEST_SIDE_BY_SIDE:
        return play(bows) if target == "cuda" else [motion for bow in bows for motion in play([bow])]
    motions: list[Motion] = []
    for first in range(0, len(bows), LANES):
        block = list(bows[first : first + LANES])
        filled = block + [block[-1]] * (LANES - len(block))
        motions += play(filled)[: len(block)]
    return motions


def _play_block(
    instrument: Instrument,
    string: BowedString,
    bows: Sequence[Stroke],
    *,
    course: Course,
    seconds: float,
    model: Model,
    samples_per_period: int | None,
    frames: int,
    target: Target,
    precision: Precision,
    keep_periods: float | None,
) -> list[Motion]:
    """Play strokes side by side, one a lane."""
    curve = as_curve(course)
    player = Player(
        instrument,
        string,
        frequency_hz=curve.values[0],
        lowest_hz=min(curve.values),
        model=model,
        lanes=len(bows),
        samples_per_period=samples_per_period,
        precision=precision,
        target=target,
    )
    design = player.design
    steps = max(1, round(seconds * design.rate_hz))
    keep = steps if keep_periods is None else min(steps, round(keep_periods * design.samples_per_period))
    shown = min(steps, 2 * design.samples_per_period) if frames else 0
    pieces = (
        [player.play(bows, steps=steps - shown, keep=keep - shown, frequency_hz=course)]
        if steps > shown
        else []
    )
    shapes, times = [], []
    for begin, end in pairwise(_cuts(shown, frames)):
        if end > begin:
            pieces.append(player.play(bows, steps=end - begin, frequency_hz=course))
        shapes.append(player.shape_m())
        times.append(player.time_s)
    velocity, force, sound, sliding = (
        np.concatenate(parts) if len(parts) > 1 else parts[0]
        for parts in ([getattr(piece, name) for piece in pieces] for name in _SIGNALS)
    )
    clock = (np.arange(steps - keep, steps)) / design.rate_hz
    return [
        motion_of(
            player,
            velocity=velocity[:, lane],
            force=force[:, lane],
            sound=sound[:, lane],
            sliding=sliding[:, :, lane],
            speed=_over(bow.speed_m_s, clock),
            weight=_over(bow.weight_n, clock),
            frequency_hz=float(curve.values[-1]),
            shapes=shapes,
            shape_times=times,
        )
        for lane, bow in enumerate(bows)
    ]


def _over(course: Course, clock: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a course at times that increase; what is constant from some time on is not looked up."""
    curve = as_curve(course)
    moving = int(np.searchsorted(clock, curve.times_s[-1]))
    values = np.full(len(clock), curve.values[-1])
    values[:moving] = curve.at(clock[:moving])
    return values


def motion_of(
    player: Player,
    *,
    velocity: NDArray[np.floating],
    force: NDArray[np.floating],
    sound: NDArray[np.floating],
    sliding: NDArray[np.floating],
    speed: NDArray[np.float64],
    weight: NDArray[np.float64],
    frequency_hz: float,
    shapes: Sequence[NDArray[np.float64]] = (),
    shape_times: Sequence[float] = (),
) -> Motion:
    """Return the `Motion` of a player's last samples; arrays as there, ``sliding`` [n, hairs] in m/s."""
    design = player.design
    positions = player.positions_m()
    slow = np.maximum(np.abs(speed) * _SLIDING_SHARE, 1e-4)
    return Motion(
        rate_hz=design.rate_hz,
        frequency_hz=frequency_hz,
        samples_per_period=design.samples_per_period,
        beta=player.beta,
        impedance_kg_s=player.string.impedance_kg_s,
        start_s=player.time_s - len(velocity) / design.rate_hz,
        bow_speed_m_s=speed,
        weight_n=weight,
        velocity_m_s=velocity,
        slipping=np.abs(sliding) > slow[:, None],
        bridge_force_n=force,
        sound=sound,
        shapes_m=np.array(shapes) if len(shapes) else np.zeros((0, len(positions))),
        shape_times_s=np.array(shape_times),
        shape_positions_m=positions,
        warnings=tuple(player.warnings),
    )


def _cuts(steps: int, parts: int) -> list[int]:
    """Return the bounds of ``parts`` nearly equal stretches of steps."""
    return [round(steps * i / parts) for i in range(parts + 1)] if parts else []


def note_of(string: BowedString, note: str | None, frequency_hz: Course | None) -> Course:
    """Return the note asked for, refusing what the string cannot play."""
    if note is not None and frequency_hz is not None:
        raise InputError(_("a note was given both by name and in Hz: give one of them"))
    course: Course = string.open_frequency_hz
    if note is not None:
        course = note_to_hz(note)
    elif frequency_hz is not None:
        course = frequency_hz
    for value in as_curve(course).values:
        if not 0.94 * string.open_frequency_hz <= value <= 8.0 * string.open_frequency_hz:
            raise cannot_be_played(value, string)
    return course


def cannot_be_played(frequency_hz: float, string: BowedString) -> InputError:
    """Return the refusal of a note that a string cannot play."""
    return InputError(
        _(
            "{frequency} Hz cannot be played on the {string} string: choose {open} Hz (open) to {most} Hz"
        ).format(
            frequency=figures(f"{frequency_hz:.1f}"),
            string=string.name,
            open=figures(f"{string.open_frequency_hz:.1f}"),
            most=f"{8 * string.open_frequency_hz:.0f}",
        )
    )
