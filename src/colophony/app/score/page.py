"""What stands in the measures of a page: music21's objects become plain values, measure by measure."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from colophony import units
from colophony.teaching.score.piece import (
    DYNAMICS,
    Articulation,
    Direction,
    Dynamic,
    Event,
    Pitch,
    Remark,
    Turning,
)

_ARTICULATIONS: dict[str, tuple[Articulation, ...]] = {
    "Staccato": ("staccato",),
    "Staccatissimo": ("staccatissimo",),
    "Spiccato": ("spiccato",),
    "Tenuto": ("tenuto",),
    "DetachedLegato": ("tenuto", "staccato"),
    "Accent": ("accent",),
    "StrongAccent": ("strong accent",),
}
_BOWINGS: dict[str, Direction] = {"UpBow": "up", "DownBow": "down"}
_BREAKS = ("BreathMark", "Caesura")
#: Marks of dynamics that are none of `DYNAMICS`, as what they come nearest to.
_NEAREST: dict[str, Dynamic] = {
    **dict.fromkeys(("pppp", "ppppp", "pppppp", "n", "niente"), "ppp"),
    **dict.fromkeys(("ffff", "fffff", "ffffff"), "fff"),
    **dict.fromkeys(("fp", "sfp", "pf"), "p"),
    "sfpp": "pp",
    "sffz": "ff",
    **dict.fromkeys(("sf", "sfz", "fz", "rf", "rfz"), "f"),
}
_ACCENTS = ("sf", "sfz", "sffz", "fz", "rf", "rfz", "fp", "sfp", "sfpp")
_PLUCK = re.compile(r"\bpizz", re.I)
_BOW = re.compile(r"\b(arco|col arco)\b", re.I)
_GROW = re.compile(r"\b(cresc)", re.I)
_FALL = re.compile(r"\b(dim|decresc)", re.I)
#: Words that ask for what this plan does not know, by the remark that says so.
_WORDS = {
    "special-sound": re.compile(
        r"\b(ponticello|sul pont|am steg|tasto|sul tast|am griffbrett|col legno|flautando|tremolo)\b", re.I
    ),
    "tempo-change": re.compile(
        r"\b(rit|ritard\w*|riten\w*|rall\w*|accel\w*|string(endo)?|stretto|allarg\w*|calando|"
        r"(più|piu|meno) (mosso|lento|allegro|vivo)|doppio movimento|tempo (i|1|primo))\b",
        re.I,
    ),
}
#: Quarter notes a minute that words without a figure are taken as: those of music21 (`tempo`), which a test
#: compares. Players differ.
TEMPO_WORDS = {
    "grave": 40.0,
    "largo": 46.0,
    "lento": 52.0,
    "adagio": 56.0,
    "langsam": 56.0,
    "larghetto": 60.0,
    "andante": 72.0,
    "andantino": 80.0,
    "moderato": 92.0,
    "allegretto": 108.0,
    "allegro": 132.0,
    "schnell": 132.0,
    "vivace": 160.0,
    "presto": 184.0,
    "prestissimo": 208.0,
}
_TEMPO_WORD = re.compile(rf"^(?:(?:un )?poco |molto |sehr )?({'|'.join(TEMPO_WORDS)})\b", re.I)


@dataclass(slots=True)
class Mark:
    """Something over a measure: a dynamic, a word, a tempo; ``onset_ql`` counts from the measure's start."""

    onset_ql: float
    dynamic: Dynamic | None = None
    is_accent: bool = False
    turning: Turning | None = None  #: of a word
    quarters_per_minute: float | None = None
    is_tempo_given: bool = False
    words: str = ""


@dataclass(slots=True)
class PageMeasure:
    """A measure of the page: its metre, its events with onsets from its start, its marks."""

    number: str
    index: int
    length_ql: float
    time_signature: str
    beat_ql: float
    bar_ql: float  #: length that the metre asks for
    events: list[Event]
    marks: list[Mark] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)
    is_pickup: bool = False


def measures_of(part: Any, *, transposition: int) -> tuple[list[PageMeasure], dict[int, tuple[int, int]]]:
    """Return the measures of a part, and where each of its notes went: (measure, event) by ``id``.

    Parameters
    ----------
    part : music21 stream of one part, its notes coloured with the ids of `Score.musicxml`
    transposition : from the written to the sounding pitch, semitones
    """
    pages: list[PageMeasure] = []
    where: dict[int, tuple[int, int]] = {}
    plucked, before_ql, metre = False, 0.0, None
    measures = list(part.getElementsByClass("Measure"))
    for i, measure in enumerate(measures):
        metre = measure.timeSignature or metre
        page = _empty(measure, i, metre)
        behind_ql = float(measures[i + 1].duration.quarterLength) if i + 1 < len(measures) else 0.0
        padding = _padding(page, before_ql, behind_ql)
        page.is_pickup = i == 0 and padding > 0.0
        before_ql = page.length_ql if padding == 0.0 and page.length_ql < page.bar_ql else 0.0
        turns = _read_marks(measure, page)
        found = _read_voices(measure, page, transposition)
        for k, (event, source) in enumerate(found):
            position = padding + event.onset_ql
            while turns and turns[0][0] <= event.onset_ql:
                plucked = turns.pop(0)[1]
            page.events.append(
                replace(
                    event,
                    beat=round(_beat(metre, position, page.beat_ql), 3),
                    beat_strength=_strength(metre, position),
                    is_plucked=(plucked or event.is_plucked) and not event.is_rest,
                )
            )
            for one in source:
                where[id(one)] = (i, k)
        if turns:
            plucked = turns[-1][1]
        pages.append(page)
    return pages, where


