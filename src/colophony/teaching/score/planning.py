"""The bow plan of a part: its notes grouped, the search ridden, every stroke placed on the string."""

from __future__ import annotations

import bisect
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import Any

from colophony.teaching.score.dynamics import nearest_mark, tilt_deg
from colophony.teaching.score.grouping import Draft
from colophony.teaching.score.piece import Event, Part, Remark
from colophony.teaching.score.placing import AskRoom, Hold, Place, hold, place
from colophony.teaching.score.profiles import bowing_profile, swell_courses
from colophony.teaching.score.sketch import Setting, Sketch
from colophony.teaching.score.strokes import Means, Moment, Plan, Rule, Stroke, telling
from colophony.teaching.score.travel import Load, Ride
from colophony.teaching.score.ways_out import ways_out

#: Told the strokes that are placed, and all of them.
Progress = Callable[[int, int], None]

#: Less range of weight than this is told, dB; twice the least weight. As in the words for a room.
NARROW_DB = 6.0
#: A level that is off by more than this is told, dB: about half of a step between two dynamics. Chosen.
_LEVEL_DB = 4.0
#: A stroke of less hair than this is a touch, whose point and weight nothing hangs on, mm.
_TOUCH_MM = 3.0


def make_plan(part: Part, setting: Setting, *, ask: AskRoom, progress: Progress | None = None) -> Plan:
    """Return the bow plan of a part.

    Parameters
    ----------
    part : as played
    setting : instrument, bow and tempo
    ask : tells the room of a string (`placing.published_room` where nothing was computed)
    progress : told after every stroke that is placed
    """
    sketch = Sketch(part, setting)
    placer = _Placer(part, setting, ask)
    strokes: list[Stroke] = []
    bowed = iter(zip(sketch.loads, sketch.rides, strict=True))
    courses = swell_courses(sketch.drafts, sketch.rides, setting.instrument)
    before: Ride | None = None
    for k, draft in enumerate(sketch.drafts):
        if draft.is_plucked:
            stroke = placer.plucked(k, draft)
        else:
            load, ride = next(bowed)
            stroke = placer.stroke(k, draft, load, ride, before, course=courses.get(k))
            before = ride
        strokes.append(stroke)
        if progress is not None:
            progress(k + 1, len(sketch.drafts))
    strokes = _with_turned_repeats(strokes)
    found = ways_out(sketch, strokes, place_at=placer.place_at)
    return Plan(
        part=part.name,
        instrument=setting.instrument,
        size=setting.strings[0].size,
        bow_mm=setting.bow_mm,
        quarters_per_minute=sketch.clock.quarters_per_minute,
        is_tempo_given=setting.quarters_per_minute is not None or part.tempos[0].is_given,
        strokes=tuple(
            replace(stroke, alternatives=found[k]) if k in found else stroke
            for k, stroke in enumerate(strokes)
        ),
        remarks=tuple(_remarks_of_part(part, setting)),
    )


def _remarks_of_part(part: Part, setting: Setting) -> Iterator[Remark]:
    """Yield what could not be read; of tempos only what still holds where the reader gave one."""
    given, first = setting.quarters_per_minute, part.tempos[0]
    for one in part.remarks:
        if given is None or one.name not in ("no-tempo", "tempo-word"):
            yield one
        elif one.name == "tempo-word" and one.values["words"] != first.words:
            tempo = round(float(one.values["tempo"]) * given / first.quarters_per_minute)
            yield replace(one, values={**one.values, "tempo": tempo})


