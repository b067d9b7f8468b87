"""``colophony plan`` and ``listen --exercise`` keep the contract of the command line."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hand_made import make_findings

from colophony.app.practice import ask_ranges, plan_for_student
from colophony.physics.strings import find_string
from colophony.records.studio import Studio
from colophony.teaching.exercises.library import library
from colophony.teaching.plans import plan_from_plain
from factories import make_stroke, make_take
from studio_samples import NOON
from studio_samples import make_findings as filed_findings

Run = Callable[..., tuple[int, str, str]]
DOCS = Path(__file__).parents[2] / "docs"
LISTEN = json.loads((DOCS / "listen.schema.json").read_text(encoding="utf-8"))
PLAN = json.loads((DOCS / "plan.schema.json").read_text(encoding="utf-8"))


def valid(value: Any, schema: Any) -> None:
    jsonschema.validate(value, schema, cls=jsonschema.Draft202012Validator)


OWN = """
[[exercise]]
key = "my-open-strings"
title = "My open strings"
aim = "hold-point"
trains = ["distance"]
say.adult = "Open strings, slowly."
listen_for.adult = "The ring afterwards."
"""


@pytest.fixture(scope="module")
def maps(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One folder of computed maps for all tests here."""
    return tmp_path_factory.mktemp("maps")


