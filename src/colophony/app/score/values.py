"""What passes between reading, planning, writing and drawing of a score: plain values."""

from __future__ import annotations

from dataclasses import dataclass

from colophony.teaching.score.piece import Part
from colophony.teaching.score.strokes import Plan


@dataclass(frozen=True, slots=True)
class PartName:
    """A part of a score, to choose from."""

    index: int  #: from 0
    name: str
    notes: int  #: on the page


@dataclass(frozen=True, slots=True)
class Score:
    """A score as one MusicXML text in which every ``<note>`` has an id: the page that a plan is laid over.

    Compressed files and MIDI have become this text too. Notes of a plan are found in it, and on the page
    that is drawn from it, by these ids.
    """

    title: str
    musicxml: str  #: score-partwise, no doctype
    parts: tuple[PartName, ...]


@dataclass(frozen=True, slots=True)
class Request:
    """A plan to make of a score."""

    part: str | None = None  #: name or number from 1; the first that a bow can play when None
    instrument: str = "violin"
    size: str = "4/4"
    bow_mm: float | None = None  #: length of hair; that of the size when None
    tempo: float | None = None  #: quarter notes a minute at the start; as written when None
    a4_hz: float = 440.0


@dataclass(frozen=True, slots=True)
class PlannedScore:
    """A score, the part that was chosen, and its plan."""

    request: Request
    score: Score
    part: Part
    plan: Plan
