"""Hairpins as MusicXML 4.0 writes them ("wedge", "offset", "backup"): each from its beginning to its end."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest
import score_pieces as pieces

from colophony.app.score.opening import read_score
from colophony.app.score.reading import read_part
from colophony.app.score.wedges import Wedge, wedges_of

DIVISIONS = pieces.DIVISIONS


def of(*measures: str) -> list[Wedge]:
    inner = "".join(
        f"<measure number='{k}'>{'<attributes><divisions>12</divisions></attributes>' if k == 1 else ''}"
        f"{content}</measure>"
        for k, content in enumerate(measures, start=1)
    )
    return wedges_of(ET.fromstring(f"<part>{inner}</part>"))


def moved(kind: str, quarters: float) -> str:
    return pieces.wedge(kind).replace(
        "</direction>", f"<offset>{quarters * DIVISIONS:g}</offset></direction>"
    )


D4 = pieces.note("D4", 1)


def test_a_hairpin_ends_before_the_first_note_of_a_measure() -> None:
    """Where most notation programs write it; the example of the page Score does."""
    found = of(pieces.wedge("crescendo") + 3 * D4, 3 * D4, pieces.wedge("stop") + 3 * D4)
    assert found == [Wedge("crescendo", (0, 0.0), (2, 0.0))]


def test_a_hairpin_begins_and_ends_between_notes() -> None:
    found = of(D4 + pieces.wedge("diminuendo") + D4 + pieces.wedge("stop") + D4)
    assert found == [Wedge("diminuendo", (0, 1.0), (0, 2.0))]


def test_an_offset_moves_a_beginning_or_an_end() -> None:
    """In divisions, from where the direction stands (MusicXML 4.0, "offset")."""
    found = of(moved("crescendo", 0.5) + D4 + moved("stop", 1.5) + D4 + D4)
    assert found == [Wedge("crescendo", (0, 0.5), (0, 2.5))]


def test_chords_and_graces_take_no_time_and_a_backup_gives_it_back() -> None:
    chord = pieces.note("G3 D4", 1)
    grace = pieces.note("E4", 0.5, grace=True)
    found = of(chord + grace + D4 + pieces.backup(2) + pieces.wedge("crescendo") + D4 + pieces.wedge("stop"))
    assert found == [Wedge("crescendo", (0, 0.0), (0, 1.0))]


def test_two_hairpins_at_once_are_told_apart_by_their_number() -> None:
    second = {
        kind: pieces.wedge(kind).replace("<wedge ", '<wedge number="2" ') for kind in ("diminuendo", "stop")
    }
    found = of(
        pieces.wedge("crescendo")
        + D4
        + second["diminuendo"]
        + D4
        + pieces.wedge("stop")
        + D4
        + second["stop"]
    )
    assert found == [
        Wedge("crescendo", (0, 0.0), (0, 2.0)),
        Wedge("diminuendo", (0, 1.0), (0, 3.0)),
    ]


@pytest.mark.parametrize("content", [pieces.wedge("crescendo") + D4, D4 + pieces.wedge("stop")])
def test_one_that_is_never_closed_or_begun_is_left_out(content: str) -> None:
    assert of(content) == []


def test_in_a_part_a_hairpin_is_as_long_as_it_is_written_each_time_it_is_played() -> None:
    """Two measures of three quarters, then its end; repeated, so that it comes twice."""
    bar = D4 * 3
    text = pieces.simple(
        pieces.wedge("crescendo") + bar,
        bar,
        pieces.wedge("stop") + bar + pieces.repeat("backward"),
        metre="3/4",
    )
    part = read_part(read_score(text if isinstance(text, bytes) else text.encode(), name="x.musicxml"))
    assert [(pin.onset_ql, pin.end_ql) for pin in part.hairpins] == [(0.0, 6.0), (9.0, 15.0)]
