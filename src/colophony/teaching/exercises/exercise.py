"""What an exercise is, what it asks of one instrument, and what came of it: plain values.

An `Exercise` is data and knows no instrument. A `Target` is what it asks on one string of one instrument. A
`Passed` is what a take showed of it. All of them become plain JSON values by `to_plain`, and themselves
again by `exercise_from_plain`, `target_from_plain` and `passed_from_plain`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Literal

from colophony.language import N_
from colophony.teaching.exercises.plain import from_plain, to_plain
from colophony.teaching.findings import Say, Variable

__all__ = [
    "AIMS",
    "PARTS",
    "Aim",
    "Difficulty",
    "Exercise",
    "Level",
    "Outcome",
    "Part",
    "PassRule",
    "Passed",
    "Remark",
    "Span",
    "StrokeCheck",
    "StrokeSpec",
    "Target",
    "TargetPlace",
    "exercise_from_plain",
    "passed_from_plain",
    "target_from_plain",
    "to_plain",
]

#: From and to, or least and greatest.
Span = tuple[float, float]

Aim = Literal[
    "hold-point",
    "move-between-points",
    "long-slow",
    "fast-light",
    "clean-start",
    "crescendo",
    "wander",
    "crossing",
    "high-position",
    "tilt",
    "reference",
]
#: What an exercise can be for, with the words for a heading.
AIMS: Mapping[str, str] = MappingProxyType(
    {
        "hold-point": N_("Hold one sounding point"),
        "move-between-points": N_("Move between sounding points"),
        "long-slow": N_("Long slow bow"),
        "fast-light": N_("Fast light bow"),
        "clean-start": N_("Clean start"),
        "crescendo": N_("Crescendo"),
        "wander": N_("Wander on purpose"),
        "crossing": N_("String crossings"),
        "high-position": N_("High positions"),
        "tilt": N_("Tilt"),
        "reference": N_("Reference take"),
    }
)

Part = Literal["whole", "lower-half", "upper-half", "middle", "frog", "tip"]
#: Parts of the bow as shares of the hair, 0 at the frog, 1 at the tip. Common practice, no source.
PARTS: Mapping[str, Span] = MappingProxyType(
    {
        "whole": (0.0, 1.0),
        "lower-half": (0.0, 0.5),
        "upper-half": (0.5, 1.0),
        "middle": (1 / 3, 2 / 3),
        "frog": (0.0, 0.2),
        "tip": (0.8, 1.0),
    }
)


@dataclass(frozen=True, slots=True)
class StrokeSpec:
    """The stroke that an exercise asks for, in terms that fit every instrument.

    Attributes
    ----------
    beats : beats that one bow lasts
    tempo : beats a minute
    part : of the bow that is used, a key of `PARTS`
    points : sounding point at the start and at the end of a bow, 1 to 5
    weight : place inside the playable range of weight at start and end, 0 (least) to 1 (greatest) in ratio
    tilt_deg : tilt from flat hair at start and end, towards the fingerboard, degrees
    strings : counted from the highest as players count them (1 is a violin's E); several in turn
    semitones : above the open string, 0 for the open string itself
    count : strokes in one go
    """

    beats: float = 4.0
    tempo: float = 60.0
    part: Part = "whole"
    points: Span = (3.0, 3.0)
    weight: Span = (0.5, 0.5)
    tilt_deg: Span = (0.0, 0.0)
    strings: tuple[int, ...] = (2,)
    semitones: int = 0
    count: int = 10

    @property
    def seconds(self) -> float:
        """How long one bow lasts, s."""
        return 60.0 * self.beats / self.tempo

    @property
    def share_of_bow(self) -> float:
        """How much of the hair one bow uses, 0 to 1."""
        begin, end = PARTS[self.part]
        return end - begin

    @property
    def moves(self) -> bool:
        """Whether the bow's place changes on purpose."""
        return self.points[0] != self.points[1]


@dataclass(frozen=True, slots=True)
class PassRule:
    """When an exercise counts as passed: so many of so many strokes, each under every limit that is given.

    Attributes
    ----------
    at_least, of : strokes that must pass, of how many; of more strokes in a take the last ones count
    clean_share : least share of the stroke's judged time that is `helmholtz` or `steady`, 0 to 1
    start : worst grade of the start that passes; None asks nothing of it
    level_within_db : greatest swing of the level
    pitch_within_cents : greatest swing of the pitch
    level_rises_db : how much louder a stroke's last third is than its first, at least
    lasts_share : least length of a stroke, as a share of the time that the exercise gives it
    """

    at_least: int = 8
    of: int = 10
    clean_share: float = 0.9
    start: Literal["clean", "slow"] | None = None
    level_within_db: float | None = None
    pitch_within_cents: float | None = None
    level_rises_db: float | None = None
    lasts_share: float | None = None


@dataclass(frozen=True, slots=True)
class Exercise:
    """One exercise as data.

    Attributes
    ----------
    key : slug, "hold-point-middle"
    title : message
    say : what to do, for three readers
    listen_for : what player, parent and teacher listen for
    trains : variables of the stroke that it trains
    aim : what it is for, a key of `AIMS`
    stroke : what is bowed
    pass_rule : when it is passed
    before : keys of exercises that should be passed before
    minutes : that one go takes
    is_own : a teacher's own; its texts are not translated
    """

    key: str
    title: str
    say: Say
    listen_for: Say
    trains: tuple[Variable, ...]
    aim: Aim
    stroke: StrokeSpec
    pass_rule: PassRule
    before: tuple[str, ...] = ()
    minutes: float = 3.0
    is_own: bool = False


@dataclass(frozen=True, slots=True)
class Remark:
    """Something to tell, by its kind and figures; `words.remark_words` says it to a reader."""

    kind: str
    values: Mapping[str, float | str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class TargetPlace:
    """Where the bow runs at one moment of a stroke, and what weight it carries there.

    Attributes
    ----------
    sounding_point : 1 to 5
    distance_mm : bow to bridge, on the note as played
    distance_span_mm : nearest and farthest place at which the tone holds with the aimed weight; None where
        it is not known
    distance_open_mm : the same sounding point on the open string, where a printed strip has it
    distance_tolerance_mm : to either side of the aimed place
    weight_n : aimed at
    weight_span_n : least and greatest that speaks
    range_db : 20 log10(greatest / least)
    weight_tolerance_db : to either side of the aimed weight
    """

    sounding_point: float
    distance_mm: float
    distance_open_mm: float
    distance_span_mm: Span | None
    distance_tolerance_mm: float
    weight_n: float
    weight_span_n: Span
    range_db: float
    weight_tolerance_db: float

    @property
    def wander_mm(self) -> float | None:
        """How far the bow may wander in all, mm; None where it is not known."""
        return None if self.distance_span_mm is None else self.distance_span_mm[1] - self.distance_span_mm[0]


@dataclass(frozen=True, slots=True)
class Target:
    """What an exercise asks on one string of one instrument, each with its tolerance.

    Attributes
    ----------
    string, note, frequency_hz : where it is played
    beats, tempo, seconds : how long one bow lasts
    part, bow_used_mm, hair_mm : part of the bow, its length, and the length of all the hair
    speed_cm_s, speed_tolerance : mean speed, and the share that it may differ to either side
    places : one for a bow that stays, two (start, end) for one that moves or swells
    tilt_deg, tilt_tolerance_deg : at start and end, from flat hair
    is_computed : from the map of this string; False for the published limits
    instead : what this instrument cannot do as the exercise asks, and what was chosen in its place
    """

    string: str
    note: str
    frequency_hz: float
    beats: float
    tempo: float
    seconds: float
    part: Part
    bow_used_mm: float
    hair_mm: float
    speed_cm_s: float
    speed_tolerance: float
    places: tuple[TargetPlace, ...]
    tilt_deg: Span
    tilt_tolerance_deg: float
    is_computed: bool
    instead: tuple[Remark, ...] = ()

    @property
    def begin(self) -> TargetPlace:
        """Where a bow begins."""
        return self.places[0]

    @property
    def end(self) -> TargetPlace:
        """Where a bow ends; the same place where it stays."""
        return self.places[-1]

    @property
    def narrowest(self) -> TargetPlace:
        """The place with the least room of weight."""
        return min(self.places, key=lambda place: place.range_db)


Level = Literal["wide", "fair", "narrow", "too-narrow"]


@dataclass(frozen=True, slots=True)
class Difficulty:
    """How much room a target leaves beside the spread that this student showed.

    Attributes
    ----------
    room : how often the student's spread fits into the playable range; the lesser of weight and place
    level : "wide" (much room) to "too-narrow" (the spread alone leaves the range)
    decided_by : the variable with the lesser room
    range_db, spread_db : playable range of weight, spread of the student's weight
    wander_mm, spread_mm : wander room of the bow, spread of its place; None where the room is not known
    is_estimated : the spread is an assumption for the age group, not heard from this student
    """

    room: float
    level: Level
    decided_by: Variable
    range_db: float
    spread_db: float
    wander_mm: float | None
    spread_mm: float
    is_estimated: bool


Outcome = Literal["passed", "not-yet", "cannot-say"]


@dataclass(frozen=True, slots=True)
class StrokeCheck:
    """One stroke of a take under a rule: ``number`` from 1 in the take; None where it cannot be judged."""

    number: int
    passed: bool | None
    why: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True)
class Passed:
    """What a take showed of an exercise: which strokes passed, which did not, and why.

    ``passed`` counts strokes that passed, ``judged`` those that could be judged, ``needed`` and ``of`` are
    the rule's. ``strokes`` holds those that counted, in the order they were played. ``left_out`` counts what
    was no bow of the exercise: other notes, plucked ones, touches of the bow.
    """

    key: str
    outcome: Outcome
    passed: int
    judged: int
    needed: int
    of: int
    strokes: tuple[StrokeCheck, ...] = ()
    left_out: int = 0


def exercise_from_plain(value: Mapping[str, Any]) -> Exercise:
    """Return the exercise that `to_plain` turned into JSON values; raises `InputError` for anything else."""
    return from_plain(Exercise, value)


def target_from_plain(value: Mapping[str, Any]) -> Target:
    """Return the target that `to_plain` turned into JSON values; raises `InputError` for anything else."""
    return from_plain(Target, value)


def passed_from_plain(value: Mapping[str, Any]) -> Passed:
    """Return the result that `to_plain` turned into JSON values; raises `InputError` for anything else."""
    return from_plain(Passed, value)
