"""What to do where the bow runs out or is set anew in haste: each way is planned, and told if it helps."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from colophony.teaching.score.dynamics import NEAREST_POINT
from colophony.teaching.score.grouping import draft_of
from colophony.teaching.score.placing import Hold, Place, hold
from colophony.teaching.score.sketch import Sketch, load_of
from colophony.teaching.score.strokes import Alternative, Stroke
from colophony.teaching.score.travel import Load, Ride, Travel

#: So many strokes before and behind are planned again; behind them the plan goes on as it was.
_AROUND = 16
#: So many further strokes are followed until they are as they were; the rest is counted as it was.
_BEHIND = 64
#: Strokes for which ways are looked for: a part with more has another trouble, such as a wrong tempo.
_MOST = 40
#: Faster tempos that are tried.
_TEMPOS = (1.1, 1.25, 1.5)
#: How much slower than the slowest of its dynamic a bow may be that makes up for it nearer the bridge.
_SLOWER = 0.6
_LEVEL_DB = 1.5
#: More bows than this for one slur or note are no way out.
_MOST_BOWS = 6
#: How far from an even share, in shares of one bow, a first beat draws the turn of the bow. Chosen.
_HEAVY_BEAT = 0.3

_PlaceAt = Callable[[Hold, float, float], Place]


def ways_out(
    sketch: Sketch, strokes: Sequence[Stroke], *, place_at: _PlaceAt
) -> dict[int, tuple[Alternative, ...]]:
    """Return the ways out for each stroke, by its index, whose bow runs out or is set anew in haste."""
    short = [j for j, ride in enumerate(sketch.rides) if _fails(ride)]
    whole = len(short)
    faster = _Faster(sketch)
    found: dict[int, tuple[Alternative, ...]] = {}
    for j in short[:_MOST]:
        k = sketch.bowed[j]
        tries = [*_tries(sketch, j), *_nearer(sketch, j, strokes[k], place_at)]
        ways = [_tried(sketch, j, loads, way, whole) for way, loads in tries]
        found[k] = tuple(_first_of_a_kind([*ways, faster.way(j)]))
    return found


def _first_of_a_kind(ways: Sequence[Alternative | None]) -> Iterator[Alternative]:
    """Yield the ways that help, one for each change."""
    told = set()
    for way in ways:
        if way is not None and (kind := way.change.removesuffix("-note")) not in told:
            told.add(kind)
            yield way


_Try = tuple[Alternative, list[Load]]


def _tries(sketch: Sketch, j: int) -> Iterator[_Try]:
    """Yield ways and the loads that take the place of stroke ``j``."""
    load, ride, draft = sketch.loads[j], sketch.rides[j], sketch.drafts[sketch.bowed[j]]
    if draft.given is not None:
        yield Alternative("turned", (), 0), [replace(load, given=None)]
    if ride.lacks_mm <= 0.0:
        return
    for bows in _numbers_of_bows(load, sketch.setting.bow_mm):
        yield _split(sketch, j, bows) or _split_note(load, bows)
    at_frog = ride.direction == "down"
    edge = 0.0 if at_frog else sketch.setting.bow_mm
    if abs(ride.start_mm - edge) > 0.03 * sketch.setting.bow_mm:
        yield (
            Alternative("nearer-frog" if at_frog else "nearer-tip", (), 0),
            [replace(load, start_mm=edge, given=ride.direction)],
        )


def _numbers_of_bows(load: Load, bow_mm: float) -> tuple[int, ...]:
    """Return into how many bows to split: as few as there is hair for, else one more."""
    least = max(2, math.ceil(load.slowest_mm / bow_mm))
    return (least, least + 1) if least < _MOST_BOWS else ()


def _split_note(load: Load, bows: int) -> _Try:
    """Return a long note on several bows of even length."""
    one = replace(
        load,
        slowest_mm=load.slowest_mm / bows,
        usual_mm=load.usual_mm / bows,
        fastest_mm=load.fastest_mm / bows,
        whole_s=load.whole_s / bows,
    )
    more = replace(one, rest_s=0.0, strength=0.0, given=None, is_chord=False, is_first_strong=False)
    return Alternative("split-note", (), 0, bows=bows), [one, *[more] * (bows - 1)]


def _split(sketch: Sketch, j: int, bows: int) -> _Try | None:
    """Return the slur on so many bows: each turns at a heavy beat near to an even share of the hair."""
    draft = sketch.drafts[sketch.bowed[j]]
    events = [sketch.part.events[k] for k in draft.events]
    left = [n for n in range(1, len(events)) if not events[n].is_tied and not events[n - 1].is_grace]
    if len(left) < bows - 1:
        return None
    before = [0.0, *itertools.accumulate(_load(sketch, [k], 0.0).slowest_mm for k in draft.events)]
    cuts: list[int] = []
    for share in range(1, bows):
        wanted = before[-1] * share / bows
        unfit = [
            abs(before[n] - wanted) / before[-1] - _HEAVY_BEAT / bows * events[n].beat_strength for n in left
        ]
        best = unfit.index(min(unfit))
        cuts.append(left[best])
        left = left[best + 1 :]
        if len(left) < bows - 1 - share:
            return None
    loads = [
        _load(sketch, draft.events[first:last], sketch.loads[j].rest_s if first == 0 else 0.0)
        for first, last in itertools.pairwise([0, *cuts, len(events)])
    ]
    told = [sum(1 for event in events[:cut] if not event.is_grace and not event.is_tied) - 1 for cut in cuts]
    return Alternative("split", (), 0, after_notes=tuple(max(0, k) for k in told), bows=bows), loads


def _load(sketch: Sketch, events: Sequence[int], rest_s: float) -> Load:
    """Return what some notes of the part would ask of a bow of their own."""
    draft = draft_of(sketch.part, events, rest_s=rest_s, clock=sketch.clock, loudness=sketch.loudness)
    return load_of(draft, sketch.setting.instrument, rest_s=rest_s)


def _tried(sketch: Sketch, j: int, loads: list[Load], way: Alternative, whole: int) -> Alternative | None:
    """Return the way with what it leaves, None where it does not cure the stroke or costs another one."""
    begin, end = max(0, j - _AROUND), min(len(sketch.loads), j + 1 + _AROUND)
    changed = [*sketch.loads[begin:j], *loads, *sketch.loads[j + 1 : end]]
    travel = Travel(changed, sketch.setting.bow_mm, after=sketch.travel.values[end])
    rides = travel.rides(sketch.standing(begin))
    own = rides[j - begin : j - begin + len(loads)]
    if any(_fails(ride) for ride in own):
        return None
    standing = rides[-1].direction, rides[-1].end_mm
    k = end
    last = min(len(sketch.loads), end + _BEHIND)
    while k < last and not _same(standing, sketch.standing(k)):
        ride = sketch.travel.ride(k, standing)
        rides.append(ride)
        standing, k = (ride.direction, ride.end_mm), k + 1
    remaining = whole - sum(map(_fails, sketch.rides[begin:k])) + sum(map(_fails, rides))
    if remaining >= whole:
        return None
    start = own[0].start_mm if way.change in ("nearer-frog", "nearer-tip") else None
    return replace(way, cures=_ails(sketch.rides[j]), remaining=remaining, start_at_mm=start)


def _nearer(sketch: Sketch, j: int, stroke: Stroke, place_at: _PlaceAt) -> Iterator[_Try]:
    """Yield a slower bow nearer to the bridge, where this string has a place with the same level for it."""
    load, ride = sketch.loads[j], sketch.rides[j]
    if ride.lacks_mm <= 0.0 or ride.hair_mm < _SLOWER * load.slowest_mm:
        return
    event = sketch.part.events[stroke.event_indices[-1]]
    held = hold(event, sketch.setting.strings, a4_hz=sketch.setting.a4_hz)
    if not held.strings:
        return
    spot = place_at(held, load.degree, ride.hair_mm / stroke.seconds)
    if spot.span_n is None or spot.point <= NEAREST_POINT or abs(spot.short_db) > _LEVEL_DB:
        return
    slower = replace(load, slowest_mm=_SLOWER * load.slowest_mm)
    yield Alternative("point", (), 0, sounding_point=round(spot.point, 1)), [slower]


class _Faster:
    """The whole part at quicker tempos, each planned once."""

    def __init__(self, sketch: Sketch) -> None:
        self._sketch = sketch
        self._rides: dict[float, list[Ride]] = {}

    def way(self, j: int) -> Alternative | None:
        """Return the least of the tempos at which stroke ``j`` has hair enough."""
        for factor in _TEMPOS:
            if self._sketch.loads[j].slowest_mm > factor * self._sketch.setting.bow_mm:
                continue
            rides = self._planned(factor)
            if not _fails(rides[j]):
                tempo = round(self._sketch.clock.quarters_per_minute * factor)
                remaining = sum(map(_fails, rides))
                cures = _ails(self._sketch.rides[j])
                return Alternative("faster-tempo", cures, remaining, tempo=float(tempo))
        return None

    def _planned(self, factor: float) -> list[Ride]:
        if factor not in self._rides:
            loads = [
                replace(
                    load,
                    slowest_mm=load.slowest_mm / factor,
                    usual_mm=load.usual_mm / factor,
                    fastest_mm=load.fastest_mm / factor,
                    whole_s=load.whole_s / factor,
                    rest_s=load.rest_s / factor,
                )
                for load in self._sketch.loads
            ]
            travel = Travel(loads, self._sketch.setting.bow_mm)
            self._rides[factor] = travel.rides((None, 0.0))
        return self._rides[factor]


def _ails(ride: Ride) -> tuple[str, ...]:
    """Return the remarks of a stroke that a way out is looked for."""
    return (*(("hair-out",) if ride.lacks_mm > 0.0 else ()), *(("no-time",) if ride.is_hasty else ()))


def _fails(ride: Ride) -> bool:
    return ride.lacks_mm > 0.0 or ride.is_hasty


def _same(one: tuple[str | None, float], other: tuple[str | None, float]) -> bool:
    return one[0] == other[0] and abs(one[1] - other[1]) < 0.5
