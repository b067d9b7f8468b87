"""The picture of a take and of the bowing place."""

from __future__ import annotations

import re
import time
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest

from colophony.app.look.bowing import ADVICE_WORDS, advice_picture, bowing_place, place_height
from colophony.app.look.draw import WIDTH, piece_seconds, take_picture, take_pieces
from colophony.app.look.gallery import example_take
from colophony.app.look.tokens import LIGHT
from colophony.listening.take import Span, ToneState
from colophony.teaching.wording.cures import CURES
from factories import make_stroke, make_take


def heights(svg: str, state: ToneState) -> list[float]:
    """Vertical reach of each drawn motion of a state, in drawing units."""
    found = []
    for group in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}g"):
        if group.get("class") == f"state-{state.value}":
            numbers = re.findall(r"-?[\d.]+ (-?[\d.]+)", group[1].get("d", ""))
            found.append(max(map(float, numbers)) - min(map(float, numbers)))
    return found


@pytest.mark.parametrize("duration_s", [0.4, 3.0, 12.0, 61.0, 600.0, 1200.0, 7200.0])
def test_pieces_follow_each_other_and_cover_the_take(duration_s: float) -> None:
    """Nothing of a take is left out, whatever its length, and no take needs more than 36 pieces."""
    take = make_take(make_stroke(0.1, duration_s - 0.1), duration_s=duration_s)
    pieces = [ElementTree.fromstring(piece) for piece in take_pieces(take)]
    starts = [float(piece.get("data-start", "nan")) for piece in pieces]
    ends = [float(piece.get("data-end", "nan")) for piece in pieces]
    assert starts[0] == 0.0
    assert starts[1:] == pytest.approx(ends[:-1], abs=2e-3)
    assert ends[-1] >= duration_s - 1e-3
    assert len(pieces) <= 36
    assert piece_seconds(duration_s) * len(pieces) >= duration_s - 1e-6


def test_every_span_shows_its_own_state() -> None:
    """A stroke that went from clear to pressed shows both motions, each in its own stretch."""
    spans = (Span(0.5, 1.0, ToneState.HELMHOLTZ, 0.9), Span(1.0, 2.0, ToneState.RAUCOUS, 0.9))
    take = make_take(make_stroke(0.5, 2.0, state=ToneState.RAUCOUS, spans=spans), duration_s=4.0)
    picture = take_picture(take)
    assert 'class="state-helmholtz"' in picture
    assert 'class="state-raucous"' in picture
    assert 'class="state-steady"' not in picture


def test_a_louder_stroke_is_drawn_taller() -> None:
    """The height of the motion follows the loudness of the sound."""
    take = make_take(make_stroke(0.5, 2.5), make_stroke(3.0, 5.0))
    assert take.track is not None
    soft = np.where(take.track.times_s < 2.75, 0.1, 1.0).astype(np.float32)
    take = replace(take, duration_s=12.0, track=replace(take.track, peak=take.track.peak * soft))
    quiet, loud = heights(take_pieces(take)[0], ToneState.STEADY)
    assert loud > 2 * quiet


@pytest.mark.parametrize("state", ToneState)
def test_a_motion_stays_within_its_stroke(state: ToneState) -> None:
    """No mark of a motion lies outside the stretch of time that it belongs to, whatever the stretch."""
    for end_s in np.arange(0.21, 2.0, 0.13):
        spans = (Span(0.2, float(end_s), state, 0.9),)
        take = make_take(make_stroke(0.2, float(end_s), state=state, spans=spans), duration_s=4.0)
        (group,) = ElementTree.fromstring(take_pieces(take)[0]).iter("{http://www.w3.org/2000/svg}g")
        xs = [float(x) for x in re.findall(r"(-?[\d.]+) -?[\d.]+", group[1].get("d", ""))]
        assert min(xs) >= 0.2 * WIDTH / 2 - 0.1
        assert max(xs) <= end_s * WIDTH / 2 + 0.1


def test_a_stroke_cut_by_a_piece_keeps_its_number_and_note() -> None:
    """Every stroke with room for a label has it exactly once, wherever the line of music breaks."""
    for start_s in np.arange(1.0, 3.0, 0.07):
        take = make_take(make_stroke(float(start_s), float(start_s) + 1.0, bow="down"), duration_s=4.0)
        words = [
            text.text
            for piece in take_pieces(take)
            for text in ElementTree.fromstring(piece).iter("{http://www.w3.org/2000/svg}text")
        ]
        assert words.count("1") == 1
        assert words.count("A4") == 1


def test_a_take_without_strokes_or_track_is_a_string_at_rest() -> None:
    """Silence is a straight string, and its description says so."""
    picture = take_picture(replace(make_take(), strokes=(), track=None))
    assert "no stroke was heard" in picture
    assert "<g" not in picture


def test_a_picture_with_a_theme_stands_alone() -> None:
    """For a file or for paper every colour is written out: nothing is left to a page's style sheet."""
    for piece in take_pieces(example_take(), theme=LIGHT):
        assert "currentColor" not in piece
    assert LIGHT.states[ToneState.LOW_ANOMALOUS] in "".join(take_pieces(example_take(), theme=LIGHT))


def test_a_note_name_cannot_break_the_picture() -> None:
    """Text from outside is escaped."""
    for piece in take_pieces(make_take(make_stroke(note='<b>&"'))):
        ElementTree.fromstring(piece)
        assert "<b>" not in piece


def test_the_picture_of_a_lesson_is_quick_and_small() -> None:
    """300 strokes over ten minutes: drawn within 3 s and under 400 kB, so that a page stays usable."""
    take = make_take(*(make_stroke(2.0 * k, 2.0 * k + 1.8) for k in range(300)))
    began = time.perf_counter()
    picture = take_picture(take)
    assert time.perf_counter() - began < 3.0
    assert len(picture) < 400_000


def test_the_bridge_lies_below_for_a_violinist_and_above_for_a_cellist() -> None:
    """Seen by the player: the violinist looks from the tailpiece, the cellist from the scroll's side."""
    assert place_height(1) > place_height(5)
    assert place_height(1, turned=True) < place_height(5, turned=True)
    assert "sounding point 4" in bowing_place(4, aim=2)
    for instrument in ("violin", "viola", "cello"):
        ElementTree.fromstring(bowing_place(9.0, aim=0.0, instrument=instrument, theme=LIGHT))  # type: ignore[arg-type]


def test_every_advice_that_can_be_given_has_its_drawing() -> None:
    """Whatever change teaching may advise, a drawing shows it, under its own name."""
    for _, change, direction in CURES:
        drawing = ElementTree.fromstring(advice_picture(change, direction))
        assert drawing.get("aria-label") == ADVICE_WORDS[change, direction]
    drawings = {str(advice_picture(*key)) for key in ADVICE_WORDS}
    assert len(drawings) == len(ADVICE_WORDS) == 8
