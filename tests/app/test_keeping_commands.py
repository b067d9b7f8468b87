"""Commands that keep: ``listen --student`` and ``studio``; the studio itself is tested beside it."""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from colophony.records.studio import Studio

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def take(tmp_path: Path) -> Path:
    path = tmp_path / "week1.m4a"
    path.write_bytes(b"sound of the first week")
    return path


@pytest.fixture
def kept(colophony: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """A studio with Nele (invented), a minor without consent."""
    monkeypatch.setenv("COLOPHONY_STUDIO", str(tmp_path / "studio"))
    status, _, err = colophony(
        "studio", "add", "Nele", "--instrument", "cello", "--size", "1/2", "--reader", "child"
    )
    assert (status, err) == (0, "")
    return colophony


def give_consent(run: Run, *more: str) -> None:
    status, out, _ = run(
        "studio", "consent", "nele", "--given-by", "I. Example", "--relation", "mother", *more
    )
    assert status == 0
    assert "consent recorded: Nele" in out


def takes_of_nele(run: Run) -> list[dict[str, Any]]:
    return json.loads(run("studio", "takes", "Nele", "--json")[1])


def test_without_consent_a_minors_take_is_heard_and_forgotten(kept: Run, ears: Any, take: Path) -> None:
    """The findings are shown, nothing is kept, and standard error says why and what to do."""
    status, out, err = kept("listen", take, "--student", "nele", "--json")
    assert status == 0
    assert json.loads(out)["strokes"]
    assert "not kept" in err
    assert "studio consent" in err
    assert takes_of_nele(kept) == []


def test_with_consent_the_take_is_filed(kept: Run, ears: Any, take: Path) -> None:
    """Recording and findings are kept; the student's own instrument and size are heard."""
    give_consent(kept)
    status, _, err = kept("listen", take, "--student", "nele")
    assert (status, err) == (0, "kept for Nele: recording and findings, take 1\n")
    request = ears.requests[0][1]
    assert (request.instrument, request.size) == ("cello", "1/2")
    [filed] = takes_of_nele(kept)
    assert (filed["file"], filed["status"], filed["strokes"]) == ("week1.m4a", "heard", 2)


def test_consent_for_findings_keeps_no_sound(kept: Run, ears: Any, take: Path, tmp_path: Path) -> None:
    """Not a byte of the recording reaches the studio's folder."""
    give_consent(kept, "--findings-only")
    kept("listen", take, "--student", "nele")
    assert [filed["sound_kept"] for filed in takes_of_nele(kept)] == [False]
    for path in (tmp_path / "studio").rglob("*"):
        assert not path.is_file() or take.read_bytes() not in path.read_bytes()


def test_an_accepted_reference_is_heard_against_from_then_on(
    kept: Run, ears: Any, take: Path, tmp_path: Path
) -> None:
    """The next take's request carries the strokes of the accepted tone; taken back, it does not."""
    give_consent(kept)
    kept("listen", take, "--student", "nele", "--accept-reference", "--instrument", "cello")
    later = tmp_path / "week2.m4a"
    later.write_bytes(b"sound of the second week")
    kept("studio", "accept", "1", "--no-longer")
    assert takes_of_nele(kept)[0]["accepted"] is False
    kept("listen", later, "--student", "nele")
    assert ears.requests[-1][1].reference_strokes == ()
    kept("studio", "accept", "1")
    kept("listen", later, "--student", "nele")
    assert len(ears.requests[-1][1].reference_strokes) == 2


def test_a_bad_take_is_not_filed(kept: Run, ears: Any, tmp_path: Path) -> None:
    """What holds nothing to hear stays where it was; the others are filed."""
    give_consent(kept)
    good, bad = tmp_path / "good.wav", tmp_path / "bad.wav"
    good.write_bytes(b"good sound")
    bad.write_bytes(b"no sound")
    status, _, err = kept("listen", bad, good, "--student", "nele")
    assert status == 1
    assert "bad.wav: no audio" in err
    assert [filed["file"] for filed in takes_of_nele(kept)] == ["good.wav"]


def test_an_unknown_student_is_named_before_any_take_is_heard(kept: Run, ears: Any, take: Path) -> None:
    """A misspelt name files nothing with somebody else."""
    status, _, err = kept("listen", take, "--student", "Nelle")
    assert (status, err.count("\n"), ears.requests) == (1, 1, [])
    assert "Nele" in err


def test_reference_needs_a_student(colophony: Run, ears: Any, take: Path) -> None:
    """Wrong usage: there is nobody whose tone it could be."""
    assert colophony("listen", take, "--accept-reference")[0] == 2


def test_a_backup_is_restored_whole(kept: Run, ears: Any, take: Path, tmp_path: Path) -> None:
    """The restored studio is well and lists the same takes."""
    give_consent(kept)
    kept("listen", take, "--student", "nele")
    assert kept("studio", "backup", tmp_path / "copy.zip")[0] == 0
    second = tmp_path / "second"
    assert kept("studio", "restore", tmp_path / "copy.zip", "--studio", second)[0] == 0
    assert kept("studio", "check", "--studio", second)[:2] == (0, "All is well.\n")
    restored = json.loads(kept("studio", "takes", "nele", "--json", "--studio", second)[1])
    assert restored == takes_of_nele(kept)


def test_damage_is_reported_with_status_1(kept: Run, ears: Any, take: Path, tmp_path: Path) -> None:
    """A recording that went missing is told, with what to do."""
    give_consent(kept)
    kept("listen", take, "--student", "nele")
    [sound] = [p for p in (tmp_path / "studio/recordings").rglob("*") if p.is_file()]
    sound.unlink()
    status, out, _ = kept("studio", "check")
    assert status == 1
    assert "1 to do." in out


def test_a_take_that_a_dead_run_left_unheard_is_heard_by_check(
    kept: Run, ears: Any, take: Path, tmp_path: Path
) -> None:
    """Received but never heard: check tells it, and with --hear puts it right."""
    give_consent(kept)
    with Studio.open(tmp_path / "studio") as studio:
        nele = studio.find_student("nele")
        studio.receive_take(nele.id, take, taken_at=datetime(2026, 3, 1, tzinfo=UTC))
    status, out, _ = kept("studio", "check")
    assert status == 1
    assert "never heard" in out
    status, out, _ = kept("studio", "check", "--hear")
    assert (status, out) == (0, "heard: week1.m4a of Nele\nAll is well.\n")
    assert [request.size for _, request in ears.requests] == ["1/2"]


def test_erasing_asks_first(kept: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a yes nothing is erased."""
    monkeypatch.setattr("sys.stdin", io.StringIO("n\n"))
    assert kept("studio", "erase", "nele")[0] == 130
    assert [student["name"] for student in json.loads(kept("studio", "students", "--json")[1])] == ["Nele"]
    assert kept("studio", "erase", "nele", "--yes")[0] == 0
    assert json.loads(kept("studio", "students", "--json")[1]) == []


def test_one_take_is_erased_from_its_own_student_only(kept: Run, ears: Any, take: Path) -> None:
    """A number typed for the wrong student erases nothing."""
    give_consent(kept)
    kept("listen", take, "--student", "nele")
    kept("studio", "add", "Tom", "--instrument", "violin", "--of-age")
    assert kept("studio", "erase", "tom", "--take", "1", "--yes")[0] == 1
    assert len(takes_of_nele(kept)) == 1
    assert kept("studio", "erase", "nele", "--take", "1", "--yes")[0] == 0
    assert takes_of_nele(kept) == []


def test_withdrawing_erases_a_minors_sound_and_says_what_stays(kept: Run, ears: Any, take: Path) -> None:
    """Findings stay until they are erased too, and the answer says how."""
    give_consent(kept)
    kept("listen", take, "--student", "nele")
    status, out, _ = kept("studio", "withdraw", "nele")
    assert status == 0
    assert "recordings erased: 1" in out
    assert "studio erase" in out


def test_export_writes_one_file(kept: Run, tmp_path: Path) -> None:
    """A parent gets all that is kept in one file."""
    status, out, _ = kept("studio", "export", "nele", tmp_path / "nele.zip")
    assert status == 0
    assert (tmp_path / "nele.zip").is_file()
    assert "nele.zip" in out


def test_pages_without_their_libraries_say_what_to_install(
    kept: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The base install hears and prints; what more it takes for the pages is one line."""
    monkeypatch.setitem(sys.modules, "uvicorn", None)
    status, out, err = kept("studio", "serve", "--no-browser", "--port", "0")
    assert (status, out, err.count("\n")) == (1, "", 1)
    assert "uvicorn" in err
    assert "pip install" in err
