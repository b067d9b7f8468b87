"""Plans, results and own exercises are remembered, and go with the person whose they are."""

from __future__ import annotations

import json
import zipfile
from datetime import date, timedelta
from pathlib import Path

import pytest

from colophony.errors import StudioError
from colophony.records.domain import KeptPlan, OwnExercise, PassResult, Student
from colophony.records.studio import Studio
from studio_samples import (
    NAME,
    NOON,
    PASS_WORDS,
    PLAN_WORDS,
    TODAY,
    add_consented,
    files_with,
    make_findings,
    make_older_studio,
    practise,
    write_recording,
)

LATER = TODAY + timedelta(days=7)


def record(studio: Studio, student: Student, exercise: str, on: date, passed: bool = True) -> PassResult:
    return studio.record_pass(
        student.id, exercise, on=on, passed_strokes=8 if passed else 3, asked_strokes=10, passed=passed
    )


def test_an_older_studio_is_brought_up_to_date_and_gives_no_number_twice(tmp_path: Path) -> None:
    make_older_studio(tmp_path / "studio")
    with Studio.open(tmp_path / "studio") as studio:
        [student] = studio.students()
        assert (student.name, student.age_group) == (NAME, None)
        assert studio.may_keep(student.id)
        assert studio.add_student("Next", instrument="cello", minor=True).id == 3
        practise(studio, student)


def test_plans_come_newest_first_and_as_they_went_in(studio: Studio, student: Student) -> None:
    content = {"first_day": 739677, "items": [{"key": "long-slow", "minutes": 2.5, "why": None}]}
    first = studio.keep_plan(student.id, content, made_on=TODAY)
    later = studio.keep_plan(student.id, {"items": []}, made_on=LATER)
    again = studio.keep_plan(student.id, {"items": [1]}, made_on=TODAY)
    assert first == KeptPlan(first.id, student.id, TODAY, content)
    assert studio.plans(student.id) == [later, again, first]
    assert studio.latest_plan(student.id) == later


def test_without_plans_there_is_no_latest(studio: Studio, student: Student) -> None:
    assert studio.latest_plan(student.id) is None
    with pytest.raises(StudioError, match="no student has the number 99"):
        studio.latest_plan(99)


def test_results_tell_what_was_passed_when(studio: Studio, student: Student) -> None:
    """Spaced review asks for the days of an exercise; what was tried and not passed has none."""
    kept = record(studio, student, "long-slow", TODAY)
    assert kept == PassResult(kept.id, student.id, "long-slow", None, TODAY, 8, 10, True, {})
    record(studio, student, "long-slow", LATER)
    record(studio, student, "long-slow", LATER)
    missed = record(studio, student, "tilt", LATER, passed=False)
    assert studio.passed_when(student.id) == {"long-slow": (TODAY, LATER)}
    assert studio.passes(student.id)[0] == missed
    assert [result.on for result in studio.passes(student.id, exercise="long-slow")] == [LATER, LATER, TODAY]


def test_a_take_heard_again_has_one_result_an_exercise(
    studio: Studio, student: Student, recording: Path
) -> None:
    take = studio.file_take(student.id, recording, make_findings(), taken_at=NOON)
    for passed in (3, 9):
        studio.record_pass(
            student.id,
            "tilt",
            on=TODAY,
            passed_strokes=passed,
            asked_strokes=10,
            passed=passed > 7,
            take_id=take.id,
        )
    [kept] = studio.passes(student.id)
    assert (kept.passed_strokes, kept.passed) == (9, True)
    record(studio, student, "tilt", TODAY)  # by ear, beside it
    assert len(studio.passes(student.id)) == 2


def test_a_result_that_cannot_be_is_refused_in_one_line(
    studio: Studio, student: Student, recording: Path
) -> None:
    other = add_consented(studio, "Ben Thistlewood")
    take = studio.file_take(other.id, recording, make_findings(), taken_at=NOON)
    for number, strokes, message in (
        (take.id, 8, "another student's"),
        (99, 8, "no take has the number"),
        (None, 11, "11 of 10 strokes"),
    ):
        with pytest.raises(StudioError, match=message):
            studio.record_pass(
                student.id,
                "tilt",
                on=TODAY,
                passed_strokes=strokes,
                asked_strokes=10,
                passed=True,
                take_id=number,
            )
    assert studio.passes(student.id) == []


def test_own_exercises_are_added_changed_and_removed(studio: Studio) -> None:
    studio.keep_exercise("slow-g", '{"title": "Slow G"}')
    studio.keep_exercise("arpeggio", 'title = "Arpeggio"\n')
    studio.keep_exercise("slow-g", '{"title": "Slower G"}')
    assert studio.own_exercises() == [
        OwnExercise("arpeggio", 'title = "Arpeggio"'),
        OwnExercise("slow-g", '{"title": "Slower G"}'),
    ]
    studio.remove_exercise("arpeggio")
    assert [own.key for own in studio.own_exercises()] == ["slow-g"]
    with pytest.raises(StudioError, match="'arpeggio': nothing was removed"):
        studio.remove_exercise("arpeggio")
    with pytest.raises(StudioError, match="key is empty"):
        studio.keep_exercise(" ", "x")


