"""Students are found by name, and wrong values are refused in a line that says what is right."""

from __future__ import annotations

import itertools
import unicodedata

import pytest

from colophony.errors import StudioError
from colophony.records.domain import OPEN_STRINGS
from colophony.records.studio import Studio
from colophony.units import note_to_midi


def test_a_name_is_found_in_any_case_spacing_and_unicode_form(studio: Studio) -> None:
    added = studio.add_student(" Zoë  Ångström ", instrument="cello", minor=False)
    assert added.name == "Zoë Ångström"
    for name in ("zoë ångström", "ZOË ÅNGSTRÖM", unicodedata.normalize("NFD", "Zoë Ångström")):
        assert studio.find_student(name) == added


def test_an_unknown_name_is_answered_with_those_most_like_it(studio: Studio) -> None:
    with pytest.raises(StudioError, match="no students yet"):
        studio.find_student("Anna")
    studio.add_student("Anna Quillfeather", instrument="violin", minor=True)
    studio.add_student("Ben Thistlewood", instrument="violin", minor=True)
    for near in ("Anna", "ana quilfeather", "Hanna"):
        with pytest.raises(StudioError, match="is it 'Anna Quillfeather'\\?"):
            studio.find_student(near)
    with pytest.raises(StudioError, match="add them first"):
        studio.find_student("Xyz")


def test_two_students_of_one_name_are_refused(studio: Studio) -> None:
    studio.add_student("Anna", instrument="violin", minor=True)
    other = studio.add_student("Ben", instrument="violin", minor=True)
    with pytest.raises(StudioError, match="here already"):
        studio.add_student("ANNA", instrument="cello", minor=True)
    with pytest.raises(StudioError, match="here already"):
        studio.change_student(other.id, name="anna")
    assert studio.change_student(other.id, name="BEN").name == "BEN"
    assert [student.name for student in studio.students()] == ["Anna", "BEN"]


def test_another_instrument_comes_with_its_own_strings(studio: Studio) -> None:
    student = studio.add_student("Anna", instrument="violin", size="1/2", minor=True)
    assert student.strings == ("G3", "D4", "A4", "E5")
    changed = studio.change_student(student.id, instrument="viola", size="4/4")
    assert (changed.instrument, changed.size, changed.strings) == ("viola", "4/4", ("C3", "G3", "D4", "A4"))
    scordatura = studio.change_student(student.id, strings=["C3", "G3", "D4", "G4"])
    assert studio.student(student.id) == scordatura
    assert studio.change_student(student.id, reader="teacher").strings == ("C3", "G3", "D4", "G4")


def test_open_strings_stand_in_fifths() -> None:
    """The violin family is tuned in fifths, seven semitones apart (common practice, no source)."""
    for strings in OPEN_STRINGS.values():
        pitches = [note_to_midi(string) for string in strings]
        assert [high - low for low, high in itertools.pairwise(pitches)] == [7, 7, 7]


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"name": "  "}, "name is empty"),
        ({"name": "x" * 201}, "200 at most"),
        ({"name": "a\x00b"}, "no text"),
        ({"instrument": "tuba"}, "choose one of violin, viola, cello"),
        ({"size": "5/4"}, "choose one of 4/4, 7/8"),
        ({"strings": ["A4", "D4"]}, "from low to high"),
        ({"strings": ["H4"]}, "no note name"),
        ({"strings": []}, "1 to 8"),
        ({"reader": "dog"}, "choose one of child, adult, teacher"),
    ],
)
def test_a_wrong_value_is_refused_in_one_line(studio: Studio, values: dict[str, object], says: str) -> None:
    good = {"name": "Anna", "instrument": "violin", "minor": True}
    with pytest.raises(StudioError, match=says) as caught:
        studio.add_student(**(good | values))  # type: ignore[arg-type]
    assert "\n" not in str(caught.value)
    assert studio.students() == []
