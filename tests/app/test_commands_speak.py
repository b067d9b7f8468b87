"""The command line says all it says through the catalogue: help, answers, errors, pictures.

What stands outside of the brackets of the tests' language is names, numbers, units, notes, names of options
and their values, and the words of click itself, which speaks by the same catalogue outside of these tests.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click
import pytest
from map_answers import Plane

from colophony.app import ranges as range_case
from colophony.app import starts as start_case
from colophony.app.cli import program
from colophony.app.cli.speaking import CLICK_SAYS, spoken
from colophony.language import speaking
from colophony.teaching.findings import READERS
from pseudo import outside, spoken_pseudo, words_outside
from shown import NAME, NAMES, PERSONS, every_state, left_over, texts_of, without_names

Run = Callable[..., tuple[int, str, str]]
ALLOWED = NAMES | PERSONS
_OPTION_OR_PATH = r"(?<!\w)-{1,2}[\w-]+|[^\s⟦⟧]*/[^\s⟦⟧]+"


@pytest.fixture(autouse=True)
def wide(colophony: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """A terminal so wide that no table breaks a message."""
    monkeypatch.setenv("COLUMNS", "1000")


def commands_of(command: click.Command, path: tuple[str, ...] = ()) -> Iterator[tuple[str, click.Context]]:
    """Yield each command's path with a context to show its help in."""
    context = click.Context(command, info_name=" ".join(("colophony", *path)))
    yield " ".join(path), context
    if isinstance(command, click.Group):
        for name, below in command.commands.items():
            yield from commands_of(below, (*path, name))


def names_of(context: click.Context) -> set[str]:
    """Return what a command names and no language changes: commands, options, their values, click's words."""
    names = set(re.findall(r"\w+", f"{context.info_name} ARGS {' '.join(CLICK_SAYS)}"))
    names |= set(getattr(context.command, "commands", ()))
    for parameter in context.command.get_params(context):
        names |= set(re.findall(r"\w+", " ".join((*parameter.opts, *parameter.secondary_opts))))
        names |= set(re.findall(r"\w+", f"{parameter.metavar} {parameter.make_metavar(context)}"))
        names |= set(re.findall(r"\w+", f"{parameter.default} {parameter.type!r} {parameter.name}"))
    return {part for name in names for part in (name.lower(), *name.lower().split("_"))}


def test_the_help_of_every_command_is_said_through_the_catalogue() -> None:
    """As it is shown, with its options; in any language but the source's."""
    faults = []
    with spoken_pseudo(), speaking("de"):
        for path, context in commands_of(spoken(program)):
            words = words_outside(context.get_help(), allowed=names_of(context))
            if words:
                faults.append((path, words))
    assert faults == []


def test_help_in_the_source_language_is_left_as_it_is() -> None:
    """Nothing is copied: the very command answers."""
    assert spoken(program) is program
    with speaking("de"):
        assert spoken(program) is not program


def faults_of(*answers: tuple[int, str, str], more: frozenset[str] = frozenset()) -> list[str]:
    """Return the words outside the brackets of several answers."""
    texts = [re.sub(_OPTION_OR_PATH, " ", outside(f"{out}\n{err}")) for _, out, err in answers]
    return [word for text in texts for word in words_outside(without_names(text), allowed=ALLOWED | more)]


@pytest.mark.parametrize("reader", READERS)
def test_findings_on_a_terminal_are_said_through_the_catalogue(
    colophony: Run, ears: Any, tmp_path: Path, reader: str
) -> None:
    """A take with every state, one that cannot be heard, a wrong use."""
    take = tmp_path / "lesson.m4a"
    take.write_bytes(b"sound")
    with spoken_pseudo():
        ears.answer = lambda path: every_state(file=path.name)
        answers = [colophony("listen", take, "--reader", reader)]
        answers.append(colophony("listen", take, "--sheet", tmp_path / "sheet.txt"))
        answers.append(colophony("listen", take, "--html", tmp_path / "none" / "page.html"))
        answers.append(colophony("listen", take, take, "--html", tmp_path / "page.html"))
    assert (
        faults_of(
            *answers, more=frozenset(("error", "usage", "listen", "options", "file", "try", "for", "help"))
        )
        == []
    )