def test_without_consent_neither_plan_nor_result_of_a_minor_is_kept(studio: Studio) -> None:
    student = studio.add_student("Cora", instrument="viola", minor=True)
    with pytest.raises(StudioError, match="minor and no consent"):
        studio.keep_plan(student.id, {"why": PLAN_WORDS}, made_on=TODAY)
    with pytest.raises(StudioError, match="minor and no consent"):
        record(studio, student, PASS_WORDS, TODAY)
    assert files_with(studio.folder, PLAN_WORDS.encode()) == []
    assert files_with(studio.folder, PASS_WORDS.encode()) == []
    of_age = studio.add_student("Dora", instrument="viola", minor=False)
    practise(studio, of_age)
    with pytest.raises(StudioError, match="record the consent first"):
        studio.change_student(of_age.id, minor=True)


def test_after_a_withdrawal_plans_and_results_stay_until_erased_and_the_check_says_so(
    studio: Studio, student: Student
) -> None:
    practise(studio, student)
    assert studio.check() == []
    assert studio.withdraw_consent(student.id, on=TODAY).kept_practice == 3
    assert len(studio.plans(student.id)) == 1
    [problem] = studio.check()
    assert problem.kind == "no-consent"
    with pytest.raises(StudioError, match="minor and no consent"):
        studio.keep_plan(student.id, {}, made_on=TODAY)


def test_erasing_a_take_erases_its_results_and_a_student_all(
    studio: Studio, student: Student, recording: Path
) -> None:
    studio.keep_exercise("slow-g", "mine")
    take = studio.file_take(student.id, recording, make_findings(), taken_at=NOON)
    practise(studio, student)
    studio.erase_take(take.id)
    assert studio.passes(student.id) == []
    assert files_with(studio.folder, PASS_WORDS.encode()) == []
    assert len(studio.plans(student.id)) == 1
    studio.erase_student(student.id)
    assert files_with(studio.folder, PLAN_WORDS.encode()) == []
    assert [own.key for own in studio.own_exercises()] == ["slow-g"]


def test_copies_hold_practice_too(studio: Studio, student: Student, recording: Path, tmp_path: Path) -> None:
    studio.keep_exercise("slow-g", "mine")
    studio.file_take(student.id, recording, make_findings(), taken_at=NOON)
    practise(studio, student)
    other = add_consented(studio, "Ben Thistlewood")
    studio.keep_plan(other.id, {"why": "of Ben"}, made_on=TODAY)
    with Studio.restore(studio.backup(tmp_path), tmp_path / "new") as restored:
        assert restored.plans(student.id) == studio.plans(student.id)
        assert restored.passes(student.id) == studio.passes(student.id)
        assert restored.own_exercises() == studio.own_exercises()
    with zipfile.ZipFile(studio.export_student(student.id, tmp_path)) as archive:
        content = json.loads(archive.read("findings.json"))
    assert content["plans"][0]["content"]["why"] == [PLAN_WORDS]
    assert content["plans"][0]["made_on"] == "2026-03-02"
    assert content["exercises"][0]["detail"]["why"] == PASS_WORDS
    assert "of Ben" not in json.dumps(content)


def test_a_backup_of_the_first_form_is_restored_and_brought_up_to_date(
    tmp_path: Path, studio: Studio
) -> None:
    folder = tmp_path / "old"
    make_older_studio(folder)
    old = tmp_path / "old.zip"
    with zipfile.ZipFile(old, "w") as archive:
        archive.write(folder / "studio.db", "studio.db")
        archive.writestr("colophony-studio.json", json.dumps({"missing": []}))
    with Studio.restore(old, tmp_path / "new") as restored:
        assert [student.name for student in restored.students()] == [NAME]
        practise(restored, restored.students()[0])


def test_an_age_group_follows_majority_and_never_contradicts_it(studio: Studio) -> None:
    teen = studio.add_student("Tara", instrument="cello", minor=None, age_group="teen")
    assert (teen.minor, teen.age_group) == (True, "teen")
    grown = studio.change_student(teen.id, minor=False)
    assert (grown.minor, grown.age_group) == (False, "of-age")
    assert studio.change_student(teen.id, name="Tara B").age_group == "of-age"
    child = studio.change_student(teen.id, age_group="child")
    assert (child.minor, child.age_group) == (True, "child")
    assert studio.change_student(teen.id, age_group="").age_group is None
    assert studio.add_student("Olga", instrument="cello", minor=None, age_group="of-age").minor is False
    with pytest.raises(StudioError, match="contradicts"):
        studio.add_student("Una", instrument="cello", minor=False, age_group="teen")
    with pytest.raises(StudioError, match="age group 'old': choose one of"):
        studio.change_student(teen.id, age_group="old")  # type: ignore[arg-type]


def test_a_recording_filed_again_keeps_its_results(studio: Studio, student: Student, tmp_path: Path) -> None:
    recording = write_recording(tmp_path, "again.wav", b"again")
    studio.file_take(student.id, recording, make_findings(), taken_at=NOON)
    practise(studio, student)
    studio.file_take(student.id, recording, make_findings(), taken_at=NOON)
    assert len(studio.passes(student.id)) == 1
