"""The table of findings is readable on every terminal."""

from __future__ import annotations

import io

import pytest
from hand_made import make_findings

from colophony.app.cli.table import SIGNS, print_findings
from colophony.listening.take import Evidence, ToneState
from colophony.teaching import wording
from factories import make_stroke


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def show(stream: io.StringIO | None = None, **changes: object) -> str:
    strokes = [
        make_stroke(
            1.0 + 2 * i,
            2.5 + 2 * i,
            state=state,
            spans=(),
            note="A#3",
            cents=-12.0,
            way="other" if i % 2 else "one",
        )
        for i, state in enumerate(ToneState)
    ]
    stream = stream or io.StringIO()
    findings = make_findings(*strokes, warnings=(Evidence("clipped", {"share": 0.02}),), **changes)
    print_findings(findings, reader="teacher", stream=stream)
    return stream.getvalue()


@pytest.fixture(autouse=True)
def plain_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("NO_COLOR", "FORCE_COLOR"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv("COLUMNS", "100")


def test_every_state_is_told_by_sign_and_word() -> None:
    """Never by colour alone (WCAG 2.2, success criterion 1.4.1)."""
    assert len(set(SIGNS.values())) == len(ToneState)
    lines = show().splitlines()
    for state in ToneState:
        assert any(SIGNS[state] in line and wording.state_word(state) in line for line in lines)


def test_sentence_advice_check_and_warning_follow() -> None:
    """What was heard, the one thing to work on, how to check it, what limits it."""
    text = show()
    for words in ("1 of 2 strokes pressed.", "Work on: Less weight", "Check: Repeat", "Overloaded"):
        assert words in text


def test_sixty_columns_are_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    """A narrow window wraps words; it cuts nothing."""
    monkeypatch.setenv("COLUMNS", "60")
    text = show()
    assert max(map(len, text.splitlines())) <= 60
    assert "…" not in text


def test_no_escape_codes_where_there_is_no_terminal() -> None:
    """A file or a pipe gets plain text."""
    assert "\x1b" not in show()


def test_a_terminal_gets_colour_unless_no_color_says_otherwise(monkeypatch: pytest.MonkeyPatch) -> None:
    """The agreement of no-color.org: NO_COLOR, whatever its value, turns colour off."""
    assert "\x1b[38;" in show(Terminal())
    monkeypatch.setenv("NO_COLOR", "1")
    assert "\x1b[38;" not in show(Terminal())


def test_long_takes_show_minutes_and_hours() -> None:
    """3725 s is 1 hour, 2 minutes, 5 seconds."""
    stream = io.StringIO()
    print_findings(make_findings(make_stroke(3725.0, 3727.0)), reader="adult", stream=stream)
    assert "1:02:05" in stream.getvalue()


def test_an_arrow_needs_another_bow_on_the_same_note() -> None:
    """Strokes on different notes cannot be compared, so a lone one shows no direction; a named one does."""
    stream = io.StringIO()
    strokes = [
        make_stroke(float(i), i + 0.9, note=note, way="one") for i, note in enumerate(("G3", "D4", "D4"))
    ]
    named = make_stroke(5.0, 6.0, note="A4", bow="up")
    print_findings(make_findings(*strokes, named), reader="adult", stream=stream)
    rows = [line for line in stream.getvalue().splitlines() if "~~~~" in line]
    assert [">" in row for row in rows] == [False, True, True, False]
    assert " up " in rows[3]
    assert "--first-bow" in stream.getvalue()
