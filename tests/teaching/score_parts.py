"""Parts for tests, invented: a row of notes with what stands over them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from colophony.physics.strings import strings_of
from colophony.teaching.score.piece import (
    Articulation,
    Direction,
    DynamicMark,
    Event,
    Hairpin,
    Part,
    Pitch,
    PlayedMeasure,
    TempoMark,
)
from colophony.teaching.score.placing import AskRoom, published_room
from colophony.teaching.score.planning import make_plan
from colophony.teaching.score.sketch import Setting
from colophony.teaching.score.strokes import Plan
from colophony.units import note_to_midi

BOW_MM = {"violin": 650.0, "viola": 645.0, "cello": 600.0}


@dataclass(frozen=True)
class N:
    """A note ("A4"), a double stop ("G3 D4"), a rest ("")."""

    names: str
    quarters: float = 1.0
    bow: Direction | None = None
    slur: int = 0
    tied: bool = False
    marks: tuple[Articulation, ...] = ()
    grace: bool = False
    plucked: bool = False
    fermata: bool = False


def make_part(
    notes: Sequence[N],
    *,
    bar: float = 4.0,
    pickup: float = 0.0,
    tempo: float = 60.0,
    dynamics: Sequence[DynamicMark] = (),
    hairpins: Sequence[Hairpin] = (),
    times: int = 1,
) -> Part:
    """A part in a metre of ``bar`` quarters; its first beat is heavy, the half of an even bar half so."""
    events: list[Event] = []
    onset = 0.0
    for note in notes:
        position = (onset - pickup) % bar
        measure = int((onset - pickup) // bar) + 1
        strength = 1.0 if position == 0.0 else 0.0625
        if position and position % 1.0 == 0.0:
            strength = 0.5 if position == bar / 2 and bar % 2.0 == 0.0 else 0.25
        length = 0.0 if note.grace else note.quarters
        events.append(
            Event(
                measure=str(measure),
                measure_index=measure,
                passing=1,
                beat=1.0 + position,
                onset_ql=onset,
                duration_ql=length,
                pitches=tuple(
                    sorted(
                        (
                            Pitch(name, note_to_midi(name), f"n{len(events)}-{name}")
                            for name in note.names.split()
                        ),
                        key=lambda pitch: pitch.midi,
                    )
                ),
                element_ids=(f"n{len(events)}",),
                is_grace=note.grace,
                is_tied=note.tied,
                slurs=(note.slur,) if note.slur else (),
                articulations=note.marks,
                bowing=note.bow,
                is_plucked=note.plucked,
                has_fermata=note.fermata,
                beat_strength=strength,
            )
        )
        onset += length
    again = [
        replace(event, passing=k + 1, onset_ql=event.onset_ql + k * onset)
        for k in range(times)
        for event in events
    ]
    whole = PlayedMeasure("1", 1, 1, 0.0, times * onset, "4/4", 1.0)
    return Part(
        "Violin", 0, tuple(again), (whole,), tuple(dynamics), tuple(hairpins), (TempoMark(0.0, tempo),)
    )


def plan(
    part: Part,
    *,
    instrument: str = "violin",
    size: str = "4/4",
    bow_mm: float | None = None,
    tempo: float | None = None,
    ask: AskRoom = published_room,
) -> Plan:
    """A plan by the published limits of weight."""
    setting = Setting(strings_of(instrument, size), bow_mm or BOW_MM[instrument], quarters_per_minute=tempo)
    return make_plan(part, setting, ask=ask)


def ways(made: Plan) -> str:
    """The directions of a plan: "DUDU"."""
    return "".join(stroke.direction[0].upper() for stroke in made.strokes)


def remarks(made: Plan) -> list[str]:
    return [remark.name for stroke in made.strokes for remark in stroke.remarks]
