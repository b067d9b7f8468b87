"""A plan as it sounds: every stroke bowed by the engine at the planned place, weight and speed.

A stroke is played string by string: notes under one bow on one string are one run of the string, whose
stopped length changes under the moving bow. A double stop is two strings under one bow. What is not
simulated: the left hand (vibrato, slides, harmonics), plucked notes, the room, and bows that bounce.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from colophony.app.bow import RATE_HZ
from colophony.app.score.moving import Moving, clock_of, notes_of
from colophony.app.score.values import PlannedScore
from colophony.errors import InputError
from colophony.language import _
from colophony.physics.gestures import Curve
from colophony.physics.gestures import Stroke as Gesture
from colophony.physics.instruments import Instrument, find_instrument
from colophony.physics.limits import guettler_2002, schoonderwaldt_2008
from colophony.physics.strings import BowedString
from colophony.teaching.room import weight_range_n
from colophony.teaching.score.course import Clock
from colophony.teaching.score.grouping import MOVES
from colophony.teaching.score.placing import hold
from colophony.teaching.score.strokes import Stroke
from colophony.teaching.sounding_points import POINTS, point_to_m
from colophony.teaching.wording.bowed import told_state

Sound = NDArray[np.float64]

#: Longest piece that is played, s.
LONGEST_S = 900.0
#: Strokes are rendered together for about so long: one block is heard while the next is computed.
BLOCK_S = 6.0
#: How long a string rings when the bow has left it, and how fast a bow comes to rest, s.
_RING_S, _STOP_S = 0.25, 0.03
#: A start: share of Guettler's least acceleration; quickest and slowest from rest to speed, s; how much more
#: weight than planned a hand gives for it at most, and in what time it gives that back, s. Found by trial.
_START_SHARE, _QUICKEST_S, _SLOWEST_S = 0.8, 0.01, 0.12
_GRIP, _GRIP_S = 2.0, 0.12
#: How long a finger takes to the next note, s. Chosen.
_FINGER_S = 0.012
#: A new string under the moving bow takes the weight in so many s; what begins so soon begins the stroke.
_CROSSING_S, _AT_ONCE_S = 0.025, 0.005
#: A stroke is read where it lasts so long, s.
_READ_S = 0.2
#: A place that changes by less, m, is one place.
_STEADY_M = 5e-4
#: A short note sounds for as long as its bow moves.
_SHORT = {name: MOVES[name] for name in ("staccato", "spiccato", "staccatissimo")}
#: A tone at full strength, for the level: speed m/s and place as a share of the string.
_TONE_SPEED_M_S, _TONE_BETA = 0.3, 0.1
#: Above this share of full scale the sound bends over; nothing is ever louder than the peak.
_BEND, _PEAK = 0.25, 0.35


@dataclass(frozen=True, slots=True)
class Block:
    """A stretch of the piece: the strokes that begin in it."""

    start_s: float
    strokes: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Run:
    """Notes that one string plays under one stroke without a gap, in seconds from the stroke's start."""

    string: BowedString
    notes: tuple[tuple[float, float, float], ...]  #: begin, end, frequency in Hz

    @property
    def begin_s(self) -> float:
        return self.notes[0][0]

    @property
    def end_s(self) -> float:
        return self.notes[-1][1]


def blocks_of(planned: PlannedScore) -> tuple[Block, ...]:
    """Return the piece in blocks of about `BLOCK_S`, cut between strokes; `InputError` if it is too long."""
    clock = clock_of(planned)
    length_s = clock.at(planned.part.duration_ql)
    if length_s > LONGEST_S:
        raise InputError(
            _(
                "the piece lasts {minutes} minutes, and at most {limit} are played: "
                "listen to single strokes, or load one movement"
            ).format(minutes=round(length_s / 60), limit=round(LONGEST_S / 60))
        )
    blocks: list[Block] = []
    for stroke in planned.plan.strokes:
        start = clock.at(stroke.onset_ql)
        if not blocks or start >= blocks[-1].start_s + BLOCK_S:
            blocks.append(Block(start, (stroke.index,)))
        else:
            blocks[-1] = replace(blocks[-1], strokes=(*blocks[-1].strokes, stroke.index))
    return tuple(blocks)


