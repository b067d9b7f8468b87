"""A teacher's own exercises: what a form or a file says is what is kept, and nothing half right is kept."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import colophony
from colophony.app.own_exercises import (
    every_exercise,
    exercise_file,
    form_fields,
    keep_from_file,
    keep_from_form,
    own_exercises,
    plain_table,
    title_of,
)
from colophony.language import speaking
from colophony.records.studio import Studio
from colophony.teaching.exercises.exercise import Exercise
from colophony.teaching.exercises.library import library, read_exercises
from colophony.teaching.exercises.reading import MistakesError

WEB = Path(colophony.__file__).parent / "app/web"
FIELDS = form_fields() | {
    "title": "Ä slow bow over two bars",
    "aim": "long-slow",
    "trains_speed": "yes",
    "adult": "One bow for two bars.",
    "listen_adult": "The tone lasts.",
    "beats": "8",
    "lasts_share": "87,5",
}


@pytest.fixture
def studio(tmp_path: Path) -> Iterator[Studio]:
    with Studio.open(tmp_path / "studio") as opened:
        yield opened


def others(exercise: Exercise) -> list[str]:
    return [other.key for other in library() if other.key != exercise.key]


@pytest.mark.parametrize("exercise", library(), ids=lambda exercise: exercise.key)
def test_every_exercise_of_the_library_can_be_written_as_a_file_and_on_the_form(exercise: Exercise) -> None:
    """The form and the file hold everything that an exercise is: writing and reading give it back."""
    text = exercise_file([plain_table(exercise)])
    (read,) = read_exercises(text, place="x", is_own=False, known=others(exercise))
    assert read == exercise


def test_a_title_of_ones_own_is_never_translated(studio: Studio) -> None:
    """Even where the catalogue has the very word; a shipped title is translated."""
    with speaking("de"):
        assert title_of(keep_from_form(studio, FIELDS | {"title": "Loudness"})) == "Loudness"
        assert title_of(library()[0]) != library()[0].title


def test_a_form_becomes_an_exercise_under_a_key_of_its_title(studio: Studio) -> None:
    kept = keep_from_form(studio, FIELDS)
    assert kept.key == "a-slow-bow-over-two-bars"
    assert kept.title == FIELDS["title"]
    assert kept.stroke.beats == 8
    assert kept.pass_rule.lasts_share == 0.875
    assert kept.say.child == "One bow for two bars."
    assert own_exercises(studio) == (kept,)
    assert every_exercise(studio)[-1] == kept
    assert keep_from_form(studio, FIELDS).key == "a-slow-bow-over-two-bars-2"


def test_a_form_shown_again_says_the_same(studio: Studio) -> None:
    kept = keep_from_form(studio, FIELDS)
    again = keep_from_form(studio, form_fields(kept) | {"tempo": "72"}, key=kept.key)
    assert again == replace(kept, stroke=replace(kept.stroke, tempo=72.0))
    assert len(own_exercises(studio)) == 1


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"title": ""}, ["Title: ", "missing"]),
        ({"beats": "many"}, ["Beats in one bow: ", "'many'", "0.25 to 32"]),
        ({"beats": "1e99"}, ["Beats in one bow: ", "out of range"]),
        ({"points_begin": "7"}, ["Sounding point at the beginning", "1 to 5"]),
        ({"strings": "5"}, ["Strings, in the order", "1 to 4"]),
        ({"at_least": "9", "of": "8"}, ["9 of 8"]),
        ({"aim": "jump"}, ["What it is for: ", "Long slow bow"]),
        ({"before": "no-such-exercise"}, ["Only after these", "'no-such-exercise'"]),
        ({"trains_speed": ""}, ["It trains: ", "speed, weight, place, tilt of the hair"]),
        ({"clean_share": "abc"}, ["in percent: ", "'abc'", "0 to 100"]),
        ({"lasts_share": "5"}, ["in percent: ", "'5'", "10 to 100"]),
        ({"adult": "", "child": "", "teacher": ""}, ["What to do: ", "missing"]),
    ],
)
def test_a_mistake_names_its_place_and_its_limit_and_nothing_is_kept(
    studio: Studio, changes: dict[str, str], words: list[str]
) -> None:
    with pytest.raises(MistakesError) as refused:
        keep_from_form(studio, FIELDS | changes)
    (line,) = refused.value.lines
    for word in words:
        assert word in line
    assert own_exercises(studio) == ()


def test_a_mistake_on_the_form_is_named_as_the_form_names_the_field(studio: Studio) -> None:
    """Whoever filled in a form never saw the keys of the file: no line shows one."""
    wrong = dict.fromkeys(form_fields(), "?") | {"title": "x" * 500, "adult": "y" * 500, "child": "z" * 500}
    with pytest.raises(MistakesError) as refused:
        keep_from_form(studio, wrong)
    labels = (WEB / "templates/exercise_form.html.j2").read_text(encoding="utf-8")
    assert len(refused.value.lines) >= 18
    for line in refused.value.lines:
        assert f'_("{line.partition(": ")[0]}")' in labels


@pytest.mark.parametrize("typed", ["2, 1", "[2, 1]", " 2 1 ", "2;1"])
def test_strings_are_understood_as_people_list_them(studio: Studio, typed: str) -> None:
    assert keep_from_form(studio, FIELDS | {"strings": typed}).stroke.strings == (2, 1)


def test_all_mistakes_of_a_form_are_named_at_once(studio: Studio) -> None:
    with pytest.raises(MistakesError) as refused:
        keep_from_form(studio, FIELDS | {"tempo": "7", "count": "0", "adult": "", "listen_adult": ""})
    assert len(refused.value.lines) == 4


def test_a_file_passes_from_one_studio_to_another(studio: Studio, tmp_path: Path) -> None:
    kept = keep_from_form(studio, FIELDS)
    text = exercise_file([plain_table(exercise) for exercise in own_exercises(studio)])
    with Studio.open(tmp_path / "other") as other:
        assert keep_from_file(other, text, place="file") == (kept,)
        assert own_exercises(other) == (kept,)


def test_a_file_cannot_take_the_place_of_what_comes_with_colophony(studio: Studio) -> None:
    first = library()[0]
    with pytest.raises(MistakesError, match=first.key):
        keep_from_file(studio, exercise_file([plain_table(first)]), place="file")
    assert own_exercises(studio) == ()


def test_an_exercise_that_waits_for_another_own_one_survives_its_removal(studio: Studio) -> None:
    """Exercises kept singly must still be read when one that they waited for is gone."""
    first = keep_from_form(studio, FIELDS)
    second = keep_from_form(studio, FIELDS | {"title": "After it", "before": first.key})
    assert second.before == (first.key,)
    studio.remove_exercise(first.key)
    assert [exercise.key for exercise in own_exercises(studio)] == [second.key]


@settings(deadline=None, max_examples=40)
@given(title=st.text(min_size=1, max_size=60), sentence=st.text(min_size=1, max_size=200))
def test_whatever_is_written_comes_back(
    tmp_path_factory: pytest.TempPathFactory, title: str, sentence: str
) -> None:
    """A JSON string is a TOML string too (TOML 1.0.0, "String"): quotes, backslashes, any script."""
    with Studio.open(tmp_path_factory.mktemp("any") / "studio") as studio:
        printable = [any(c.isprintable() and not c.isspace() for c in text) for text in (title, sentence)]
        assume(all(printable))
        kept = keep_from_form(studio, FIELDS | {"title": title, "adult": sentence})
        assert own_exercises(studio) == (kept,)