@pytest.fixture
def run(colophony: Run, maps: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """The command line with a studio of its own, which is not there yet."""
    monkeypatch.setenv("COLOPHONY_CACHE", str(maps))
    monkeypatch.setenv("COLOPHONY_STUDIO", str(tmp_path / "studio"))
    return colophony


@pytest.fixture
def with_nele(run: Run) -> Run:
    """A studio with Nele (invented), who plays a half-size violin; a minor without consent."""
    added = run("studio", "add", "Nele", "--instrument", "violin", "--size", "1/2", "--reader", "child")
    assert added[0] == 0
    return run


def give_consent(run: Run) -> None:
    consent = ("studio", "consent", "nele", "--given-by", "I. Example", "--relation", "mother")
    assert run(*consent)[0] == 0


def test_a_newcomer_gets_a_week_for_a_half_size_violin_from_one_line(run: Run, tmp_path: Path) -> None:
    """No student, no studio, no take: an invented first week, marked as one, and no folder is made."""
    status, out, err = run("plan", "--instrument", "violin", "--size", "1/2", "--reader", "adult")
    assert (status, err) == (0, "")
    assert "violin 1/2" in out
    assert "invented" in out
    assert "24\u00a0mm from the bridge" in out
    assert "4 beats at 60 a minute" in out
    assert "Day 7: free" in out
    assert "Stop when anything hurts" in out
    assert not (tmp_path / "studio").exists()


def test_the_week_as_json_is_a_plan(run: Run) -> None:
    """First day in ISO 8601; targets of this instrument's own map; every reason in three readers' words."""
    status, out, err = run(
        "plan", "--instrument", "violin", "--size", "1/2", "--from", "2026-12-07", "--minutes", "20", "--json"
    )
    assert (status, err) == (0, "")
    told = json.loads(out)
    valid(told, PLAN)
    assert (told["first_day"], told["minutes_a_day"], told["is_invented"]) == ("2026-12-07", 20.0, True)
    for item in told["items"]:
        assert all(target["is_computed"] for target in item["targets"])
        assert set(item["why"][0]["say"]) == {"child", "adult", "teacher"}
    whole = [item for item in told["items"] if item["exercise"]["key"] == "hold-point-whole"]
    assert whole[0]["targets"][0]["speed_cm_s"] == pytest.approx(53.0 / 4.0)  # hair of a half-size bow


def test_a_plan_of_a_student_is_kept_with_consent_only(with_nele: Run, tmp_path: Path) -> None:
    """Without consent it is shown and forgotten, and standard error says so; with consent it is kept."""
    status, out, err = with_nele("plan", "nele")
    assert status == 0
    assert "Nele. Week of" in out
    assert "lane 3" in out  # in the child's words, as the studio has it
    assert "not kept" in err
    give_consent(with_nele)
    status, out, err = with_nele("plan", "nele", "--json")
    assert (status, err) == (0, "")
    told = json.loads(out)
    valid(told, PLAN)
    assert (told["student"], told["kept"]) == ("Nele", True)
    with Studio.open(tmp_path / "studio") as studio:
        (kept,) = studio.plans(studio.find_student("Nele").id)
        plan = plan_from_plain(kept.content)
    assert (plan.instrument, plan.size, plan.age_group) == ("violin", "1/2", "child")


def test_takes_passes_and_a_reference_shape_the_next_week(tmp_path: Path) -> None:
    """Faults of the last take choose exercises, what was passed comes back, an accepted take is not asked
    for again, and nothing here needs a map."""
    with Studio.open(tmp_path / "studio") as studio:
        student = studio.add_student("Ida", instrument="violin", size="1/2", minor=False, reader="adult")
        for number, purpose in enumerate(("practice", "reference")):
            recording = tmp_path / f"{purpose}.m4a"
            recording.write_bytes(purpose.encode() * 500)
            findings = make_findings(file=recording.name)
            take = studio.file_take(
                student.id, recording, findings, taken_at=NOON.replace(hour=number + 1), purpose=purpose
            )
        studio.accept_reference(take.id, True)
        studio.record_pass(
            student.id,
            "hold-point-whole",
            on=date(2026, 3, 1),
            passed_strokes=8,
            asked_strokes=10,
            passed=True,
        )
        plan = plan_for_student(studio, student, first_day=date(2026, 3, 9), exercises=library())
    assert plan.age_group == "of-age"
    assert [remark.kind for remark in plan.change] == ["change-pressed"]
    roles = {item.exercise.key: item.role for item in plan.items}
    assert "reference-open-strings" not in roles
    assert roles["hold-point-whole"] in ("review", "warm-up")
    assert "change" in roles.values()


def test_takes_to_compare_with_hide_no_fault(tmp_path: Path) -> None:
    """A session of six good takes to compare with comes after the lesson: its fault is still to be mended."""
    with Studio.open(tmp_path / "studio") as studio:
        student = studio.add_student("Ida", instrument="violin", size="1/2", minor=False, reader="adult")
        good = make_findings()
        good = replace(good, take=replace(good.take, strokes=good.take.strokes[:1]), advice=((),))
        for hour in range(7):
            recording = tmp_path / f"{hour}.m4a"
            recording.write_bytes(bytes([hour]) * 500)
            findings, purpose = (good, "reference") if hour else (make_findings(), "practice")
            when = NOON.replace(hour=hour + 1)
            studio.file_take(student.id, recording, findings, taken_at=when, purpose=purpose)
        plan = plan_for_student(studio, student, first_day=date(2026, 3, 9), exercises=library())
    assert [remark.kind for remark in plan.change] == ["change-pressed"]


def test_own_exercises_are_checked_and_used(run: Run, tmp_path: Path) -> None:
    """A good file joins the library; of a bad one every mistake is a line of its own, and nothing is made."""
    file = tmp_path / "own.toml"
    file.write_text(OWN, encoding="utf-8")
    status, out, _ = run("plan", "--exercises", file, "--list")
    assert status == 0
    assert "my-open-strings: My open strings" in out
    assert "hold-point-whole" in out
    file.write_text(OWN.replace('"distance"', '"place"').replace("title", "tilte"), encoding="utf-8")
    status, out, err = run("plan", "--instrument", "violin", "--exercises", file)
    assert (status, out) == (1, "")
    lines = err.splitlines()
    assert len(lines) == 3
    assert all(line.startswith("colophony: own.toml: my-open-strings.") for line in lines)


def test_the_list_as_json_holds_every_exercise(run: Run) -> None:
    """Whole, as data."""
    status, out, _ = run("plan", "--list", "--json")
    assert status == 0
    assert [one["key"] for one in json.loads(out)] == [exercise.key for exercise in library()]


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        ((), 2, "--instrument violin"),
        (("nele", "--instrument", "cello"), 2, "leave --instrument"),
        (("nobody",), 1, "nobody"),
        (("--instrument", "violin", "--minutes", "500"), 1, "choose 5 to 120"),
        (("--instrument", "cello", "--size", "1/16"), 1, "1/16"),
        (("--instrument", "violin", "--exercises", "no-such.toml"), 1, "no-such.toml"),
    ],
)
def test_what_cannot_be_planned_is_said_in_one_line(
    with_nele: Run, arguments: tuple[str, ...], status: int, words: str
) -> None:
    """Wrong usage is status 2, an input at fault status 1; nothing on standard output."""
    ended, out, err = with_nele("plan", *arguments)
    assert (ended, out) == (status, "")
    assert words in err.splitlines()[-1]


