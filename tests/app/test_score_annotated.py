"""The plan is written into the score, and nothing else of it changes: read again by music21."""

from __future__ import annotations

import io
from collections import Counter
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest
import score_pieces as pieces

from colophony.app.score.annotated import annotated, written_strokes
from colophony.app.score.changing import Change, change_for, changed
from colophony.app.score.opening import read_score
from colophony.app.score.plan import plan_score
from colophony.app.score.saying import notes_words, place_word
from colophony.app.score.values import PlannedScore, Request
from colophony.errors import InputError

music21 = pytest.importorskip("music21")

EVENING = Path(__file__).parents[2] / "src/colophony/app/score/evening.musicxml"
#: A quartet movement of W. A. Mozart (1772) as music21 carries it; its first violin.
MOZART = Path(music21.__file__).parent / "corpus/mozart/k156/movement1.mxl"

#: Children in the order of their schema: W3C, "MusicXML 4.0" (2021), elements note, direction and notations
#: (there any order, behind footnote and level).
NOTE_ORDER = (
    "grace", "cue", "chord", "pitch", "unpitched", "rest", "duration", "tie", "instrument", "footnote",
    "level", "voice", "type", "dot", "accidental", "time-modification", "stem", "notehead", "notehead-text",
    "staff", "beam", "notations", "lyric", "play", "listen",
)  # fmt: skip
DIRECTION_ORDER = ("direction-type", "offset", "footnote", "level", "voice", "staff", "sound", "listening")
IDENTIFICATION_ORDER = ("creator", "rights", "encoding", "source", "relation", "miscellaneous")


def plan(data: bytes, name: str = "piece.musicxml", **request: Any) -> PlannedScore:
    return plan_score(read_score(data, name=name), Request(**request), computed=False)


@pytest.fixture(scope="module")
def evening() -> PlannedScore:
    return plan(EVENING.read_bytes())


@pytest.fixture(scope="module")
def mozart() -> PlannedScore:
    return plan(MOZART.read_bytes(), MOZART.name)


def reread(text: str, part: int) -> Any:
    return music21.converter.parseData(text, format="musicxml", forceSource=True).parts[part]


def notes_of(part: Any) -> list[tuple[Any, ...]]:
    return [
        (n.measureNumber, float(n.offset), float(n.quarterLength), tuple(p.nameWithOctave for p in n.pitches))
        for n in part.recurse().notes
    ]


def slurs_of(part: Any) -> list[tuple[float, float]]:
    return sorted(
        (float(s.getFirst().getOffsetInHierarchy(part)), float(s.getLast().getOffsetInHierarchy(part)))
        for s in part.recurse().getElementsByClass("Slur")
    )


def bowings_of(part: Any) -> Counter[tuple[int, str]]:
    names = {"UpBow": "up", "DownBow": "down"}
    return Counter(
        (n.measureNumber, names[type(mark).__name__])
        for n in part.recurse().notes
        for mark in n.articulations
        if type(mark).__name__ in names
    )


@pytest.mark.parametrize("which", ["evening", "mozart"])
def test_notes_durations_and_slurs_stay_and_only_the_plans_signs_are_added(
    which: str, request: pytest.FixtureRequest
) -> None:
    """Read by music21, which knows nothing of the plan."""
    planned = request.getfixturevalue(which)
    before = reread(planned.score.musicxml, planned.part.index)
    after = reread(annotated(planned), planned.part.index)
    assert notes_of(after) == notes_of(before)
    assert slurs_of(after) == slurs_of(before)
    wanted = Counter((int(s.measure), s.direction) for s in written_strokes(planned.plan))
    assert bowings_of(after) == wanted
    assert sum(wanted.values()) > 15


def test_what_is_added_stands_where_the_standard_wants_it(mozart: PlannedScore) -> None:
    root = ET.fromstring(annotated(mozart))
    for kind, order in (("note", NOTE_ORDER), ("direction", DIRECTION_ORDER)):
        for element in root.iter(kind):
            places = [order.index(child.tag) for child in element]
            assert places == sorted(places), ET.tostring(element)[:300]
    identification = root.find("identification")
    assert identification is not None
    places = [IDENTIFICATION_ORDER.index(child.tag) for child in identification]
    assert places == sorted(places)
    assert root.get("version") == "4.0"


def test_all_else_of_the_file_is_kept(mozart: PlannedScore) -> None:
    """With what was added taken out again, the tree is the one that was read."""
    before, after = ET.fromstring(mozart.score.musicxml), ET.fromstring(annotated(mozart))
    for parent in list(after.iter()):
        for child in list(parent):
            words = child.find("direction-type/words")
            added = words is not None and words.get("font-size") == "7"
            if added or child.tag in ("up-bow", "down-bow") or child.text == "Colophony":
                parent.remove(child)
    for _pass in range(2):  # what holds nothing: a technical, then its notations
        for parent in [*before.iter(), *after.iter()]:
            for child in list(parent):
                if child.tag in ("technical", "notations") and not len(child):
                    parent.remove(child)
    after.attrib.pop("version")
    before.attrib.pop("version", None)
    assert [(e.tag, e.attrib, (e.text or "").strip()) for e in after.iter()] == [
        (e.tag, e.attrib, (e.text or "").strip()) for e in before.iter()
    ]


