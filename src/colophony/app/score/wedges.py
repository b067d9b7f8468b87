"""Hairpins of a part, read from MusicXML itself (4.0, "wedge"): where each begins and where it ends.

The library that reads the notes ties a hairpin to notes, and loses an end that stands before the first note
of a measure, where most notation programs write it.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

from colophony.teaching.score.piece import Turning

#: Measure of the page from 0, and quarter lengths from its start.
Spot: TypeAlias = tuple[int, float]

_TURNINGS: dict[str, Turning] = {"crescendo": "crescendo", "diminuendo": "diminuendo"}


@dataclass(frozen=True, slots=True)
class Wedge:
    """One hairpin of the page."""

    turning: Turning
    begin: Spot
    end: Spot


def wedges_of(part: ET.Element) -> list[Wedge]:
    """Return the hairpins of a ``<part>``, by their beginning; one that is never closed is left out."""
    begun: dict[str, tuple[Turning, Spot]] = {}
    found = []
    for spot, wedge in _wedges(part):
        if wedge.get("type") == "continue":
            continue
        number = wedge.get("number", "1")
        before = begun.pop(number, None)
        if before is not None and spot > before[1]:
            found.append(Wedge(before[0], before[1], spot))
        turning = _TURNINGS.get(wedge.get("type", ""))
        if turning is not None:
            begun[number] = turning, spot
    return sorted(found, key=lambda one: (one.begin, one.end))


def _wedges(part: ET.Element) -> Iterator[tuple[Spot, ET.Element]]:
    """Yield every beginning and end with its spot, in the order of the file."""
    divisions = 1.0
    for number, measure in enumerate(part.findall("measure")):
        now = 0.0
        for item in measure:
            if item.tag == "attributes":
                divisions = _positive(item.findtext("divisions")) or divisions
            elif item.tag == "forward" or (item.tag == "note" and item.find("chord") is None):
                now += _positive(item.findtext("duration")) / divisions  # a grace note has none
            elif item.tag == "backup":
                now = max(0.0, now - _positive(item.findtext("duration")) / divisions)
            elif item.tag == "direction":
                shift = _number(item.findtext("offset")) / divisions
                for wedge in item.iterfind("direction-type/wedge"):
                    yield (number, max(0.0, now + shift)), wedge


def _positive(text: str | None) -> float:
    return max(0.0, _number(text))


def _number(text: str | None) -> float:
    try:
        return float(text or 0.0)
    except ValueError:
        return 0.0
