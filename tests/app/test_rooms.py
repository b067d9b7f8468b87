"""Room as the engine computes it for advice: asked once, kept, carried to other notes, done without."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from colophony.app import bow
from colophony.app.kept_maps import KeptMaps
from colophony.app.rooms import _ranges, ask_rooms
from colophony.errors import InputError
from colophony.physics import survey
from colophony.physics.instruments import find_instrument
from colophony.physics.strings import find_string
from colophony.teaching.room import published_rooms, rooms_of


@pytest.fixture
def no_engine(monkeypatch: pytest.MonkeyPatch) -> None:
    """An engine that nobody may ask."""

    def refuse(*args: Any, **kwargs: Any) -> None:
        raise InputError("nobody is at home")

    _ranges.cache_clear()
    monkeypatch.setattr(survey, "survey", refuse)


def test_what_a_note_was_computed_to_is_kept_and_read_without_the_engine(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    string, kept = find_string("violin", "4/4", "A"), KeptMaps(tmp_path)
    first = ask_rooms(kept)(string, string.open_frequency_hz)
    assert first.here.is_computed
    assert first.wander is not None
    _ranges.cache_clear()
    monkeypatch.setattr(survey, "survey", None)
    assert ask_rooms(kept)(string, string.open_frequency_hz) == first


@pytest.mark.usefixtures("no_engine")
def test_where_the_engine_cannot_say_the_published_limits_stand_in() -> None:
    """Schoonderwaldt, Guettler and Askenfelt (2008)."""
    string = find_string("cello", "4/4", "D")
    assert ask_rooms()(string, 150.0) == published_rooms(string, 150.0)
    _ranges.cache_clear()


def test_a_note_between_those_computed_has_about_the_room_computed_for_itself() -> None:
    """Schelleng (1973): the limits hang on the share of the length, impedance and speed alone; so they may be
    carried over a semitone. Half as much again is what the greatest weight is known to, twice the scatter of
    the least on a string at the edge of chaos (Woodhouse, *Euphonics*, 9.9).
    """
    instrument = find_instrument("violin")
    string = instrument.string("D")
    frequency_hz = string.open_frequency_hz * 2 ** (4 / 12)
    carried = ask_rooms()(string, frequency_hz).here.computed_n
    ranges = _ranges(instrument, string, frequency_hz, (0.2,), 0.0, None)
    assert ranges is not None
    own = rooms_of(string, frequency_hz, ranges).here.computed_n
    assert carried is not None
    assert own is not None
    assert abs(math.log(carried[0] / own[0])) < math.log(2.0)
    assert abs(math.log(carried[1] / own[1])) < math.log(1.5)


def test_a_simulated_stroke_knows_its_room_and_what_lies_outside_it_does_not_sing() -> None:
    """What a map says of a place holds for a single stroke there: half as much again beyond the greatest
    weight and half of the least do not speak, the middle does.
    """
    middle = bow.bow(bow.Request(string="D", distance_mm=25.0, speed_cm_s=15.0, weight_n=0.5))
    span = middle.rooms.here.computed_n
    assert span is not None
    states = [
        str(
            bow.bow(bow.Request(string="D", distance_mm=25.0, speed_cm_s=15.0, weight_n=weight)).reading.state
        )
        for weight in (0.5 * span[0], math.sqrt(span[0] * span[1]), 1.5 * span[1])
    ]
    assert [state == "helmholtz" for state in states] == [False, True, False]
    assert "the tone holds from about" in middle.means("adult")
    assert "(computed for this string)" in middle.means("teacher")
    assert middle.means("child") == "That is the sound to look for."