def test_every_stroke_says_where_on_the_bow_it_begins_and_the_last_before_a_rest_where_it_ends(
    evening: PlannedScore,
) -> None:
    root = ET.fromstring(annotated(evening))
    lines = [w.text or "" for w in root.iter("words") if w.get("font-size") == "7"]
    places = [line for line in lines if " N" not in line]
    strokes = list(written_strokes(evening.plan))
    assert len(places) == len(strokes)
    for line, stroke in zip(places, strokes, strict=True):
        assert line.split("–")[0] == place_word(stroke.start_at_mm, evening.plan.bow_mm)
    told_ends = [stroke.measure for line, stroke in zip(places, strokes, strict=True) if "–" in line]
    assert told_ends == ["8", "16"]  # behind both stands a rest


def test_point_and_weight_stand_at_every_written_dynamic(evening: PlannedScore) -> None:
    """The example has mf, mp, mf, p with a crescendo of three strokes, and f."""
    measures = []
    for measure in ET.fromstring(annotated(evening)).iter("measure"):
        measures += [measure.get("number") for w in measure.iter("words") if (w.text or "").endswith(" N")]
    for wanted in ("0", "5", "9", "13", "15"):
        assert wanted in measures
    assert len(measures) < 14


def test_a_written_sign_is_not_written_twice_and_a_chord_has_one() -> None:
    page = pieces.simple(pieces.note("D4", 2, bow="up") + pieces.note("G3 D4", 2))
    root = ET.fromstring(annotated(plan(page)))
    notes = list(root.iter("note"))
    assert [len(list(n.iter("up-bow"))) + len(list(n.iter("down-bow"))) for n in notes] == [1, 1, 0]
    assert notes[0].find("notations/technical/up-bow") is not None


def test_a_midi_file_becomes_a_score_with_the_plan() -> None:
    """Standard MIDI Files 1.0: read here, written by music21."""
    stream = music21.converter.parse("tinynotation: 3/4 d4 g2 a4 b2")
    part = music21.stream.Score([stream])
    file = music21.midi.translate.music21ObjectToMidiFile(part)
    after = reread(annotated(plan(file.writestr(), "tune.mid")), 0)
    assert [n.nameWithOctave for n in after.recurse().notes] == ["D4", "G4", "A4", "B4"]
    assert sum(bowings_of(after).values()) == 4


def test_a_split_slur_is_two_slurs_of_the_same_notes(evening: PlannedScore) -> None:
    failing = evening.plan.failing[0]
    way = next(way for way in failing.alternatives if way.change == "split")
    change = change_for(evening.part, failing, way)
    assert change is not None
    score = changed(evening.score, [Change.read(str(change))])
    before, after = reread(evening.score.musicxml, 0), reread(score.musicxml, 0)
    assert notes_of(after) == notes_of(before)
    gone, come = (Counter(slurs_of(x)) - Counter(slurs_of(y)) for x, y in ((before, after), (after, before)))
    ((begin, end),) = gone
    (first, second) = sorted(come)
    assert (first[0], second[1]) == (begin, end)
    assert first[1] < second[0]
    assert plan_score(score, Request(), computed=False).plan.failing == ()


@pytest.mark.parametrize(("cut", "left"), [(1, 1), (2, 2), (3, 1)])
def test_one_note_alone_has_no_slur(cut: int, left: int) -> None:
    """A slur joins two notes at least: of four notes, cut behind the first or before the last, three stay."""
    bar = [pieces.note("D4", 1, slur=["start"]), pieces.note("E4", 1), pieces.note("F#4", 1)]
    score = read_score(pieces.simple("".join([*bar, pieces.note("G4", 1, slur=["stop"])])), name="p.xml")
    after = changed(score, [Change("split", f"p0m0n{cut}")])
    assert len(slurs_of(reread(after.musicxml, 0))) == left


def test_a_change_that_is_none_is_refused_in_a_line(evening: PlannedScore) -> None:
    for text in ("", "split", "split:", "burn:p0m0n0"):
        with pytest.raises(InputError, match="not known"):
            Change.read(text)
    with pytest.raises(InputError, match="not in this score"):
        changed(evening.score, [Change("split", "p9m9n9")])


def test_what_is_written_is_read_again_by_colophony(evening: PlannedScore) -> None:
    """The signs that were added are then written ones, and the plan keeps them."""
    text = annotated(evening).encode()
    again = plan(io.BytesIO(text).read())
    assert [s.direction for s in again.plan.strokes] == [s.direction for s in evening.plan.strokes]
    assert all(s.is_given for s in again.plan.strokes)


def test_notes_are_named_with_the_engravers_accidentals() -> None:
    """On the page as in the terminal; a double stop has both names."""
    planned = plan(pieces.simple(pieces.note("Bb3 F#4", 2) + pieces.note("Eb4", 2)))
    assert [notes_words(stroke) for stroke in planned.plan.strokes] == ["B♭3+F♯4", "E♭4"]