def block_sound(planned: PlannedScore, block: Block) -> Sound:
    """Return the sound of a block at `RATE_HZ`; it rings on into the next one, to which it is added."""
    clock = clock_of(planned)
    sounds = []
    for index in block.strokes:
        stroke = planned.plan.strokes[index]
        start = clock.at(stroke.onset_ql)
        sounds.append((start - block.start_s, _stroke_sound(planned, stroke, clock)))
    return _safe(_laid(sounds))


def piece_sound(planned: PlannedScore) -> Sound:
    """Return the sound of the whole piece at `RATE_HZ`; raises as `blocks_of`."""
    return _laid([(block.start_s, block_sound(planned, block)) for block in blocks_of(planned)])


def stroke_sound(planned: PlannedScore, index: int) -> Sound:
    """Return the sound of one stroke at `RATE_HZ`; `InputError` for one that is not there or not bowed."""
    return _safe(_stroke_sound(planned, _bowed(planned, index), clock_of(planned)))


def stroke_state(planned: PlannedScore, index: int) -> str | None:
    """Return what the string does at the end of a stroke, as `bow.Bowed.told_state`.

    None where this is not told: slurred notes, a short or plucked one. Raises `InputError` as `stroke_sound`.
    """
    from colophony.physics.regimes import read_motion
    from colophony.physics.simulation import simulate

    stroke = _bowed(planned, index)
    instrument, seconds = _instrument(planned), _seconds(planned, stroke, clock_of(planned))
    runs = _runs(planned, stroke, instrument, seconds)
    if len(runs) != 1 or len(runs[0].notes) != 1 or runs[0].end_s < _READ_S:
        return None
    (run,) = runs
    gesture = _gesture(run, stroke, seconds, parts=1)
    hertz = run.notes[0][2]
    motion = simulate(instrument, run.string, gesture, frequency_hz=hertz, seconds=0.9 * run.end_s - _STOP_S)
    now = _Now.of(stroke, 0.9, run, 1)
    _least, greatest_n = weight_range_n(run.string, beta=motion.beta, speed_m_s=now.speed_m_s)
    return told_state(str(read_motion(motion).state), weight_n=now.weight_n, greatest_n=greatest_n)


def _bowed(planned: PlannedScore, index: int) -> Stroke:
    """Return a bowed stroke by its index; `InputError` for one that is not there or plucked."""
    if not 0 <= index < len(planned.plan.strokes):
        raise InputError(
            _("there is no stroke {number}: the plan has {count}").format(
                number=index + 1, count=len(planned.plan.strokes)
            )
        )
    if planned.plan.strokes[index].is_plucked:
        raise InputError(_("this note is plucked: only what is bowed is played"))
    return planned.plan.strokes[index]


def _instrument(planned: PlannedScore) -> Instrument:
    return find_instrument(planned.plan.instrument, planned.plan.size, a4_hz=planned.request.a4_hz)


def _seconds(planned: PlannedScore, stroke: Stroke, clock: Clock) -> float:
    return clock.at(stroke.onset_ql + stroke.duration_ql) - clock.at(stroke.onset_ql)


def _stroke_sound(planned: PlannedScore, stroke: Stroke, clock: Clock) -> Sound:
    instrument, seconds = _instrument(planned), _seconds(planned, stroke, clock)
    if stroke.is_plucked or seconds <= 0.0:
        return np.zeros(0)
    runs = _runs(planned, stroke, instrument, seconds)
    sounds = [
        (run.begin_s, _run_sound(instrument, run, stroke, seconds, parts=_width(runs, run))) for run in runs
    ]
    return _laid(sounds) * _gain(planned.plan.instrument, planned.plan.size)


