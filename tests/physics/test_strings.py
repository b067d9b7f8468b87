"""The strings' figures, against published tables and exact relations."""

from __future__ import annotations

import itertools

import pytest

from colophony.errors import InputError
from colophony.physics.strings import FULL_SIZE, find_string, sizes_of, strings_of, strings_that_play

EVERY_STRING = [(instrument, name) for instrument, names in FULL_SIZE.items() for name in names]


@pytest.mark.parametrize(("name", "impedance_kg_s"), [("G", 0.350), ("D", 0.303), ("A", 0.203), ("E", 0.173)])
def test_violin_impedances_are_those_of_the_published_table(name: str, impedance_kg_s: float) -> None:
    """Pickering (1985), tabulated by Desvages (2018) for a string of 0.32 m."""
    string = find_string("violin", "4/4", name, sounding_length_m=0.32)
    assert string.impedance_kg_s == pytest.approx(impedance_kg_s, rel=0.01)


@pytest.mark.parametrize(("name", "tension_n"), [("G", 43.9), ("D", 56.9), ("A", 57.1), ("E", 73.0)])
def test_violin_tensions_are_those_of_the_published_table(name: str, tension_n: float) -> None:
    """Pickering (1985), tabulated by Desvages (2018) for a string of 0.32 m."""
    string = find_string("violin", "4/4", name, sounding_length_m=0.32)
    assert string.tension_n == pytest.approx(tension_n, rel=0.01)


@pytest.mark.parametrize(("instrument", "name"), EVERY_STRING)
def test_the_tension_that_follows_from_length_and_pitch_is_one_strings_are_sold_with(
    instrument: str, name: str
) -> None:
    """Mass per length, length and pitch come from different sources; together they must give a tension
    inside the commercial range of Rossing (2010), table 16.1.
    """
    low, high = FULL_SIZE[instrument][name].tension_range_n  # type: ignore[index]
    assert low <= find_string(instrument, "4/4", name).tension_n <= high


def test_a_violin_carries_the_published_total_tension() -> None:
    """Total of the four strings 189 to 265 N, Rossing (2010), table 16.1."""
    assert 189 <= sum(string.tension_n for string in strings_of("violin", "4/4")) <= 265


@pytest.mark.parametrize("instrument", ["violin", "viola", "cello"])
def test_strings_stand_in_fifths(instrument: str) -> None:
    """Tuned in fifths: seven equal-tempered semitones, common practice."""
    hz = [string.open_frequency_hz for string in strings_of(instrument, "4/4")]
    for low, high in itertools.pairwise(hz):
        assert high / low == pytest.approx(2 ** (7 / 12), rel=1e-9)


def test_the_tension_of_a_smaller_string_falls_with_the_square_of_its_length() -> None:
    """Equal mass per length and pitch: T = m' (2 L f)^2."""
    full, half = find_string("violin", "4/4", "A"), find_string("violin", "1/2", "A")
    ratio = half.sounding_length_m / full.sounding_length_m
    assert half.tension_n / full.tension_n == pytest.approx(ratio**2)
    assert half.source.startswith("estimate")


@pytest.mark.parametrize("instrument", ["violin", "viola", "cello"])
def test_smaller_sizes_have_shorter_strings(instrument: str) -> None:
    lengths = [find_string(instrument, size, "A").sounding_length_m for size in sizes_of(instrument)]
    assert lengths == sorted(lengths, reverse=True)
    assert len(set(lengths)) == len(lengths)


def test_the_bowable_length_of_a_full_violin_is_that_to_the_fingerboard() -> None:
    """A fingerboard of 270 mm on a string of 325 mm leaves 55 mm, common practice."""
    assert find_string("violin", "4/4", "E").bowable_length_m == pytest.approx(0.055)


def test_the_octave_is_stopped_at_half_the_string() -> None:
    string = find_string("cello", "4/4", "G")
    assert string.stopped_length_m(2 * string.open_frequency_hz) == pytest.approx(0.345)
    assert string.stopped_length_m(0.99 * string.open_frequency_hz) == 0.690


@pytest.mark.parametrize(
    ("instrument", "frequency_hz", "names"),
    [
        ("violin", 196.0, ["G"]),
        ("violin", 440.0, ["A", "D", "G"]),
        ("violin", 430.0, ["A", "D", "G"]),  # an open A tuned 40 cents low
        ("violin", 2637.0, ["E"]),  # E7
        ("cello", 65.4, ["C"]),
        ("cello", 50.0, []),
        ("viola", 130.8, ["C"]),
    ],
)
def test_the_likeliest_string_needs_the_lowest_position(
    instrument: str, frequency_hz: float, names: list[str]
) -> None:
    """Common practice: a note is first sought on the highest string that has it."""
    assert [string.name for string in strings_that_play(instrument, "4/4", frequency_hz)] == names


def test_a_string_is_found_by_letter_or_by_its_open_note() -> None:
    assert find_string("viola", "4/4", "c") == find_string("viola", "4/4", "C3")


@pytest.mark.parametrize(
    ("instrument", "size", "name", "says"),
    [
        ("guitar", "4/4", "G", "'guitar' is no instrument: choose one of violin, viola, cello, double bass"),
        ("cello", "1/16", "G", "'1/16' is no cello size: choose one of 4/4, 3/4, 1/2, 1/4, 1/8"),
        ("violin", "4/4", "C", "'C' is no string of a violin: choose one of G, D, A, E"),
    ],
)
def test_an_unknown_choice_names_the_choices(instrument: str, size: str, name: str, says: str) -> None:
    with pytest.raises(InputError, match="choose one of") as raised:
        find_string(instrument, size, name)
    assert str(raised.value) == says


def test_an_impossible_length_is_refused() -> None:
    with pytest.raises(InputError, match="150 to 800 mm"):
        find_string("violin", "4/4", "G", sounding_length_m=3.25)
