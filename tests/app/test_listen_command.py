"""``colophony listen`` keeps the contract of the command line: streams, statuses, files."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hand_made import make_findings

from colophony.app.cli import outputs
from colophony.listening.take import Brightness, Onset, Steadiness, ToneState
from factories import make_stroke

Run = Callable[..., tuple[int, str, str]]
SCHEMA = json.loads((Path(__file__).parents[2] / "docs/listen.schema.json").read_text(encoding="utf-8"))


def strict_json(text: str) -> Any:
    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is no JSON (RFC 8259, section 6)")

    value = json.loads(text, parse_constant=refuse)
    jsonschema.validate(value, SCHEMA, cls=jsonschema.Draft202012Validator)
    return value


def test_one_file_gives_one_object_and_nothing_else(colophony: Run, ears: Any) -> None:
    """Standard output is JSON as RFC 8259 has it and as ``docs/listen.schema.json`` describes."""
    status, out, err = colophony("listen", "lesson.m4a", "--json")
    heard = strict_json(out)
    assert (status, err) == (0, "")
    assert heard["file"] == "lesson.m4a"
    assert [stroke["state"] for stroke in heard["strokes"]] == ["steady", "raucous"]
    assert heard["strokes"][1]["advice"][0]["change"] == "weight"
    assert heard["summary"]["main_advice"]["say"]["child"] == "Let the bow rest lighter."


def test_several_files_give_a_list_and_a_bad_one_is_named(colophony: Run, ears: Any) -> None:
    """The good takes are still reported; one line on standard error names the bad one; status 1."""
    status, out, err = colophony("listen", "one.wav", "bad.wav", "two.wav", "--json")
    assert status == 1
    assert [heard["file"] for heard in strict_json(out)] == ["one.wav", "two.wav"]
    assert err == "colophony: bad.wav: no audio in this file; record it again\n"


def test_a_single_bad_file_leaves_standard_output_empty(colophony: Run, ears: Any) -> None:
    """A program that reads the JSON sees nothing rather than half an answer."""
    status, out, err = colophony("listen", "bad.wav", "--json")
    assert (status, out, err.count("\n")) == (1, "", 1)


def test_what_a_take_cannot_tell_is_null(colophony: Run, ears: Any) -> None:
    """Neither None nor a figure that is none (NaN, infinity) reaches a reader as a number."""
    stroke = make_stroke(
        note=None,
        frequency_hz=None,
        cents=math.nan,
        state=ToneState.UNSURE,
        way=None,
        onset=Onset(None, None, None, "unknown", None),
        steadiness=Steadiness(math.inf, None, None, None),
        brightness=Brightness(None, None, None),
        harmonicity_db=-math.inf,
    )
    ears.answer = lambda path: make_findings(stroke, instrument=None)
    _, out, _ = colophony("listen", "x.wav", "--json")
    heard = strict_json(out)["strokes"][0]
    for field in ("note", "frequency_hz", "cents", "bow", "way", "harmonicity_db"):
        assert heard[field] is None
    assert set(heard["steadiness"].values()) == {None}


def test_options_reach_the_request(colophony: Run, ears: Any) -> None:
    """Notes may be written in small letters, with flats, between commas."""
    colophony(
        *("listen", "x.wav", "--instrument", "cello", "--size", "1/2", "--string", "g", "--a4", "415"),
        *("--expect", "g2, Bb2 c3", "--first-bow", "up", "--reference", "r1.wav", "--reference", "r2.wav"),
    )
    request = ears.requests[0][1]
    assert (request.instrument, request.size, request.string) == ("cello", "1/2", "G")
    assert (request.a4_hz, tuple(request.expect), request.first_bow) == (415.0, ("G2", "A#2", "C3"), "up")
    assert ears.references == (Path("r1.wav"), Path("r2.wav"))
    assert len(request.reference_strokes) == 1


def test_instrument_comes_from_the_setting_where_no_option_says(
    colophony: Run, ears: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An option goes before the environment."""
    monkeypatch.setenv("COLOPHONY_INSTRUMENT", "viola")
    colophony("listen", "x.wav")
    colophony("listen", "x.wav", "--instrument", "violin")
    assert [request.instrument for _, request in ears.requests] == ["viola", "violin"]