def _runs(planned: PlannedScore, stroke: Stroke, instrument: Instrument, seconds: float) -> list[_Run]:
    """Return which string plays which notes of a stroke and when."""
    finished: list[_Run] = []
    open_runs: dict[str, list[tuple[float, float, float]]] = {}
    moving = [note for note in notes_of(planned, stroke) if note.event.pitches and note.end > note.begin]
    for note in moving:
        begin, end = note.begin * seconds, _stops(note) * seconds
        held = hold(note.event, instrument.strings, a4_hz=planned.request.a4_hz)
        strings = {string.name: hz for string, hz in zip(held.strings, held.frequencies_hz, strict=True)}
        for letter in [letter for letter in open_runs if letter not in strings]:
            finished.append(_Run(instrument.string(letter), tuple(open_runs.pop(letter))))
        for letter, hz in strings.items():
            before = open_runs.get(letter)
            if before is not None and begin - before[-1][1] > 1e-6:  # short notes: the bow stops between
                finished.append(_Run(instrument.string(letter), tuple(open_runs.pop(letter))))
            if before is not None and note.event.is_tied and before[-1][2] == hz and letter in open_runs:
                before[-1] = (before[-1][0], end, hz)
            else:
                open_runs.setdefault(letter, []).append((begin, end, hz))
    finished += [_Run(instrument.string(letter), tuple(notes)) for letter, notes in open_runs.items()]
    return sorted(finished, key=lambda run: run.begin_s)


def _stops(note: Moving) -> float:
    """Return the share of the stroke's time at which a note stops sounding."""
    short = min((_SHORT.get(name, 1.0) for name in note.event.articulations), default=1.0)
    return note.begin + short * (note.end - note.begin)


def _width(runs: Sequence[_Run], run: _Run) -> int:
    """Return on how many strings the bow rests where a run begins."""
    return max(1, sum(other.begin_s <= run.begin_s < other.end_s for other in runs))


def _run_sound(instrument: Instrument, run: _Run, stroke: Stroke, seconds: float, *, parts: int) -> Sound:
    """Return what a string sounds under one stroke, ringing on after it."""
    from colophony.physics.simulation import simulate
    from colophony.physics.sound import render_sound

    motion = simulate(
        instrument,
        run.string,
        _gesture(run, stroke, seconds, parts=parts),
        frequency_hz=_fingers(run),
        seconds=run.end_s - run.begin_s + _RING_S,
    )
    return render_sound(motion, rate_hz=RATE_HZ)


def _gesture(run: _Run, stroke: Stroke, seconds: float, *, parts: int) -> Gesture:
    """Return what the bow does on one string: it grips, moves as planned, and comes to rest."""
    length = run.end_s - run.begin_s
    first, last = (_Now.of(stroke, time / seconds, run, parts) for time in (run.begin_s, run.end_s))
    if run.begin_s < _AT_ONCE_S:
        start_s, grip_n = _start(run, first, at_most_s=0.3 * length)
    else:
        start_s, grip_n = min(_CROSSING_S, 0.3 * length), 0.0
    settled_s = min(start_s + _GRIP_S, 0.6 * length)
    stop_s = min(_STOP_S, 0.2 * length)
    bends = [moment.share * seconds - run.begin_s for moment in stroke.path]
    bends = [time for time in bends if settled_s + 1e-3 < time < length - stop_s - 1e-3]
    between = [_Now.of(stroke, (run.begin_s + time) / seconds, run, parts) for time in bends]
    sign = 1.0 if stroke.direction == "down" else -1.0
    moving = [sign * now.speed_m_s for now in (first, *between, last)]
    weights = [now.weight_n for now in (first, *between, last)]
    places = [now.distance_m for now in (first, *between, last)]
    steady = max(places) - min(places) < _STEADY_M
    return Gesture(
        Curve((0.0, start_s, *bends, length - stop_s, length), (0.0, *moving, 0.0)),
        Curve(
            (0.0, start_s, settled_s, *bends, length - 0.5 * stop_s, length),
            (grip_n, max(grip_n, weights[0]), *weights, 0.0),
        ),
        places[0] if steady else Curve((0.0, *bends, length), tuple(places)),
    )


