"""Changes to a score that a reader asks for, made in the score itself, so that all else follows from them.

A change is a word and the id of a note, as it stands in the address of a page: ``split:p0m5n0`` lets the slur
that leads to this note end before it and begin anew, ``free:p0m5n0`` takes the written sign of a bow's
direction away, so that the plan may turn the stroke.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from xml.etree import ElementTree as ET

from colophony.app.score.notations import notations_of
from colophony.app.score.values import Score
from colophony.errors import InputError
from colophony.language import _
from colophony.teaching.score.piece import Part
from colophony.teaching.score.strokes import Alternative, Stroke

SPLIT, FREE = "split", "free"


@dataclass(frozen=True, slots=True)
class Change:
    """One change: what is done, at which note."""

    kind: str
    element_id: str

    @classmethod
    def read(cls, text: str) -> Change:
        """Return a change as written in an address. Raises `InputError` when it is none."""
        kind, _colon, element_id = text.partition(":")
        if kind not in (SPLIT, FREE) or not element_id:
            raise InputError(
                _("The address asks for a change that is not known: begin again with the score.")
            )
        return cls(kind, element_id)

    def __str__(self) -> str:
        return f"{self.kind}:{self.element_id}"


def change_for(part: Part, stroke: Stroke, way: Alternative) -> Change | None:
    """Return the change to the score that is a way out, None where the way is none of the score."""
    if way.change == "turned":
        return Change(FREE, stroke.element_ids[0])
    if way.change != "split" or way.after_note is None:
        return None
    events = [part.events[k] for k in stroke.event_indices if not part.events[k].is_grace]
    told = [event for k, event in enumerate(events) if k == 0 or not event.is_tied]
    if not way.after_note + 1 < len(told):
        return None
    return Change(SPLIT, told[way.after_note + 1].element_ids[0])


def changed(score: Score, changes: Sequence[Change]) -> Score:
    """Return the score with changes made, in their order; ids stay. Raises `InputError` for a lost note."""
    if not changes:
        return score
    root = ET.fromstring(score.musicxml)
    for change in changes:
        part = next((p for p in root.iter("part") if _note(p, change.element_id) is not None), None)
        if part is None:
            raise InputError(_("A changed note is not in this score: take the change back."))
        if change.kind == SPLIT:
            _split(part, change.element_id)
        else:
            _free(part, change.element_id)
    return replace(score, musicxml=ET.tostring(root, encoding="unicode"))


def measure_of(score: Score, element_id: str) -> str | None:
    """Return the number on the page of the measure of a note."""
    for measure in ET.fromstring(score.musicxml).iter("measure"):
        if any(note.get("id") == element_id for note in measure.iter("note")):
            return measure.get("number")
    return None


def _note(part: ET.Element, element_id: str) -> ET.Element | None:
    return next((note for note in part.iter("note") if note.get("id") == element_id), None)


def _voice(part: ET.Element, note: ET.Element) -> Iterator[ET.Element]:
    """Yield the notes of a note's voice, of a chord the first one, in the order of the page."""
    own = note.findtext("voice")
    for other in part.iter("note"):
        if other.findtext("voice") == own and other.find("chord") is None:
            yield other


def _split(part: ET.Element, element_id: str) -> None:
    """Let every slur that leads to a note from before end before it, and begin anew there if it goes on."""
    note = _note(part, element_id)
    assert note is not None
    notes = list(_voice(part, note))
    if note not in notes:  # a chord's further note: its first one bears the slur
        inside = [n for n in part.iter("note") if n.findtext("voice") == note.findtext("voice")]
        note = next(n for n in reversed(inside[: inside.index(note)]) if n.find("chord") is None)
    at = notes.index(note)
    before = next((n for n in reversed(notes[:at]) if n.find("grace") is None), None)
    if before is None:
        return
    for number in _open_slurs(notes[:at]):
        begun, ended = _slur(before, number, "start"), _slur(note, number, "stop")
        if begun is not None:
            _remove(before, begun)  # one note alone is no slur
        else:
            _add_slur(before, number, "stop")
        if ended is not None:
            _remove(note, ended)
        else:
            _add_slur(note, number, "start")


def _open_slurs(notes: Sequence[ET.Element]) -> list[str]:
    """Return the numbers of the slurs that begin in some notes and do not end in them."""
    open_ones: dict[str, None] = {}
    for note in notes:
        slurs = list(note.iter("slur"))
        for kind in ("stop", "start"):
            for slur in slurs:
                if slur.get("type") != kind:
                    continue
                if kind == "stop":
                    open_ones.pop(slur.get("number", "1"), None)
                else:
                    open_ones[slur.get("number", "1")] = None
    return list(open_ones)


def _slur(note: ET.Element, number: str, kind: str) -> ET.Element | None:
    for slur in note.iter("slur"):
        if slur.get("number", "1") == number and slur.get("type") == kind:
            return slur
    return None


def _add_slur(note: ET.Element, number: str, kind: str) -> None:
    ET.SubElement(notations_of(note), "slur", {"type": kind, "number": number})


def _remove(note: ET.Element, element: ET.Element) -> None:
    for parent in note.iter():
        if element in list(parent):
            parent.remove(element)
            return


def _free(part: ET.Element, element_id: str) -> None:
    """Take the written sign of direction from a note."""
    note = _note(part, element_id)
    assert note is not None
    for technical in note.iter("technical"):
        for sign in [child for child in technical if child.tag in ("up-bow", "down-bow")]:
            technical.remove(sign)
