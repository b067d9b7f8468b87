"""A reader is spoken to in one language at a time; English stands in the source."""

import json

import pytest

from colophony import language
from colophony.language import LANGUAGES, figures, language_of, note_name, speaking
from colophony.records.codec import from_plain
from colophony.teaching.exercises.plain import to_plain
from colophony.teaching.findings import Advice, Say, said


@pytest.mark.parametrize(
    ("tags", "name"),
    [
        ("de_AT.UTF-8", "de"),
        ("de-CH,de;q=0.9,en;q=0.8", "de"),
        ("fr, de;q=0.8", "de"),
        ("en_GB.UTF-8", "en"),
        ("C.UTF-8", "en"),
        ("", "en"),
    ],
)
def test_the_first_known_language_of_a_wish_is_spoken(tags: str, name: str) -> None:
    """POSIX locale names (IEEE 1003.1) and HTTP tags (RFC 9110, 12.5.4) both name languages."""
    assert language_of(tags) == name


def test_german_writes_a_comma_where_english_writes_a_full_stop() -> None:
    """The decimal mark of German is the comma (Unicode CLDR; DIN 1333)."""
    with speaking("de"):
        assert figures("3.5 mm") == "3,5 mm"
    assert figures("3.5 mm") == "3.5 mm"


def test_a_language_ends_with_its_block_and_an_unknown_one_is_refused() -> None:
    with speaking("de"):
        assert language.language() == "de"
    assert language.language() == "en"
    with pytest.raises(KeyError), speaking("tlh"):
        raise AssertionError("an unknown language was spoken")
    assert "tlh" not in LANGUAGES


@pytest.mark.parametrize(
    ("name", "german"),
    [
        ("B4", "H4"),
        ("Bb3", "B3"),
        ("F#4", "Fis4"),
        ("C♯5", "Cis5"),
        ("Eb4", "Es4"),
        ("A♭4", "As4"),
        ("G3", "G3"),
    ],
)
def test_german_players_call_b_h(name: str, german: str) -> None:
    """B is H, B flat is B, a sharp ends in -is, a flat in -es or -s (common practice, no source)."""
    with speaking("de"):
        assert note_name(name) == german
    assert note_name(name) == name


def test_a_sentence_with_figures_is_kept_in_every_language() -> None:
    """What is filed today in one language is read tomorrow in another."""
    with speaking("de"):
        thought = said(lambda reader: f"{reader} {figures('2.5')}")
        assert thought.to("adult") == "adult 2,5"
    assert thought.to("adult") == "adult 2.5"
    filed = from_plain(Say, json.loads(json.dumps(to_plain(thought))))
    with speaking("de"):
        assert filed.to("child") == "child 2,5"


def test_the_reason_of_an_advice_is_kept_in_every_language() -> None:
    say = Say("a", "b", "c")
    advice = Advice("weight", "less", "2.5 dB", say, why_elsewhere={"de": "2,5 dB"})
    assert advice.reason == "2.5 dB"
    with speaking("de"):
        assert from_plain(Advice, to_plain(advice)).reason == "2,5 dB"
