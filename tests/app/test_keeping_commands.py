"""Commands that keep: ``listen --student`` and ``studio``; the studio itself is tested beside it."""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from hand_made import make_findings

from colophony.records.studio import Studio
from colophony.teaching.findings import Findings
from factories import make_stroke, make_take

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


def marked_take(*, seconds: float) -> Findings:
    """Four bows on a half-size cello's open D."""
    bows = [
        make_stroke(5.0 * k, 5.0 * k + seconds, note="D3", frequency_hz=146.8, harmonics_db=(-3.0,) * 20)
        for k in range(4)
    ]
    return replace(make_findings(), take=make_take(*bows, instrument="cello"), advice=((),) * 4)


def test_a_take_at_a_marked_place_is_kept_and_heard_against(kept: Run, ears: Any, take: Path) -> None:
    """Point, beats and tempo go with the take; later takes carry the strokes that fit."""
    give_consent(kept)
    ears.answer = lambda path: marked_take(seconds=4.0)
    status, out, err = kept("studio", "reference", "Nele", take, "--string", "d", "--point", "3", "--accept")
    assert (status, err) == (0, "")
    assert "take 1: reference, accepted" in out
    assert "4 bows fit: open D3, sounding point 3" in out
    assert "a whole bow in 4 beats at 60, 13 cm/s" in out
    later = take.with_name("week2.m4a")
    later.write_bytes(b"sound of the second week")
    kept("listen", later, "--student", "nele", "--whole-bows", "--same-microphone")
    request = ears.requests[-1][1]
    assert [(one.mark.string, one.mark.point) for one in request.marked] == [("D3", 3.0)] * 4
    assert (request.whole_bows, request.same_microphone) == (True, True)
    listed = kept("studio", "reference", "Nele")[1].splitlines()
    assert len(listed) == 12
    assert sum("4 strokes accepted" in line for line in listed) == 1


def test_a_take_that_does_not_fit_its_mark_gets_one_line_and_is_kept(
    kept: Run, ears: Any, take: Path
) -> None:
    """Bows of 3 s are no whole bows in 4 beats at 60; the take is filed, its tone not accepted."""
    give_consent(kept)
    ears.answer = lambda path: marked_take(seconds=3.0)
    status, out, _ = kept("studio", "reference", "Nele", take, "--string", "D", "--point", "3", "--accept")
    assert status == 1
    assert "0 of 4 bows lasted 4 beats at 60" in out
    [filed] = takes_of_nele(kept)
    assert (filed["purpose"], filed["accepted"]) == ("reference", False)
    listed = kept("studio", "reference", "Nele")[1].splitlines()
    assert sum("recorded, not accepted yet" in line for line in listed) == 1
    assert sum("not recorded yet" in line for line in listed) == 11


def test_a_place_must_be_said_and_must_exist(kept: Run, ears: Any, take: Path) -> None:
    give_consent(kept)
    assert kept("studio", "reference", "Nele", take)[0] == 2
    status, _, err = kept("studio", "reference", "Nele", take, "--string", "D", "--point", "9")
    assert status == 1
    assert "sounding point 9 is out of range" in err
    assert takes_of_nele(kept) == []


def test_an_age_group_is_kept_and_answers_for_majority(kept: Run) -> None:
    status, _, _ = kept("studio", "add", "Olga", "--instrument", "viola", "--age-group", "of-age")
    assert status == 0
    students = {one["name"]: one for one in json.loads(kept("studio", "students", "--json")[1])}
    assert (students["Olga"]["minor"], students["Olga"]["age_group"]) == (False, "of-age")
    assert (students["Nele"]["minor"], students["Nele"]["age_group"]) == (True, None)
    status, _, err = kept("studio", "add", "Una", "--instrument", "viola", "--of-age", "--age-group", "teen")
    assert status == 1
    assert "contradicts" in err