@pytest.mark.parametrize(
    "arguments",
    [
        ("listen",),
        ("listen", "x.wav", "--instrument", "guitar"),
        ("listen", "x.wav", "--a4", "300"),
        ("listen", "x.wav", "--expect", "H3"),
        ("listen", "x.wav", "--expect", " "),
        ("listen", "x.wav", "--sheet", "out.txt"),
        ("listen", "x.wav", "y.wav", "--html", "out.html"),
        ("listen", "x.wav", "--nonsense"),
        ("nonsense",),
    ],
)
def test_wrong_usage_is_status_2(colophony: Run, ears: Any, arguments: tuple[str, ...]) -> None:
    """Usage is told apart from bad input, and no take is heard."""
    status, out, err = colophony(*arguments)
    assert (status, out) == (2, "")
    assert "Traceback" not in err
    assert ears.requests == []


def test_an_input_is_never_written_over(colophony: Run, ears: Any, tmp_path: Path) -> None:
    """Not even by another name of the same file."""
    take = tmp_path / "take.pdf"
    take.write_bytes(b"sound")
    other = tmp_path / "other.pdf"
    os.link(take, other)
    for target in (take, other):
        status, _, err = colophony("listen", take, "--sheet", target)
        assert (status, err.count("\n")) == (1, 1)
    status, _, _ = colophony("listen", "x.wav", "--reference", take, "--sheet", other)
    assert status == 1
    assert take.read_bytes() == b"sound"
    assert ears.requests == []


def test_a_missing_folder_is_named_before_any_work(colophony: Run, ears: Any, tmp_path: Path) -> None:
    """Minutes of listening are not thrown away for a misspelt folder."""
    status, _, err = colophony("listen", "x.wav", "--html", tmp_path / "none" / "x.html")
    assert (status, err.count("\n"), ears.requests) == (1, 1, [])


def test_a_failed_write_leaves_the_old_file_whole(tmp_path: Path) -> None:
    """Another program sees the old content or the new, never a part, and no scrap stays behind."""

    target = tmp_path / "sheet.pdf"
    target.write_bytes(b"old")

    def write_half() -> None:
        with outputs.whole_file(target) as draft:
            draft.write_bytes(b"half of it")
            raise OSError(28, "No space left on device")

    with pytest.raises(OSError, match="space"):
        write_half()
    assert target.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [target]


def test_a_write_replaces_an_older_output(tmp_path: Path) -> None:
    """The sheet of last week makes way for this week's, with the rights that a new file has."""
    target = tmp_path / "sheet.pdf"
    target.write_bytes(b"old")
    with outputs.whole_file(target) as draft:
        draft.write_bytes(b"new")
    fresh = tmp_path / "fresh"
    fresh.touch()
    assert target.read_bytes() == b"new"
    assert target.stat().st_mode == fresh.stat().st_mode


def test_ctrl_c_ends_with_one_line(colophony: Run, ears: Any) -> None:
    """Status 130 is what shells give to a program that was interrupted (128 + SIGINT)."""

    def interrupt(path: Path) -> Any:
        raise KeyboardInterrupt

    ears.answer = interrupt
    status, out, err = colophony("listen", "x.wav")
    assert (status, out, err.strip().count("\n")) == (130, "", 0)


def test_a_fault_of_the_program_is_one_line(colophony: Run, ears: Any) -> None:
    """A user never meets a traceback, even where nobody foresaw the fault."""

    def fail(path: Path) -> Any:
        raise ZeroDivisionError("division\nby zero")

    ears.answer = fail
    status, _, err = colophony("listen", "x.wav")
    assert (status, err.count("\n")) == (1, 1)
    assert "ZeroDivisionError" in err


def test_a_reader_that_left_is_no_fault() -> None:
    """``colophony ... | head -1`` ends quietly."""
    process = subprocess.Popen(
        [sys.executable, "-m", "colophony", "listen", "--help"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    err = process.stderr.read()
    process.stderr.close()
    process.wait()
    assert err == b""


def test_file_names_that_are_no_text_are_reported(colophony: Run, ears: Any) -> None:
    """A name in another encoding (POSIX allows any bytes) neither stops the run nor breaks the JSON."""
    status, out, _ = colophony("listen", os.fsdecode(b"caf\xe9.wav"), "--json")
    assert status == 0
    assert strict_json(out)["file"] == "caf\ufffd.wav"


def test_control_characters_in_a_file_name_reach_no_terminal(colophony: Run, ears: Any) -> None:
    """POSIX forbids only / and NUL in a name; what is shown is one plain line."""
    status, out, err = colophony("listen", "good\x1b[2J\nname.wav", "bad\x1b]0;title\x07.wav")
    assert status == 1
    assert "\x1b" not in out + err
    assert out.splitlines()[0].startswith("good?[2J name.wav: 2 strokes")
    assert err.count("\n") == 1