class _Placer:
    """Places strokes on the string; asks for every room once."""

    def __init__(self, part: Part, setting: Setting, ask: AskRoom) -> None:
        self._part, self._setting = part, setting
        self._ask = ask
        self._held: dict[tuple[tuple[int, int | None], ...], Hold] = {}
        self._placed: dict[tuple[str, tuple[float, ...], float, float, float | None], Place] = {}

    def stroke(
        self,
        k: int,
        draft: Draft,
        load: Load,
        ride: Ride,
        before: Ride | None,
        *,
        course: Sequence[float] | None = None,
    ) -> Stroke:
        """Return a stroke placed; ``course`` are the points wanted along it, where a swell decides them."""
        notes = self._notes(draft)
        profile = bowing_profile(draft, ride, self._setting.instrument)
        remarks = list(self._remarks_of_notes(draft, notes))
        moments, places = [], []
        points: Sequence[float | None] = course or [None] * len(profile)
        for (share, at_mm, speed, degree), point in zip(profile, points, strict=True):
            held = self._hold(_event_at(notes, draft, share))
            if not held.strings:
                held = next((one for one in map(self._hold, notes) if one.strings), held)
            spot = self.place_at(held, degree, speed, point=point) if held.strings else None
            places.append(spot)
            moments.append(
                Moment(
                    share,
                    at_mm,
                    speed / 10.0,
                    spot.weight_n if spot else 0.0,
                    spot.point if spot else 3.0,
                )
            )
        known = [spot for spot in places if spot is not None]
        remarks += _remarks_of_ride(draft, load, ride)
        if known and ride.hair_mm >= _TOUCH_MM:
            remarks += _remarks_of_places(draft, known)
        first = known[0] if known else None
        ranges = [spot.range_db for spot in known if spot.range_db is not None]
        return Stroke(
            **_common(k, draft, notes),
            direction=ride.direction,
            is_given=draft.given is not None,
            rule=_rule(draft, ride, before),
            hair_used_mm=ride.hair_mm,
            speed_cm_s=ride.hair_mm / draft.seconds / 10.0,
            start_at_mm=ride.start_mm,
            end_at_mm=ride.end_mm,
            string=self._hold(notes[0]).name,
            sounding_point=moments[0].sounding_point,
            distance_mm=1000.0 * first.distance_m if first else 0.0,
            weight_n=moments[0].weight_n,
            weight_span_n=first.span_n if first else None,
            range_db=min(ranges) if ranges and len(ranges) == len(known) else None,
            tilt_deg=tilt_deg(moments[0].sounding_point),
            path=tuple(moments),
            means=_means(moments) if max(draft.degrees) - min(draft.degrees) >= 0.05 else (),
            is_retake=ride.joint == "retake" and before is not None,
            is_linked=ride.joint == "link" and load.rest_s <= 0.0,
            remarks=tuple(remarks),
        )

    def plucked(self, k: int, draft: Draft) -> Stroke:
        notes = self._notes(draft)
        return Stroke(
            **_common(k, draft, notes),
            direction="down",
            is_given=False,
            rule="plucked",
            hair_used_mm=0.0,
            speed_cm_s=0.0,
            start_at_mm=0.0,
            end_at_mm=0.0,
            string=self._hold(notes[0]).name,
            sounding_point=5.0,
            distance_mm=0.0,
            weight_n=0.0,
            weight_span_n=None,
            range_db=None,
            tilt_deg=0.0,
            path=(),
            is_plucked=True,
            remarks=tuple(self._remarks_of_notes(draft, notes)),
        )

    def place_at(self, held: Hold, degree: float, speed_mm_s: float, *, point: float | None = None) -> Place:
        """Return a place, from those found before where dynamic and speed are as good as the same."""
        speed = float(f"{max(speed_mm_s, 1.0):.2g}")
        wanted = None if point is None else round(point, 1)
        key = (held.name, held.frequencies_hz, round(4.0 * degree) / 4.0, speed, wanted)
        if key not in self._placed:
            self._placed[key] = place(held, key[2], speed, ask=self._ask, point=wanted)
        return self._placed[key]

    def _notes(self, draft: Draft) -> list[Event]:
        events = [self._part.events[k] for k in draft.events]
        return [event for event in events if not event.is_grace] or events

    def _hold(self, event: Event) -> Hold:
        key = tuple((pitch.midi, pitch.string_number) for pitch in event.pitches)
        if key not in self._held:
            self._held[key] = hold(event, self._setting.strings, a4_hz=self._setting.a4_hz)
        return self._held[key]

    def _remarks_of_notes(self, draft: Draft, notes: list[Event]) -> list[Remark]:
        found: list[Remark] = []
        for event in notes:
            if event.is_tied or self._hold(event).strings:
                continue
            name = "reach" if len(event.pitches) == 1 else "double-stop"
            found.append(Remark(name, event.measure, {"notes": spelled(event)}))
        return found


def spelled(event: Event) -> str:
    """Return the notes of an event by name, "G3+D4"."""
    return "+".join(pitch.name for pitch in event.pitches)


