"""Where on the string does a stroke run, and with what weight? Its room on this instrument decides.

A dynamic is a level of the string's motion, v_b / beta: the speed that the hair allows says how far from the
bridge that level lies (`dynamics.point_for`). There the playable range of the string at this note and speed
gives the weight: its middle in ratio. Where it leaves no range the bow goes to the nearest point with one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from colophony import units
from colophony.physics.strings import BowedString, highest_note
from colophony.teaching.room import Room, Span, weight_range_n
from colophony.teaching.score.dynamics import (
    FARTHEST_POINT,
    NEAREST_POINT,
    level_db,
    point_for,
    speeds,
    usual_point,
)
from colophony.teaching.score.piece import Event, Pitch
from colophony.teaching.sounding_points import point_to_m

#: Tells between which weights a string speaks: string, note in Hz, distance in m, speed in m/s.
AskRoom: TypeAlias = Callable[[BowedString, float, float, float], Room]

#: The greatest weight that an arm lays on the string with ease, N. From memory: 0.1 to 3 N on the violin; the
#: others are estimates from the weight of their bows and strings.
ARM_N = {"violin": 3.0, "viola": 3.5, "cello": 6.0, "double bass": 10.0}
#: With less range than this, dB, a place is not chosen while there is another.
_ROOM_WANTED_DB = 6.0
_STEP = 0.2
_SLOWEST_M_S = 0.01
#: Fingers of one hand span so many semitones at most between two neighbouring strings. Chosen.
_SPAN_SEMITONES = 9


@dataclass(frozen=True, slots=True)
class Hold:
    """On which strings a note or double stop lies; empty where it cannot be played."""

    strings: tuple[BowedString, ...]
    frequencies_hz: tuple[float, ...]

    @property
    def name(self) -> str:
        """Letters of the strings from the lowest, "G" or "G+D"."""
        return "+".join(string.name for string in self.strings)


@dataclass(frozen=True, slots=True)
class Place:
    """Where a bow of some speed runs for a dynamic, and what the string bears there."""

    point: float
    distance_m: float
    weight_n: float
    span_n: Span | None  #: playable, within what an arm can give
    short_db: float = 0.0  #: level that is missing; negative where it is too loud

    @property
    def range_db(self) -> float | None:
        """Playable span of weight, dB."""
        return None if self.span_n is None else 20.0 * math.log10(self.span_n[1] / self.span_n[0])


def hold(event: Event, strings: Sequence[BowedString], *, a4_hz: float) -> Hold:
    """Return on which strings the notes of an event lie: in the lowest position, unless the score asks.

    Three notes and more are broken: the bow rests on the two highest.

    Parameters
    ----------
    strings : of the instrument, from the lowest
    """
    pitches = event.pitches[-2:]
    if len(pitches) == 1:
        pitch = pitches[0]
        frequency = units.midi_to_hz(pitch.midi, a4_hz)
        found = [string for string in strings if _plays(string, pitch)]
        if pitch.string_number and pitch.string_number <= len(strings):
            asked = strings[len(strings) - pitch.string_number]
            found = [asked] if asked in found else found
        return Hold((found[-1],), (frequency,)) if found else Hold((), ())
    low, high = pitches
    for k in reversed(range(len(strings) - 1)):
        lower, upper = strings[k], strings[k + 1]
        if _plays(lower, low) and _plays(upper, high):
            stops = _stop(lower, low), _stop(upper, high)
            if 0 in stops or abs(stops[0] - stops[1]) <= _SPAN_SEMITONES:
                return Hold(
                    (lower, upper), tuple(units.midi_to_hz(pitch.midi, a4_hz) for pitch in (low, high))
                )
    return Hold((), ())


def wanted_point(degree: float, speed_mm_s: float, instrument: str) -> float:
    """Return the sounding point at which a speed gives a dynamic's level, as near and far as a bow goes."""
    return min(FARTHEST_POINT, max(NEAREST_POINT, point_for(degree, speed_mm_s, instrument)))