@dataclass(frozen=True, slots=True)
class _Now:
    """The bow on one string at a moment of a stroke."""

    speed_m_s: float
    weight_n: float
    distance_m: float

    @classmethod
    def of(cls, stroke: Stroke, share: float, run: _Run, parts: int) -> _Now:
        """Return the plan at a share of a stroke's time; several strings share the weight."""
        shares = [moment.share for moment in stroke.path]
        speed, weight, point = (
            float(np.interp(share, shares, [getattr(moment, name) for moment in stroke.path]))
            for name in ("speed_cm_s", "weight_n", "sounding_point")
        )
        point = min(max(point, 0.6), POINTS + 0.4)
        return cls(speed / 100.0, weight / parts, point_to_m(point, run.string, frequency_hz=run.notes[0][2]))


def _start(run: _Run, now: _Now, *, at_most_s: float) -> tuple[float, float]:
    """Return how long a bow takes from rest to its speed, and the weight with which it grips the string.

    The least acceleration that starts without fault grows with the weight (Guettler 2002); a bow takes
    `_START_SHARE` of it, as in `colophony.app.bow`. Where the note leaves no time for that the hand gives
    more weight until the bow has its speed, up to `_GRIP` times the planned.
    """
    f0 = run.notes[0][2]
    least, _most = guettler_2002.acceleration_window_m_s2(
        F=1.0,
        Z0=run.string.impedance_kg_s,
        f0=f0,
        beta=min(now.distance_m / run.string.stopped_length_m(f0), 0.45),
        mu_s=schoonderwaldt_2008.MU_S,
        mu_d=schoonderwaldt_2008.MU_D,
    )
    usual_s = now.speed_m_s / (_START_SHARE * least * max(now.weight_n, 1e-3))
    start_s = min(max(usual_s, _QUICKEST_S), _SLOWEST_S, at_most_s)
    return start_s, now.weight_n * min(max(usual_s / start_s, 1.0), _GRIP)


def _fingers(run: _Run) -> Curve:
    """Return the note over the time of a run: each held, then changed within `_FINGER_S`."""
    times, values = [0.0], [run.notes[0][2]]
    for (_b, _e, before), (begin, _end, after) in pairwise(run.notes):
        at = begin - run.begin_s
        times += [max(at, times[-1] + 1e-4), max(at, times[-1] + 1e-4) + _FINGER_S]
        values += [before, after]
    return Curve(tuple(times), tuple(values))


@cache
def _gain(instrument_name: str, size: str) -> float:
    """Return the factor that brings a full tone of this instrument near the peak of what is played."""
    from colophony.physics.gestures import steady
    from colophony.physics.simulation import simulate
    from colophony.physics.sound import render_sound

    instrument = find_instrument(instrument_name, size)
    peaks = []
    for string in instrument.strings:
        _least, most = weight_range_n(string, beta=_TONE_BETA, speed_m_s=_TONE_SPEED_M_S)
        stroke = steady(_TONE_SPEED_M_S, 0.4 * most, _TONE_BETA * string.sounding_length_m)
        sound = render_sound(simulate(instrument, string, stroke, seconds=0.6), rate_hz=RATE_HZ)
        peaks.append(float(np.abs(sound).max()))
    return _BEND / max(peaks)


def _safe(sound: Sound) -> Sound:
    """Return a sound that bends over above `_BEND` and never passes `_PEAK`, in shares of full scale."""
    loud = np.abs(sound)
    bent = _BEND + (_PEAK - _BEND) * np.tanh((loud - _BEND) / (_PEAK - _BEND))
    return np.where(loud <= _BEND, sound, np.copysign(bent, sound))


def _laid(sounds: Sequence[tuple[float, Sound]]) -> Sound:
    """Return sounds added up, each from its time in s on."""
    placed = [(round(max(start, 0.0) * RATE_HZ), sound) for start, sound in sounds]
    whole = np.zeros(max((first + len(sound) for first, sound in placed), default=0))
    for first, sound in placed:
        whole[first : first + len(sound)] += sound
    return whole
