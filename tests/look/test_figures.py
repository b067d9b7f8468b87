"""Numbers in words: signs, units, places in a take."""

from __future__ import annotations

import pytest

from colophony.app.look import figures


@pytest.mark.parametrize(
    ("value", "text"), [(0.0, "0:00.0"), (59.96, "1:00.0"), (83.52, "1:23.5"), (754.0, "12:34")]
)
def test_a_place_in_a_take_reads_as_minutes_and_seconds(value: float, text: str) -> None:
    """Minutes and seconds, never sixty seconds (common practice)."""
    assert figures.clock(value) == text


def test_units_stand_behind_a_thin_space_and_minus_is_a_minus() -> None:
    """SI brochure (2019), 5.4.3: a space between number and unit; the minus sign is U+2212."""
    assert figures.decibels(-3.21) == "−3.2\u00a0dB"
    assert figures.cents(3.9) == "+4\u00a0cents"
    assert figures.cents(-0.2) == "0\u00a0cents"
    assert figures.duration(426.0) == "7\u00a0min 6\u00a0s"


def test_what_a_take_cannot_tell_is_a_dash() -> None:
    """Never a guess, never the word None."""
    for say in (figures.seconds, figures.cents, figures.decibels, figures.percent, figures.note):
        assert say(None) == figures.UNKNOWN


def test_accidentals_are_engraved() -> None:
    """A sharp is no hash and a flat is no letter b."""
    assert figures.note("F#4") == "F♯4"
    assert figures.note("Bb3") == "B♭3"


def test_the_first_sentence_leads() -> None:
    """An advice is parted behind its first full stop; a single sentence stays whole."""
    assert figures.first_sentence("Less weight. Then listen. Again.") == (
        "Less weight.",
        "Then listen. Again.",
    )
    assert figures.first_sentence("Less weight.") == ("Less weight.", "")
