"""The score with its bow plan written in, as MusicXML that notation programs open.

W3C, "MusicXML 4.0" (2021). The score is kept as it is; only three things are added, each where the standard
has its place: the sign of the bow's direction (``technical``, ``down-bow`` or ``up-bow``) at a stroke's first
note, a few small words below it (``direction``, ``words``), and what wrote them (``identification``,
``encoding``, ``software``).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from xml.etree import ElementTree as ET

from colophony.app.score.notations import insert_before, notations_of
from colophony.app.score.saying import place_word, point_words, stroke_words, weight_words
from colophony.app.score.values import PlannedScore
from colophony.language import _
from colophony.teaching.score.strokes import Plan, Stroke

_HEADER = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
#: What follows ``encoding`` in an ``identification``, and that in the score (MusicXML 4.0).
_AFTER_ENCODING = ("source", "relation", "miscellaneous")
_AFTER_IDENTIFICATION = ("defaults", "credit", "part-list")
_SIGNS = {"down": "down-bow", "up": "up-bow"}
#: Small and quiet beside the composer's own words. Points and sRGB.
_WORDS_STYLE = {"font-size": "7", "font-style": "normal", "color": "#675b52"}


def annotated(planned: PlannedScore) -> str:
    """Return the whole score as MusicXML with the plan of its part written in; see the module."""
    root = with_bowings(planned)
    says = dict(_words_of(planned.plan))
    parents = {child: parent for parent in root.iter() for child in parent}
    for id_, note in _first_notes(root, planned.plan).items():
        if id_ in says:
            measure = parents[note]
            for words in says[id_]:
                measure.insert(list(measure).index(note), _direction(words, note))
    _sign_file(root)
    root.set("version", "4.0")
    return _HEADER + ET.tostring(root, encoding="unicode") + "\n"


def with_bowings(planned: PlannedScore) -> ET.Element:
    """Return the score's tree with the sign of its direction at every bowed stroke of the plan; new memory.

    A repeated measure has one sign, that of its first time.
    """
    root = ET.fromstring(planned.score.musicxml)
    notes = _first_notes(root, planned.plan)
    for stroke in written_strokes(planned.plan):
        _put_sign(notes[stroke.element_ids[0]], _SIGNS[stroke.direction])
    return root


def written_strokes(plan: Plan) -> Iterator[Stroke]:
    """Yield the bowed strokes that begin at a note of the page for the first time."""
    seen: set[str] = set()
    for stroke in plan.strokes:
        if not stroke.element_ids or stroke.element_ids[0] in seen:
            continue
        seen.add(stroke.element_ids[0])
        if not stroke.is_plucked:
            yield stroke


def _words_of(plan: Plan) -> Iterator[tuple[str, list[str]]]:
    """Yield the id of a stroke's first note and the lines of words below it.

    The first says where on the bow the stroke begins. It ends where the next one begins; where it does not,
    or a rest follows, its end is said too. Sounding point and weight stand where the dynamic changes and in
    hairpins.
    """
    before = ""
    turned = dict(_second_times(plan))
    for stroke in written_strokes(plan):
        following = next(iter(plan.strokes[stroke.index + 1 : stroke.index + 2]), None)
        lines = [_place_words(stroke, following, plan.bow_mm)]
        if stroke.dynamic != before or stroke.means:
            lines.append(f"{point_words(stroke)} · {weight_words(stroke)}")
        before = stroke.dynamic
        if stroke.element_ids[0] in turned:
            lines.append(turned[stroke.element_ids[0]])
        yield stroke.element_ids[0], lines


def _place_words(stroke: Stroke, following: Stroke | None, bow_mm: float) -> str:
    end_ql = stroke.onset_ql + stroke.duration_ql
    if following is None or following.is_retake or following.onset_ql > end_ql + 1e-6:
        return stroke_words(stroke, bow_mm)
    return place_word(stroke.start_at_mm, bow_mm)


def _second_times(plan: Plan) -> Iterator[tuple[str, str]]:
    """Yield notes at which the bow goes the other way when they are repeated."""
    first = {stroke.element_ids[0]: stroke for stroke in written_strokes(plan)}
    for stroke in plan.strokes:
        written = first.get(stroke.element_ids[0]) if stroke.element_ids else None
        if written is not None and stroke.direction != written.direction:
            yield (
                stroke.element_ids[0],
                _("second time up") if stroke.direction == "up" else _("second time down"),
            )


def _first_notes(root: ET.Element, plan: Plan) -> Mapping[str, ET.Element]:
    """Return the note that bears a stroke's sign, by the id of its first note: of a chord the first one."""
    wanted = {stroke.element_ids[0] for stroke in plan.strokes if stroke.element_ids}
    found: dict[str, ET.Element] = {}
    for measure in root.iter("measure"):
        first: ET.Element | None = None
        for note in measure.iter("note"):
            if first is None or note.find("chord") is None:
                first = note
            id_ = note.get("id", "")
            if id_ in wanted:
                found[id_] = first
    return found


def _put_sign(note: ET.Element, sign: str) -> None:
    """Put a sign at a note; the same one is not written twice, the opposite one makes room."""
    for signs in note.iter("technical"):
        for other in [child for child in signs if child.tag in _SIGNS.values()]:
            if other.tag == sign:
                return
            signs.remove(other)
    notations = notations_of(note)
    technical = notations.find("technical")
    if technical is None:
        technical = ET.SubElement(notations, "technical")
    ET.SubElement(technical, sign)


def _direction(words: str, note: ET.Element) -> ET.Element:
    """Return words below the staff of a note, at its time."""
    direction = ET.Element("direction", {"placement": "below"})
    ET.SubElement(ET.SubElement(direction, "direction-type"), "words", _WORDS_STYLE).text = words
    for name in ("voice", "staff"):  # in this order
        own = note.find(name)
        if own is not None:
            ET.SubElement(direction, name).text = own.text
    return direction


def _sign_file(root: ET.Element) -> None:
    """Say in the file what wrote the plan into it."""
    identification = root.find("identification")
    if identification is None:
        identification = ET.Element("identification")
        insert_before(root, identification, _AFTER_IDENTIFICATION)
    encoding = identification.find("encoding")
    if encoding is None:
        encoding = ET.Element("encoding")
        insert_before(identification, encoding, _AFTER_ENCODING)
    ET.SubElement(encoding, "software").text = "Colophony"
