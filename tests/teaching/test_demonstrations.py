"""What a room is told: every demonstration has its words and its strokes, short enough to be read from afar.

That the words are true of the strokes is checked where they are played: ``tests/app/test_talk.py``.
"""

from __future__ import annotations

import dataclasses

import pytest

from colophony.errors import InputError
from colophony.language import speaking
from colophony.physics.regimes import STATES
from colophony.teaching.demonstrations import AUDIENCES, DEMONSTRATIONS, Demonstration, find_demonstration
from colophony.teaching.demonstrations.kinds import PRESSED
from colophony.teaching.wording.bowed import CHOKED

ALL = list(DEMONSTRATIONS.values())


def test_the_demonstrations_that_were_promised_are_there() -> None:
    """The corner, stick and slip, too much, too little, the map, near and far, tilt, starts, the size."""
    assert list(DEMONSTRATIONS) == [one.key for one in ALL]
    promised = "corner stick-and-slip too-much too-little map near-and-far tilt starts size"
    assert set(promised.split()) <= set(DEMONSTRATIONS)


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.key)
def test_a_slide_says_one_short_sentence(one: Demonstration) -> None:
    """Two lines of some 45 letters are read from the last row (common practice, no source)."""
    assert len(one.sentence) <= 90
    assert one.sentence.count(".") == 1
    assert one.sentence.endswith(".")
    assert one.ask.endswith("?")
    assert all(len(stroke.label) <= 45 for stroke in one.strokes)


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.key)
def test_the_speaker_has_words_for_every_audience(one: Demonstration) -> None:
    """What to hear, see and ask, and notes of at least two sentences, other ones for each audience."""
    assert one.hear
    assert one.see
    notes = [getattr(one.notes, audience) for audience in AUDIENCES]
    assert [field.name for field in dataclasses.fields(one.notes)] == list(AUDIENCES)
    assert len(set(notes)) == len(notes)
    assert all(note.count(".") + note.count("?") >= 2 for note in notes)


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.key)
def test_strokes_ask_for_states_that_the_engine_knows_and_a_held_one_follows_another(
    one: Demonstration,
) -> None:
    known = {str(state) for state in STATES} | {CHOKED}
    assert set(PRESSED) <= known
    for stroke in one.strokes:
        assert set(stroke.shows) <= known
        assert stroke.shares
        assert all(0.0 < share < 10.0 for share in stroke.shares)
    assert not one.strokes[0].is_held


def test_an_unknown_demonstration_is_refused_with_the_choices() -> None:
    with speaking("en"), pytest.raises(InputError, match="choose from corner, stick-and-slip"):
        find_demonstration("encore")