def test_the_studio_on_a_terminal_is_said_through_the_catalogue(
    colophony: Run, ears: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Students, consent, takes, copies, erasing, and what is refused."""
    monkeypatch.setenv("COLOPHONY_STUDIO", str(tmp_path / "studio"))
    take = tmp_path / "lesson.m4a"
    take.write_bytes(b"sound of a lesson")
    given = ("--given-by", "Eva", "--relation", "mother")
    with spoken_pseudo():
        ears.answer = lambda path: every_state(file=path.name)
        run: Callable[..., Any] = lambda *words: colophony("studio", *words)  # noqa: E731
        answers = [run("students"), run("add", NAME, "--instrument", "violin"), run("students")]
        answers += [run("takes", NAME), colophony("listen", take, "--student", NAME)]
        answers += [run("consent", NAME, *given, "--findings-only"), run("consent", NAME, *given)]
        answers += [colophony("listen", take, "--student", NAME, "--accept-reference"), run("takes", NAME)]
        answers += [run("accept", 1, "--no-longer"), run("check"), run("backup", tmp_path / "backup.zip")]
        answers += [run("export", NAME, tmp_path / "export.zip"), run("erase", NAME, "--take", 99, "--yes")]
        answers += [run("withdraw", NAME), run("erase", NAME, "--yes"), run("takes", NAME)]
        answers += [run("restore", tmp_path / "backup.zip"), run("accept", 99)]
        answers.append(run("restore", tmp_path / "backup.zip", "--studio", tmp_path / "another"))
    assert faults_of(*answers) == []


@pytest.mark.parametrize("reader", READERS)
def test_maps_on_a_terminal_and_their_pictures_are_said_through_the_catalogue(
    colophony: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, reader: str
) -> None:
    """One speed, several, a stopped note, a place without a tone, a map that was stopped, starts."""
    small = ("--distances", 8, "--weights", 16, "--reader", reader)
    ends = (None, None, None, None, 60)
    wishes = (
        ("range", "--string", "D", *small),
        ("range", "--string", "D", "--speed-cm-s", 10, "--speed-cm-s", 40, *small),
        ("range", "--string", "A", "--note", "C#5", "--tilt-deg", 20, "--gauge", "light", *small),
        ("starts", "--weights", 8, "--accelerations", 8, "--reader", reader),
        ("range", "--string", "G", *small),
    )
    answers, pictures = [], []
    for number, (wish, stop_after) in enumerate(zip(wishes, ends, strict=True)):
        plane, picture = Plane(stop_after=stop_after), tmp_path / f"{number}.svg"
        monkeypatch.setattr(range_case, "asking", plane.asking)
        monkeypatch.setattr(start_case, "asking", plane.asking)
        with spoken_pseudo():
            answers.append(colophony(*wish, "--picture", picture))
        pictures += texts_of(picture.read_text("utf-8")) if picture.exists() else []
    assert faults_of(*answers) == []
    assert left_over(pictures) == []


@pytest.mark.parametrize("reader", READERS)
def test_a_simulated_stroke_is_said_through_the_catalogue(
    colophony: Run, tmp_path: Path, reader: str
) -> None:
    """A clear tone, one too light, one pressed; the picture; values out of range."""
    picture = tmp_path / "stroke.svg"
    with spoken_pseudo():
        answers = [colophony("bow", "--reader", reader, "--picture", picture)]
        answers += [colophony("bow", "--weight-n", weight, "--reader", reader) for weight in (0.05, 4)]
        for wrong in (
            ("--weight-n", 99), ("--seconds", 99), ("--distance-mm", 300), ("--string", "A", "--note", "G3"),
            ("--note", "C9"), ("--gain-db", 60, "--wav", tmp_path / "out.wav"), ("--string", "C"),
        ):  # fmt: skip
            answers.append(colophony("bow", *wrong))
    assert faults_of(*answers) == []
    assert left_over(texts_of(picture.read_text("utf-8"))) == []


def test_the_command_line_speaks_the_language_of_the_machine_or_of_the_setting(
    colophony: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """POSIX.1-2017, 8.2: LC_ALL goes before LANG; the setting goes before both, an option before it."""
    from colophony.app.settings import language_of_machine, read_settings

    assert language_of_machine({"LANG": "de_DE.UTF-8"}) == "de"
    assert language_of_machine({"LC_ALL": "C", "LANG": "de_DE.UTF-8"}) == "en"
    assert language_of_machine({"LANG": "de_DE.UTF-8", "COLOPHONY_LANGUAGE": "en"}) == "en"
    assert read_settings({"LC_MESSAGES": "de_AT"}).language == "de"
    monkeypatch.setenv("LC_ALL", "de_DE.UTF-8")
    assert "0,8" in colophony("bow", "--weight-n", "0.8")[1]
    assert "0.8" in colophony("bow", "--weight-n", "0.8", "--language", "en")[1]
    assert "Optionen" in colophony("bow", "--help")[1]  # a word of click's own
    monkeypatch.setenv("COLOPHONY_LANGUAGE", "en")
    assert "Options" in colophony("bow", "--help")[1]
    monkeypatch.setenv("COLOPHONY_LANGUAGE", "xx")
    status, out, err = colophony("bow")
    assert (status, out) == (1, "")
    assert "COLOPHONY_LANGUAGE" in err
