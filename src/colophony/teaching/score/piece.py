"""A part as it is played: plain values, read from a score by `app.score.reading`.

Lengths of music are quarter lengths (a quarter note is 1). Onsets count from the start of the piece with
repeats played out, so that a repeated measure stands here twice: with the same number of the page and the
same element ids, but another ``passing``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

Direction = Literal["down", "up"]
Articulation = Literal["staccato", "staccatissimo", "tenuto", "accent", "strong accent", "spiccato"]
Turning = Literal["crescendo", "diminuendo"]
#: A dynamic that can be planned, from the softest to the loudest.
Dynamic = Literal["ppp", "pp", "p", "mp", "mf", "f", "ff", "fff"]
DYNAMICS: tuple[Dynamic, ...] = ("ppp", "pp", "p", "mp", "mf", "f", "ff", "fff")

#: What a remark says in figures and names, by name.
Values: TypeAlias = Mapping[str, str | int | float]


@dataclass(frozen=True, slots=True)
class Remark:
    """Something a reader must know of a measure: what could not be read, what will not go.

    ``name`` is a key of `words.REMARKS`, which says it; ``values`` are what its sentence holds.
    """

    name: str
    measure: str | None = None  #: number on the page, None where it is about the whole part
    values: Values = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Pitch:
    """One pitch: its name as spelled (``"Bb3"``, ``"F#4"``), its MIDI number (A4 = 69), its note's id."""

    name: str
    midi: int
    element_id: str  #: of its ``<note>`` in the identified MusicXML; also on the drawn page
    string_number: int | None = None  #: that the score asks for; 1 is the highest string


@dataclass(frozen=True, slots=True)
class Event:
    """A note, a double stop or chord (several pitches), or a rest (none)."""

    measure: str  #: number on the page
    measure_index: int  #: of the measure on the page, from 0
    passing: int  #: 1 where the measure is played for the first time, 2 when repeated
    beat: float  #: in the measure, from 1; 0.5 is half a beat
    onset_ql: float  #: from the start of the piece as played
    duration_ql: float  #: 0 for a grace note
    pitches: tuple[Pitch, ...] = ()  #: from the lowest; empty for a rest
    element_ids: tuple[str, ...] = ()  #: of the notes, or of the rest
    voice: str = "1"
    is_grace: bool = False
    is_tied: bool = False  #: sounds on from the note before: no new note
    slurs: tuple[int, ...] = ()  #: numbers of the slurs that cover it; a repeated slur has a new number
    articulations: tuple[Articulation, ...] = ()
    bowing: Direction | None = None  #: written over it
    is_plucked: bool = False  #: pizzicato
    has_fermata: bool = False
    #: How heavily the metre falls here: 1 for a first beat, 0.5 for a half bar, 0.25 for other beats, less
    #: within a beat.
    beat_strength: float = 0.0
    breaks_after: bool = False  #: a breath mark or caesura follows

    @property
    def is_rest(self) -> bool:
        """Whether nothing sounds."""
        return not self.pitches

    @property
    def end_ql(self) -> float:
        """Where it ends, as played."""
        return self.onset_ql + self.duration_ql


@dataclass(frozen=True, slots=True)
class PlayedMeasure:
    """A measure as played."""

    number: str  #: on the page
    index: int  #: on the page, from 0
    passing: int
    onset_ql: float
    length_ql: float
    time_signature: str  #: "3/4"
    beat_ql: float  #: length of a beat
    is_pickup: bool = False  #: shorter than its metre at the start of the piece


@dataclass(frozen=True, slots=True)
class DynamicMark:
    """A written dynamic, from its onset on; ``accent`` for sf, sfz, fz, which mark one note."""

    onset_ql: float
    mark: Dynamic
    is_accent: bool = False


@dataclass(frozen=True, slots=True)
class Hairpin:
    """A crescendo or diminuendo, as a wedge or a word with a known end."""

    onset_ql: float
    end_ql: float
    turning: Turning


@dataclass(frozen=True, slots=True)
class TempoMark:
    """Quarter notes a minute from an onset on."""

    onset_ql: float
    quarters_per_minute: float
    words: str = ""  #: as on the page: "Andante"
    is_given: bool = True  #: False where only a word, or nothing, says how fast


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a piece as played: what planning starts from."""

    name: str
    index: int  #: of the part in the score, from 0
    events: tuple[Event, ...]  #: by onset, the bowed voice; grace notes before their note
    measures: tuple[PlayedMeasure, ...]
    dynamics: tuple[DynamicMark, ...] = ()
    hairpins: tuple[Hairpin, ...] = ()
    tempos: tuple[TempoMark, ...] = ()  #: the first one at onset 0
    remarks: tuple[Remark, ...] = ()  #: what could not be read, measure by measure

    @property
    def duration_ql(self) -> float:
        """Length of the piece as played."""
        return max((m.onset_ql + m.length_ql for m in self.measures), default=0.0)