def test_a_map_is_computed_once(maps: Path) -> None:
    """The same question in another run is answered from what was kept, bit for bit."""
    from colophony.app.kept_maps import KeptMaps

    string = find_string("violin", "1/2", "A")
    asked: list[int] = []

    def count(done: int, expected: int) -> None:
        asked.append(done)

    first = ask_ranges(KeptMaps(maps))(string, 440.0, 0.0)
    again = ask_ranges(KeptMaps(maps), progress=count)(string, 440.0, 0.0)
    assert asked == []
    for one, other in zip(first.maps, again.maps, strict=True):
        assert one.weight_max_n.tobytes() == other.weight_max_n.tobytes()


# --- listen --exercise


@pytest.fixture
def bows(ears: Any) -> None:
    """The ears hear ten bows of an open A, of which nine are clean."""
    strokes = [make_stroke(3.0 * k, 3.0 * k + 2.0) for k in range(9)]
    strokes.append(make_take().strokes[1])
    take = make_take(*strokes)

    def answer(path: Path) -> Any:
        findings = filed_findings(path.name)
        return type(findings)(take, ((),) * 10, findings.summary)

    ears.answer = answer


def test_a_take_is_told_whether_it_passes(run: Run, bows: None, tmp_path: Path) -> None:
    """Count and reasons on standard output; in JSON as the schema has it."""
    take = tmp_path / "week1.m4a"
    take.write_bytes(b"sound")
    status, out, _ = run("listen", take, "--instrument", "violin", "--exercise", "hold-point-short")
    assert status == 0
    assert "Passed. 9 of 10 bows succeeded" in out
    assert "Bow 10:" in out
    told = json.loads(run("listen", take, "--exercise", "hold-point-short", "--json")[1])
    valid(told, LISTEN)
    assert (told["exercise"]["outcome"], told["exercise"]["passed"]) == ("passed", 9)


def test_what_was_passed_is_kept_with_the_take(with_nele: Run, bows: None, tmp_path: Path) -> None:
    """With consent, once for a take; without consent nothing is kept, and the take is told all the same."""
    take = tmp_path / "week1.m4a"
    take.write_bytes(b"sound")
    asked = ("listen", take, "--student", "nele", "--exercise", "hold-point-short")
    assert "9 of 10" in with_nele(*asked)[1]
    give_consent(with_nele)
    for _ in range(2):
        assert with_nele(*asked)[0] == 0
    with Studio.open(tmp_path / "studio") as studio:
        (result,) = studio.passes(studio.find_student("Nele").id)
    assert (result.exercise, result.passed, result.passed_strokes) == ("hold-point-short", True, 9)


def test_an_unknown_exercise_is_named_before_anything_is_heard(run: Run, ears: Any, tmp_path: Path) -> None:
    """With the nearest keys; the take is not heard in vain."""
    status, out, err = run("listen", tmp_path / "week1.m4a", "--exercise", "hold-point-shrt")
    assert (status, out) == (1, "")
    assert "hold-point-short" in err
    assert ears.requests == []