def dynamic_of(value: str) -> tuple[Dynamic, bool] | None:
    """Return a written mark as one that is planned, and whether it marks one note; None for no dynamic."""
    mark = value.strip().lower()
    for known in DYNAMICS:
        if mark == known:
            return known, False
    return (_NEAREST[mark], mark in _ACCENTS) if mark in _NEAREST else None


def _empty(measure: Any, index: int, metre: Any) -> PageMeasure:
    bar_ql = float(metre.barDuration.quarterLength) if metre else 4.0
    length_ql = float(measure.duration.quarterLength) or bar_ql
    try:
        beat_ql = float(metre.beatDuration.quarterLength) if metre else 1.0
    except Exception:  # an uneven metre such as 5/8: the library knows no one beat
        beat_ql = 4.0 / metre.denominator
    return PageMeasure(
        number=_number_of(measure),
        index=index,
        length_ql=length_ql,
        time_signature=metre.ratioString if metre else "4/4",
        beat_ql=beat_ql,
        bar_ql=bar_ql,
        events=[],
    )


def _number_of(measure: Any) -> str:
    """Return a measure's number; one that is not counted ("X1") has that of the measure it completes."""
    suffix = measure.numberSuffix or ""
    return str(measure.number) if suffix.startswith("X") else str(measure.measureNumberWithSuffix())


def _padding(page: PageMeasure, before_ql: float, behind_ql: float) -> float:
    """Return how much of the metre is missing before a measure that is short because it begins late.

    That is a pickup, or the second part of a bar that a sign of repetition parts.
    """
    missing = page.bar_ql - page.length_ql
    if missing <= 1e-6:
        return 0.0
    if page.index == 0:
        return 0.0 if abs(behind_ql - missing) < 1e-6 else missing
    return before_ql if before_ql and abs(before_ql - missing) < 1e-6 else 0.0


def _beat(metre: Any, position_ql: float, beat_ql: float) -> float:
    try:
        return float(metre.getBeatProportion(position_ql))
    except Exception:  # no metre, or a place beyond its end
        return 1.0 + position_ql / beat_ql


def _strength(metre: Any, position_ql: float) -> float:
    if metre is None:
        return 1.0 if position_ql == 0.0 else 0.25
    try:
        strength = float(metre.getAccentWeight(position_ql, forcePositionMatch=True))
    except Exception:  # a place beyond the metre's end
        return 0.0625
    triple = metre.numerator == 3 or metre.beatCount == 3
    return min(strength, 0.25) if triple and position_ql > 0.0 else strength


def _read_marks(measure: Any, page: PageMeasure) -> list[tuple[float, bool]]:
    """Put dynamics, tempos and words on the page; return where the bow is laid down (True) and taken up."""
    turns: list[tuple[float, bool]] = []
    for mark in measure.recurse().getElementsByClass(
        ("Dynamic", "MetronomeMark", "TempoText", "TextExpression", "RehearsalMark")
    ):
        onset = float(mark.getOffsetInHierarchy(measure))
        kind = type(mark).__name__
        if kind == "Dynamic":
            if (known := dynamic_of(mark.value or "")) is not None:
                page.marks.append(Mark(onset, dynamic=known[0], is_accent=known[1]))
        elif kind == "MetronomeMark":
            number = mark.getQuarterBPM()
            if number:
                text = mark.text or ""
                given = not mark.numberImplicit
                page.marks.append(
                    Mark(onset, quarters_per_minute=float(number), is_tempo_given=given, words=text)
                )
        elif kind != "RehearsalMark":
            words = " ".join((getattr(mark, "content", None) or getattr(mark, "text", None) or "").split())
            _read_words(words, onset, page, turns)
    return sorted(turns)


def _read_words(words: str, onset: float, page: PageMeasure, turns: list[tuple[float, bool]]) -> None:
    if _PLUCK.search(words):
        turns.append((onset, True))
    elif _BOW.search(words):
        turns.append((onset, False))
    if (known := dynamic_of(words)) is not None:
        page.marks.append(Mark(onset, dynamic=known[0], is_accent=known[1]))
    elif _GROW.search(words) and not _FALL.search(words):
        page.marks.append(Mark(onset, turning="crescendo", words=words))
    elif _FALL.search(words):
        page.marks.append(Mark(onset, turning="diminuendo", words=words))
    elif (tempo := _TEMPO_WORD.match(words)) is not None:
        figure = TEMPO_WORDS[tempo[1].lower()]
        page.marks.append(Mark(onset, quarters_per_minute=figure, words=words[:40]))
    for name, pattern in _WORDS.items():
        if pattern.search(words):
            page.remarks.append(Remark(name, page.number, {"words": words[:40]}))


