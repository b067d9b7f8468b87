"""Where in a score's tree something new belongs, by the order of elements in MusicXML 4.0 (W3C, 2021)."""

from __future__ import annotations

from xml.etree import ElementTree as ET

#: What follows ``notations`` in a ``note``.
_AFTER_NOTATIONS = ("lyric", "play", "listen")


def notations_of(note: ET.Element) -> ET.Element:
    """Return the ``notations`` of a note, put in where it has none."""
    notations = note.find("notations")
    if notations is None:
        notations = ET.Element("notations")
        insert_before(note, notations, _AFTER_NOTATIONS)
    return notations


def insert_before(parent: ET.Element, child: ET.Element, followers: tuple[str, ...]) -> None:
    """Insert a child before the first of the elements that the standard lets follow it, else at the end."""
    place = next((i for i, other in enumerate(parent) if other.tag in followers), len(parent))
    parent.insert(place, child)