def place(held: Hold, degree: float, speed_mm_s: float, *, ask: AskRoom, point: float | None = None) -> Place:
    """Return where a bow of a speed runs for a dynamic, and its weight.

    Parameters
    ----------
    degree : of the dynamic, 0 (ppp) to 7 (fff)
    ask : the room of a string
    point : that is wanted; the one of the dynamic's level (`wanted_point`) when None
    """
    instrument = held.strings[0].instrument
    wanted = wanted_point(degree, speed_mm_s, instrument) if point is None else point
    arm = ARM_N[instrument]
    best, best_db = wanted, -1.0
    spans: dict[float, Span | None] = {}
    for point in _outward(wanted):
        span = spans[point] = _span(held, point, speed_mm_s, ask, arm)
        here = 0.0 if span is None else 20.0 * math.log10(span[1] / span[0])
        if here > best_db + 1.0:
            best, best_db = point, here
        if best_db >= _ROOM_WANTED_DB:
            break
    span = spans[best]
    weight = _unsure_weight_n(held, best, speed_mm_s, arm) if span is None else math.sqrt(span[0] * span[1])
    asked_db = level_db(speeds(degree, instrument).usual, usual_point(degree))
    return Place(
        point=best,
        distance_m=point_to_m(best, held.strings[0], frequency_hz=held.frequencies_hz[0]),
        weight_n=weight,
        span_n=span,
        short_db=asked_db - level_db(max(speed_mm_s, 1.0), best),
    )


def published_room(string: BowedString, frequency_hz: float, distance_m: float, speed_m_s: float) -> Room:
    """Return the room that the published limits give: an `AskRoom` that computes nothing."""
    beta = distance_m / string.stopped_length_m(frequency_hz)
    least, greatest = weight_range_n(string, beta=beta, speed_m_s=speed_m_s)
    return Room(distance_m, speed_m_s, (least, greatest) if least < greatest else None)


def _outward(wanted: float) -> list[float]:
    """Return points from the wanted one on, by how far they lie from it; of two as far the farther first."""
    steps = range(1, int((FARTHEST_POINT - NEAREST_POINT) / _STEP) + 1)
    points = [wanted]
    for k in steps:
        points += [wanted + k * _STEP, wanted - k * _STEP]
    return [round(point, 3) for point in points if NEAREST_POINT <= point <= FARTHEST_POINT] or [wanted]


def _span(held: Hold, point: float, speed_mm_s: float, ask: AskRoom, arm: float) -> Span | None:
    """Return between which weights all strings under the bow speak, in sum; None where one does not."""
    least = greatest = 0.0
    for string, frequency in zip(held.strings, held.frequencies_hz, strict=True):
        distance = point_to_m(point, string, frequency_hz=frequency)
        room = ask(string, frequency, distance, max(_SLOWEST_M_S, speed_mm_s / 1000.0)).weight_n
        if room is None:
            return None
        least, greatest = least + room[0], greatest + room[1]
    greatest = min(greatest, arm)
    return (least, greatest) if least < greatest else None


def _unsure_weight_n(held: Hold, point: float, speed_mm_s: float, arm: float) -> float:
    """Return the weight between the published limits where no range is sure."""
    string, frequency = held.strings[0], held.frequencies_hz[0]
    beta = point_to_m(point, string, frequency_hz=frequency) / string.stopped_length_m(frequency)
    least, greatest = weight_range_n(string, beta=beta, speed_m_s=max(_SLOWEST_M_S, speed_mm_s / 1000.0))
    return min(arm, math.sqrt(least * greatest))


def _plays(string: BowedString, pitch: Pitch) -> bool:
    return (
        0
        <= _stop(string, pitch)
        <= units.note_to_midi(highest_note(string)) - units.note_to_midi(string.note)
    )


def _stop(string: BowedString, pitch: Pitch) -> int:
    """Return semitones of a pitch above the open string."""
    return pitch.midi - units.note_to_midi(string.note)