# --- notes

_Found = tuple[Event, list[Any]]


def _read_voices(measure: Any, page: PageMeasure, transposition: int) -> list[_Found]:
    """Return the events of the bowed voice by onset, with what a second voice adds; a remark for the rest."""
    voices = list(measure.getElementsByClass("Voice"))
    streams = voices or [measure]
    told = [list(_events(stream, measure, page, transposition, v)) for v, stream in enumerate(streams)]
    told = [one for one in told if any(not event.is_rest for event, _ in one)] or told[:1]
    found = told[0]
    left_out = False
    for other in told[1:]:
        left_out |= not _laid_in(found, other)
    if left_out:
        page.remarks.append(Remark("voices", page.number))
    found.sort(key=lambda one: one[0].onset_ql)  # stable: grace notes stay before their note
    return found


def _laid_in(found: list[_Found], other: list[_Found]) -> bool:
    """Lay a second voice into the first: as double stops, or into its rests; False where some did not fit."""
    complete = True
    for event, source in other:
        if event.is_rest:
            continue
        same = [
            k
            for k, (one, _) in enumerate(found)
            if not one.is_rest
            and not one.is_grace
            and not event.is_grace
            and one.onset_ql == event.onset_ql
            and one.duration_ql == event.duration_ql
        ]
        over = [
            k
            for k, (one, _) in enumerate(found)
            if one.onset_ql < event.end_ql and event.onset_ql < one.end_ql
        ]
        if same:
            one, sources = found[same[0]]
            pitches = tuple(sorted((*one.pitches, *event.pitches), key=lambda pitch: pitch.midi))
            joined = replace(one, pitches=pitches, element_ids=(*one.element_ids, *event.element_ids))
            found[same[0]] = (joined, sources + source)
        elif all(found[k][0].is_rest for k in over):
            for k in reversed(over):
                del found[k]
            found.append((event, source))
        else:
            complete = False
    return complete


def _events(stream: Any, measure: Any, page: PageMeasure, transposition: int, voice: int) -> Iterator[_Found]:
    names = {"Note", "Chord", "Rest"}
    for one in stream.notesAndRests:
        kind = type(one).__name__
        if kind not in names or (one.style.hideObjectOnPrint and kind == "Rest"):
            if kind in ("Unpitched", "PercussionChord"):
                page.remarks.append(Remark("unpitched", page.number))
            continue
        members = list(one.notes) if kind == "Chord" else [one]
        if any(getattr(member.style, "noteSize", None) == "cue" for member in members):
            continue
        onset = float(one.getOffsetInHierarchy(measure))
        duration = 0.0 if one.duration.isGrace else float(one.duration.quarterLength)
        ids = tuple(str(member.style.color) for member in members if member.style.color)
        event = Event(
            measure=page.number,
            measure_index=page.index,
            passing=1,
            beat=1.0,
            onset_ql=onset,
            duration_ql=duration,
            element_ids=ids,
            voice=str(voice + 1),
            is_grace=bool(one.duration.isGrace),
        )
        if kind != "Rest":
            event = replace(event, **_marks_of(one, members, page, transposition))
        yield event, [one, *members]


def _marks_of(one: Any, members: list[Any], page: PageMeasure, transposition: int) -> dict[str, Any]:
    marks = {type(mark).__name__: mark for member in (*members, one) for mark in member.articulations}
    number = marks["StringIndication"].number if "StringIndication" in marks else None
    pitches = sorted(
        (
            Pitch(
                _name(member.pitch, transposition),
                int(member.pitch.midi) + transposition,
                str(member.style.color or ""),
                number,
            )
            for member in members
        ),
        key=lambda pitch: pitch.midi,
    )
    kinds = {type(mark).__name__ for mark in one.expressions}
    if "Tremolo" in kinds:
        page.remarks.append(Remark("tremolo", page.number))
    return {
        "pitches": tuple(pitches),
        "is_tied": all(
            member.tie is not None and member.tie.type in ("stop", "continue") for member in members
        )
        or (one.tie is not None and one.tie.type in ("stop", "continue")),
        "articulations": tuple(name for kind in marks for name in _ARTICULATIONS.get(kind, ())),
        "bowing": next((_BOWINGS[kind] for kind in marks if kind in _BOWINGS), None),
        "is_plucked": any(kind.endswith("Pizzicato") for kind in marks),
        "has_fermata": "Fermata" in kinds,
        "breaks_after": any(kind in marks for kind in _BREAKS),
    }


def _name(pitch: Any, transposition: int) -> str:
    """Return the sounding note's name as spelled, where the octave alone is shifted, or in sharps."""
    alter = round(float(pitch.alter))
    octave = pitch.implicitOctave + transposition // 12
    if transposition % 12 == 0 and abs(alter) <= 1 and abs(float(pitch.alter) - alter) < 0.01:
        return f"{pitch.step}{('', '#', 'b')[alter]}{octave}"
    return units.midi_to_note(int(pitch.midi) + transposition)