def _common(k: int, draft: Draft, notes: list[Event]) -> dict[str, Any]:
    first = draft.first
    return {
        "index": k,
        "measure": first.measure,
        "measure_index": first.measure_index,
        "passing": first.passing,
        "beat": first.beat,
        "onset_ql": draft.onset_ql,
        "duration_ql": draft.duration_ql,
        "notes": tuple(spelled(event) for event in notes if not event.is_tied or event is notes[0]),
        "element_ids": tuple(one for event in notes for one in event.element_ids),
        "seconds": draft.seconds,
        "dynamic": nearest_mark(draft.degrees[0]),
        "event_indices": draft.events,
    }


def _event_at(notes: list[Event], draft: Draft, share: float) -> Event:
    onset = draft.onset_ql + share * draft.duration_ql
    k = bisect.bisect_right([event.onset_ql for event in notes], onset) - 1
    return notes[min(len(notes) - 1, max(0, k))]


def _means(moments: list[Moment]) -> tuple[Means, ...]:
    """Return what changes along a stroke up to its end or its turn, the greatest change in ratio first."""
    first, last = telling(moments)[:2]
    changes: list[tuple[float, Means]] = [
        (_ratio(first.speed_cm_s, last.speed_cm_s), "speed"),
        (_ratio(first.weight_n, last.weight_n), "weight"),
        (_ratio(first.sounding_point - 0.5, last.sounding_point - 0.5), "point"),
    ]
    return tuple(name for ratio, name in sorted(changes, key=lambda one: -one[0]) if ratio >= 1.05)


def _ratio(one: float, other: float) -> float:
    return max(one, other) / min(one, other) if min(one, other) > 0.0 else 1.0


def _rule(draft: Draft, ride: Ride, before: Ride | None) -> Rule:
    """Return why a stroke goes its way."""
    strong = draft.strength >= 0.5 and ride.direction == "down"
    if draft.given is not None:
        return "written"
    if draft.is_chord and ride.direction == "down":
        return "chord"
    if before is None or ride.joint == "retake":
        if strong:
            return "strong-beat"
        if ride.direction == "up" and draft.strength < 0.5:
            return "pickup"
        return "ahead" if before is None else "rest"
    if ride.joint == "link":
        return "linked" if draft.rest_s <= 0.0 else "rest"
    return "strong-beat" if strong else "alternates"


def _remarks_of_ride(draft: Draft, load: Load, ride: Ride) -> list[Remark]:
    found = []
    if ride.lacks_mm > 0.0:
        values = {
            "needs_mm": round(load.slowest_mm),
            "has_mm": round(ride.hair_mm),
            "missing_mm": round(ride.lacks_mm),
        }
        found.append(Remark("hair-out", draft.first.measure, values))
    if ride.is_hasty:
        found.append(Remark("no-time", draft.first.measure))
    return found


def _remarks_of_places(draft: Draft, places: list[Place]) -> list[Remark]:
    measure = draft.first.measure
    worst = min(places, key=lambda spot: -1.0 if spot.range_db is None else spot.range_db)
    if worst.range_db is None:
        return [Remark("no-room", measure)]
    found = []
    if worst.range_db < NARROW_DB:
        found.append(Remark("narrow", measure, {"range_db": round(worst.range_db, 1)}))
    short = max((spot.short_db for spot in places), key=abs)
    if abs(short) > _LEVEL_DB:
        name = "too-soft" if short > 0.0 else "too-loud"
        found.append(Remark(name, measure, {"level_db": round(abs(short))}))
    return found


def _with_turned_repeats(strokes: list[Stroke]) -> list[Stroke]:
    """Add a remark where a repeat is bowed the other way round, at the first stroke that is."""
    first = {(one.measure_index, one.beat): one.direction for one in strokes if one.passing == 1}
    found, turned = [], False
    for stroke in strokes:
        same = first.get((stroke.measure_index, stroke.beat), stroke.direction) == stroke.direction
        if not same and not turned and not stroke.is_plucked:
            told = Remark("turned-repeat", stroke.measure, {"passing": stroke.passing})
            stroke = replace(stroke, remarks=(*stroke.remarks, told))
        turned = not same
        found.append(stroke)
    return found
