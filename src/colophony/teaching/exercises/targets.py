"""What an exercise asks of one instrument: place, weight, speed and tilt, each with its tolerance.

The exercise says where inside the playable range it wants the weight; the range comes from the maps of this
string at this speed. Where the range is closed, or hardly open, the nearest stroke that can be done takes its
place, and the target says so.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

from colophony.errors import InputError
from colophony.language import _, note_name
from colophony.physics.bows import find_bow
from colophony.physics.strings import BowedString, highest_note, strings_of
from colophony.teaching.exercises.exercise import (
    Exercise,
    Remark,
    StrokeSpec,
    Target,
    TargetPlace,
)
from colophony.teaching.exercises.ranges import AskRanges, StringRanges, published_ranges
from colophony.teaching.sounding_points import POINTS, m_to_point, point_to_m, point_width_m
from colophony.units import midi_to_note, note_to_midi

#: With less than this span of weight, twice the least, a stroke counts as not possible. A choice.
LEAST_RANGE_DB = 6.0
#: How far beats may be changed to find a stroke that can be done, and the steps in which points move.
_OTHER_BEATS = (1.0, 0.75, 1.5, 0.5, 2.0, 0.25)
_POINT_STEP = 0.25
#: Of the way to the nearer edge this share is tolerance. A choice: the other half is reserve.
_TOLERANCE_SHARE = 0.5
_GREATEST_SPEED_TOLERANCE, _LEAST_PLACE_TOLERANCE_MM, _TILT_TOLERANCE_DEG = 0.25, 1.0, 10.0


def targets_of(
    exercise: Exercise,
    instrument: str,
    size: str = "4/4",
    *,
    ask: AskRanges = published_ranges,
    hair_mm: float | None = None,
    a4_hz: float = 440.0,
) -> tuple[Target, ...]:
    """Return what an exercise asks on an instrument, a target for each of its strings in their order.

    Parameters
    ----------
    instrument, size : as `physics.strings.find_string`
    ask : has the maps of a string; by default the published limits
    hair_mm : playable hair of the player's bow; by default the usual one of the size

    Raises `InputError` for an unknown instrument or size, a note beyond the string's end, and where nothing
    near the exercise can be done on this instrument.
    """
    strings = strings_of(instrument, size, a4_hz=a4_hz)[::-1]
    hair = 1000.0 * find_bow(instrument, size).hair_length_m if hair_mm is None else hair_mm
    return tuple(
        _target(exercise, strings[number - 1], ask=ask, hair_mm=hair) for number in exercise.stroke.strings
    )


def _target(exercise: Exercise, string: BowedString, *, ask: AskRanges, hair_mm: float) -> Target:
    stroke = exercise.stroke
    midi = note_to_midi(string.note) + stroke.semitones
    if midi > note_to_midi(highest_note(string)):
        raise InputError(
            _("{note} lies beyond the {string} string: give at most {highest}").format(
                note=note_name(midi_to_note(midi)),
                string=string.name,
                highest=note_name(highest_note(string)),
            )
        )
    frequency_hz = string.open_frequency_hz * 2.0 ** (stroke.semitones / 12.0)
    asked = [ask(string, frequency_hz, tilt) for tilt in stroke.tilt_deg]
    fit = _nearest(stroke, asked, hair_mm)
    if fit is None and any(ranges.is_computed for ranges in asked):
        asked = [published_ranges(string, frequency_hz, tilt) for tilt in stroke.tilt_deg]
        fit = _nearest(stroke, asked, hair_mm)
    if fit is None:
        raise InputError(
            _("{title}: not possible on the {string} string of this instrument: take another string").format(
                title=_(exercise.title), string=string.name
            )
        )
    speed_m_s = _speed_m_s(fit.stroke, hair_mm)
    places = _places(fit.stroke, asked, speed_m_s)
    tightest_db = min(place.weight_tolerance_db for place in places)
    return Target(
        string=string.name,
        note=midi_to_note(midi),
        frequency_hz=frequency_hz,
        beats=fit.stroke.beats,
        tempo=fit.stroke.tempo,
        seconds=fit.stroke.seconds,
        part=fit.stroke.part,
        bow_used_mm=hair_mm * fit.stroke.share_of_bow,
        hair_mm=hair_mm,
        speed_cm_s=100.0 * speed_m_s,
        # The greatest weight grows in proportion to speed (Schelleng 1973): the same share of the way.
        speed_tolerance=min(_GREATEST_SPEED_TOLERANCE, 10.0 ** (tightest_db / 20.0) - 1.0),
        places=places,
        tilt_deg=stroke.tilt_deg,
        tilt_tolerance_deg=_TILT_TOLERANCE_DEG,
        is_computed=all(ranges.is_computed for ranges in asked),
        instead=fit.remarks(stroke),
    )


@dataclass(frozen=True, slots=True)
class _Fit:
    """A stroke that can be done, and how far it lies from the one that was asked for."""

    stroke: StrokeSpec
    cost: float

    def remarks(self, asked: StrokeSpec) -> tuple[Remark, ...]:
        found = []
        for before, now in dict.fromkeys(zip(asked.points, self.stroke.points, strict=True)):
            if before != now:
                found.append(Remark("closed-point", {"point": before, "chosen": now}))
        if self.stroke.beats != asked.beats:
            found.append(Remark("closed-speed", {"beats": asked.beats, "chosen": self.stroke.beats}))
        return tuple(found)


def _nearest(stroke: StrokeSpec, asked: list[StringRanges], hair_mm: float) -> _Fit | None:
    """Return the stroke nearest to the one asked for that has room: points move, or beats change, or both."""
    best: _Fit | None = None
    for factor in _OTHER_BEATS:
        other = replace(stroke, beats=factor * stroke.beats)
        speed = _speed_m_s(other, hair_mm)
        points = [
            _open_point(point, ranges, speed) for point, ranges in zip(stroke.points, asked, strict=True)
        ]
        if points[0] is None or points[1] is None:
            continue
        begin, end = points[0], points[1]
        if stroke.moves and begin == end:
            continue
        moved = abs(begin - stroke.points[0]) + abs(end - stroke.points[1])
        cost = moved + abs(factor - 1.0) * 2.0
        if best is None or cost < best.cost:
            best = _Fit(replace(other, points=(begin, end)), cost)
        if best.cost == 0.0:
            break
    return best


def _open_point(point: float, ranges: StringRanges, speed_m_s: float) -> float | None:
    """Return the nearest sounding point with room at a speed; of two equal ones the farther one."""
    steps = [k * _POINT_STEP for k in range(int((POINTS - 1) / _POINT_STEP) + 1)]
    for step, sign in product(steps, (1.0, -1.0)):
        tried = point + sign * step
        if 1.0 <= tried <= POINTS and _range_db(tried, ranges, speed_m_s) >= LEAST_RANGE_DB:
            return tried
    return None


def _range_db(point: float, ranges: StringRanges, speed_m_s: float) -> float:
    distance_m = point_to_m(point, ranges.string, frequency_hz=ranges.frequency_hz)
    room = ranges.room(distance_m, speed_m_s)
    if room.is_computed and room.computed_n is None:  # closed on the map, whatever the published limits say
        return 0.0
    return room.range_db or 0.0


def _speed_m_s(stroke: StrokeSpec, hair_mm: float) -> float:
    return 0.001 * hair_mm * stroke.share_of_bow / stroke.seconds


def _places(stroke: StrokeSpec, asked: list[StringRanges], speed_m_s: float) -> tuple[TargetPlace, ...]:
    rows = tuple(zip(stroke.points, stroke.weight, stroke.tilt_deg, asked, strict=True))
    stays = len({row[:3] for row in rows}) == 1
    return tuple(
        _place(point, share, ranges, speed_m_s)
        for point, share, _tilt, ranges in (rows[:1] if stays else rows)
    )


def _place(point: float, share: float, ranges: StringRanges, speed_m_s: float) -> TargetPlace:
    string, frequency_hz = ranges.string, ranges.frequency_hz
    distance_m = point_to_m(point, string, frequency_hz=frequency_hz)
    room = ranges.room(distance_m, speed_m_s)
    assert room.weight_n is not None
    assert room.range_db is not None
    least, greatest = room.weight_n
    weight_n = least * (greatest / least) ** share
    wander = ranges.wander(distance_m, speed_m_s, weight_n)
    half_lane_mm = 500.0 * point_width_m(string, frequency_hz=frequency_hz)
    span = None if wander is None else (1000.0 * wander.nearest_m, 1000.0 * wander.farthest_m)
    to_edge_mm = 2.0 * half_lane_mm
    if span is not None:
        to_edge_mm = min(1000.0 * distance_m - span[0], span[1] - 1000.0 * distance_m)
    return TargetPlace(
        sounding_point=m_to_point(distance_m, string, frequency_hz=frequency_hz),
        distance_mm=1000.0 * distance_m,
        distance_open_mm=1000.0 * point_to_m(point, string),
        distance_span_mm=span,
        distance_tolerance_mm=max(
            _LEAST_PLACE_TOLERANCE_MM, min(half_lane_mm, _TOLERANCE_SHARE * to_edge_mm)
        ),
        weight_n=weight_n,
        weight_span_n=(least, greatest),
        range_db=room.range_db,
        weight_tolerance_db=_TOLERANCE_SHARE * min(share, 1.0 - share) * room.range_db,
    )
