"""Which notes go on one bow? Slurs and ties join, everything else turns.

Common practice, no source: a slur or a tie is one stroke; grace notes go with the note that they lead to; a
written bow sign or a rest begins a new stroke, also under a slur.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from colophony.teaching.score.course import Clock, Loudness
from colophony.teaching.score.piece import Direction, Event, Part

#: Share of its time that the bow moves on a note marked so. Chosen, not measured.
MOVES = {"staccatissimo": 0.4, "spiccato": 0.5, "staccato": 0.5, "accent": 0.9, "strong accent": 0.8}
#: Degrees that an accent adds to the dynamic. Chosen.
_LOUDER = {"accent": 0.7, "strong accent": 1.2}
#: A fermata holds a note half as long again. Common practice, no source; players differ.
FERMATA = 1.5
#: A breath mark or caesura gives the bow as much time as a short rest, s. Chosen.
_BREATH_S = 0.35


@dataclass(frozen=True, slots=True)
class Draft:
    """Notes on one bow before anything is known of the bow."""

    events: tuple[int, ...]  #: indices in `Part.events`
    first: Event
    onset_ql: float
    duration_ql: float
    seconds: float  #: while the bow moves
    whole_s: float  #: from its onset to its end, as the notes say
    rest_s: float  #: silence before it; endless before the first stroke
    degrees: tuple[float, ...]  #: of the dynamic at even steps from its beginning to its end
    given: Direction | None = None
    is_plucked: bool = False
    is_chord: bool = False  #: three strings or more
    is_marked: bool = False  #: staccato, spiccato or accent: it stands apart from its neighbours

    @property
    def strength(self) -> float:
        """How heavily the metre falls at its beginning."""
        return self.first.beat_strength

    @property
    def degree(self) -> float:
        """The dynamic in the mean."""
        return sum(self.degrees) / len(self.degrees)


#: The dynamic of a stroke is known at so many places.
STEPS = 5


def drafts_of(part: Part, *, clock: Clock, loudness: Loudness) -> list[Draft]:
    """Return the strokes of a part in order, every note in exactly one."""
    groups: list[list[int]] = []
    rests: list[float] = []
    silence, graces = 0.0, list[int]()
    previous: Event | None = None
    for k, event in enumerate(part.events):
        if event.is_rest:
            silence += _seconds(event, clock)
            continue
        if event.is_grace:
            graces.append(k)
            continue
        if previous is not None:
            silence = max(silence, clock.at(event.onset_ql) - clock.at(previous.end_ql))
            if previous.breaks_after:
                silence = max(silence, _BREATH_S)
        first = part.events[graces[0]] if graces else event
        joined = previous is not None and silence <= 1e-6 and _joins(previous, event, first)
        if joined and groups:
            groups[-1] += [*graces, k]
        else:
            groups.append([*graces, k])
            rests.append(silence if previous is not None else float("inf"))
        previous, silence, graces = event, 0.0, []
    if graces and groups:  # grace notes at the very end close the last stroke
        groups[-1] += graces
    return [
        draft_of(part, group, rest_s=rest, clock=clock, loudness=loudness)
        for group, rest in zip(groups, rests, strict=True)
    ]


def _joins(previous: Event, event: Event, first: Event) -> bool:
    """Whether a note (with its grace notes, from ``first`` on) stays on the bow of the one before."""
    if event.is_plucked or previous.is_plucked:
        return event.is_tied and event.is_plucked and previous.is_plucked
    if event.is_tied:
        return True
    if event.bowing is not None or first.bowing is not None:
        return False
    return bool(set(previous.slurs) & set(event.slurs))


def draft_of(part: Part, group: Sequence[int], *, rest_s: float, clock: Clock, loudness: Loudness) -> Draft:
    """Return some notes in a row, by index, as one stroke."""
    events = [part.events[k] for k in group]
    notes = [event for event in events if not event.is_grace] or events
    first, last = notes[0], notes[-1]
    seconds = sum(_seconds(event, clock) * _moving(event, len(notes)) for event in notes)
    end_ql = max(last.end_ql, first.onset_ql)
    louder = max((_LOUDER.get(mark, 0.0) for mark in first.articulations), default=0.0)
    accent = loudness.accent(first.onset_ql)
    degrees = []
    for step in range(STEPS):
        onset = first.onset_ql + (end_ql - first.onset_ql) * step / (STEPS - 1)
        degree = loudness.at(onset) if step < STEPS - 1 else loudness.before(onset)
        degrees.append(min(7.0, max(degree + louder, accent or 0.0)))
    return Draft(
        events=tuple(group),
        first=first,
        onset_ql=first.onset_ql,
        duration_ql=end_ql - first.onset_ql,
        seconds=max(seconds, 1e-3),
        whole_s=max(sum(_seconds(event, clock) for event in notes), 1e-3),
        rest_s=rest_s,
        degrees=tuple(degrees),
        given=next((event.bowing for event in events if event.bowing), None),
        is_plucked=first.is_plucked,
        is_chord=len(first.pitches) >= 3,
        is_marked=any(mark in MOVES for mark in first.articulations),
    )


def _seconds(event: Event, clock: Clock) -> float:
    held = FERMATA if event.has_fermata and not event.is_rest else 1.0
    return held * (clock.at(event.end_ql) - clock.at(event.onset_ql))


def _moving(event: Event, notes: int) -> float:
    """Return the share of a note's time in which the bow moves."""
    share = min((MOVES.get(mark, 1.0) for mark in event.articulations), default=1.0)
    if notes > 1 and "tenuto" in event.articulations:
        share = max(share, 0.8)  # portato: hardly a stop
    return share
