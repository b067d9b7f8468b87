"""The bow plan of a part: a stroke after the other, with what is needed to show and to draw it.

Places along the bow are mm of hair from the frog; the hair ends at the plan's ``bow_mm``, the tip.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from colophony.teaching.score.piece import Direction, Dynamic, Remark

#: Why a stroke goes the way it goes; `words.RULES` says each.
Rule = Literal[
    "written",  # the score has the sign
    "strong-beat",  # down on a strong beat
    "pickup",  # up before a strong beat
    "alternates",  # turns back from the stroke before
    "rest",  # a rest lets the bow be set anew
    "linked",  # the same way again, the bow stops between (hooked)
    "chord",  # three or more strings: from the frog
    "ahead",  # so that what follows falls right
    "plucked",  # no bow
]
#: What grows or falls in a hairpin.
Means = Literal["speed", "weight", "point"]
#: What an alternative changes.
Change = Literal["split", "split-note", "nearer-frog", "nearer-tip", "point", "faster-tempo", "turned"]

#: A speed within a stroke that passes both its ends by this ratio is a turn. Chosen.
_TURNS = 1.05


@dataclass(frozen=True, slots=True)
class Moment:
    """Where bow and string are at a moment of a stroke."""

    share: float  #: of the stroke's time, 0 to 1
    at_mm: float  #: of the hair, from the frog
    speed_cm_s: float
    weight_n: float
    sounding_point: float  #: 1 at the bridge to 5 at the fingerboard


def telling(path: Sequence[Moment]) -> tuple[Moment, ...]:
    """Return the moments that tell a path: both ends, and between them the turn of a swell that comes back.

    A plucked note has no path: nothing is returned.
    """
    if not path:
        return ()
    speeds = [max(moment.speed_cm_s, 1e-9) for moment in path]
    low, high = sorted((speeds[0], speeds[-1]))
    beyond = [max(speed / high, low / speed) for speed in speeds]
    k = beyond.index(max(beyond))
    return (path[0], path[k], path[-1]) if beyond[k] > _TURNS else (path[0], path[-1])


@dataclass(frozen=True, slots=True)
class Alternative:
    """A way out where a stroke does not go, found by planning again with it.

    ``cures`` are the remarks of the stroke that are gone with it; ``remaining`` is how many the whole plan
    keeps.
    """

    change: Change
    cures: tuple[str, ...]
    remaining: int
    after_notes: tuple[int, ...] = ()  #: split: indices in the stroke's notes after which the bow turns
    bows: int = 1  #: split, split-note: how many bows take the place of the one
    start_at_mm: float | None = None  #: nearer-frog, nearer-tip: where it then begins
    sounding_point: float | None = None  #: point: where the slower bow has the same level
    tempo: float | None = None  #: quarter notes a minute

    @property
    def after_note(self) -> int | None:
        """Index in the stroke's notes after which the bow first turns, None where no slur is split."""
        return self.after_notes[0] if self.after_notes else None


@dataclass(frozen=True, slots=True)
class Stroke:
    """One movement of the bow in one direction, or one plucked note (no hair, no speed, no weight)."""

    index: int
    measure: str  #: number on the page where it begins
    measure_index: int  #: of that measure on the page, from 0
    passing: int  #: 1, or 2 when the measure is repeated
    beat: float
    onset_ql: float
    duration_ql: float
    direction: Direction
    is_given: bool  #: the score has the sign
    rule: Rule
    notes: tuple[str, ...]  #: as spelled, "G3+D4" for a double stop
    element_ids: tuple[str, ...]  #: of all notes in it, in order; the first bears the sign
    seconds: float  #: while the bow moves: half of the time of a staccato note
    hair_used_mm: float
    speed_cm_s: float  #: mean
    start_at_mm: float
    end_at_mm: float
    dynamic: Dynamic
    string: str  #: letter of the (lower) string
    sounding_point: float  #: where it begins
    distance_mm: float  #: of that point from the bridge, at this note
    weight_n: float  #: at its beginning
    weight_span_n: tuple[float, float] | None  #: playable, least and greatest; None where nothing is sure
    range_db: float | None  #: the least along the stroke
    tilt_deg: float  #: of the hair from flat
    path: tuple[Moment, ...]  #: two moments of a steady stroke, more within a hairpin
    means: tuple[Means, ...] = ()  #: what a hairpin changes most, and then
    is_plucked: bool = False
    is_retake: bool = False  #: the bow leaves the string before it and is set anew
    is_linked: bool = False  #: the same direction as before, the bow stops between
    event_indices: tuple[int, ...] = ()  #: of its notes in `Part.events`
    remarks: tuple[Remark, ...] = ()  #: what will not go; `words.remark` says each
    alternatives: tuple[Alternative, ...] = ()


@dataclass(frozen=True, slots=True)
class Plan:
    """The bow plan of a part."""

    part: str
    instrument: str
    size: str
    bow_mm: float
    quarters_per_minute: float  #: at the start
    is_tempo_given: bool
    strokes: tuple[Stroke, ...]
    remarks: tuple[Remark, ...] = ()  #: on the whole part: what could not be read

    @property
    def failing(self) -> tuple[Stroke, ...]:
        """The strokes with a remark."""
        return tuple(stroke for stroke in self.strokes if stroke.remarks)
