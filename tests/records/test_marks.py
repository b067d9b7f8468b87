"""Where and how fast a reference take was played is kept with it, and goes with it."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

from colophony.records.domain import FiledTake, Student
from colophony.records.studio import Studio
from colophony.teaching.findings import Findings
from colophony.teaching.reference import Mark, find_mark
from factories import make_stroke, make_take
from studio_samples import NOON, add_consented, make_findings, write_recording

#: Hair and distance of no bow that is sold: to be searched for.
MARK = find_mark("violin", "1/2", "A", point=3, beats=2, tempo=60, hair_mm=432.1)


def findings(*strokes: object) -> Findings:
    take = make_take(*strokes)  # type: ignore[arg-type]
    summary = make_findings().summary
    return Findings(take, ((),) * len(take.strokes), summary)


def file(studio: Studio, student: Student, recording: Path, mark: Mark | None = MARK) -> FiledTake:
    """Two strokes fit the mark (2 s on A4), one is on another string, one too long."""
    heard = findings(
        make_stroke(0.0, 2.0),
        make_stroke(2.0, 4.0),
        make_stroke(4.0, 6.0, note="D4", frequency_hz=293.7),
        make_stroke(6.0, 9.0),
    )
    return studio.file_take(student.id, recording, heard, taken_at=NOON, purpose="reference", mark=mark)


def test_a_mark_comes_back_and_its_strokes_count_once_the_tone_is_accepted(
    studio: Studio, student: Student, recording: Path
) -> None:
    take = file(studio, student, recording)
    assert studio.mark(take.id) == MARK
    assert studio.marked_strokes(student.id) == []
    studio.accept_reference(take.id, True)
    marked = studio.marked_strokes(student.id)
    assert [(one.mark, one.stroke.start_s) for one in marked] == [(MARK, 0.0), (MARK, 2.0)]
    assert len(studio.reference_strokes(student.id)) == 4


def test_a_reference_without_a_mark_has_none(studio: Studio, student: Student, recording: Path) -> None:
    take = file(studio, student, recording, mark=None)
    studio.accept_reference(take.id, True)
    assert studio.mark(take.id) is None
    assert studio.marked_strokes(student.id) == []


def test_a_mark_survives_pending_and_can_be_corrected(
    studio: Studio, student: Student, recording: Path
) -> None:
    """Received with its mark, heard later; the same recording sent again with another mark has that."""
    pending = studio.receive_take(student.id, recording, taken_at=NOON, purpose="reference", mark=MARK)
    assert studio.mark(pending.id) == MARK
    other = find_mark("violin", "1/2", "A", point=2, beats=2)
    assert file(studio, student, recording, mark=other).id == pending.id
    assert studio.mark(pending.id) == other
    file(studio, student, recording, mark=None)
    assert studio.mark(pending.id) == other


def test_marks_follow_consent_to_findings_only_and_the_instrument(studio: Studio, recording: Path) -> None:
    student = add_consented(studio, "Ben Thistlewood", keep_sound=False)
    take = file(studio, student, recording)
    studio.accept_reference(take.id, True)
    assert len(studio.marked_strokes(student.id)) == 2
    studio.change_student(student.id, size="3/4")
    assert studio.marked_strokes(student.id) == []


def test_a_mark_goes_with_its_take_and_into_the_copies(
    studio: Studio, student: Student, recording: Path, tmp_path: Path
) -> None:
    take = file(studio, student, recording)
    with zipfile.ZipFile(studio.export_student(student.id, tmp_path)) as archive:
        [entry] = json.loads(archive.read("findings.json"))["takes"]
    assert entry["mark"]["hair_mm"] == 432.1
    with Studio.restore(studio.backup(tmp_path), tmp_path / "new") as restored:
        assert restored.mark(take.id) == MARK
    studio.erase_take(take.id)
    assert studio.mark(take.id) is None
    assert all(b"432.1" not in path.read_bytes() for path in studio.folder.rglob("*") if path.is_file())
    again = write_recording(tmp_path, "again.wav", b"again")
    assert studio.mark(file(studio, student, again, mark=None).id) is None
