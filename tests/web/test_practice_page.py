"""Page Practice: a week is planned, goes home on paper, and a take tells what came of an exercise."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import date

import pypdf
import pytest
from fake_ears import SOUND
from serving import Site

from browser import OpenPage, axe_violations, overflow_px
from colophony.app.paper.strip_beats import BeatStrip, find_beats
from colophony.app.paper.strip_points import PointStrip
from colophony.errors import StudioError
from colophony.teaching.exercises.ranges import published_ranges
from colophony.teaching.plans import Plan, plan_from_plain
from studio_samples import add_consented, keep_weeks


@pytest.fixture(scope="module", autouse=True)
def published() -> Iterator[None]:
    """Targets from the published limits: what the page does with a plan is the same, and the engine rests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("colophony.app.web.practice.ask_ranges", lambda *_args, **_more: published_ranges)
        yield


@pytest.fixture(scope="module")
def planned(site: Site, tmp_path_factory: pytest.TempPathFactory) -> int:
    student = add_consented(site.desk.studio, "Ida Winterstein")
    keep_weeks(site.desk.studio, student, (0.3, 0.4, 0.5), tmp_path_factory.mktemp("takes"))
    answer = site.client.post(f"/practice/{student.id}/plan", data={"age_group": "child", "minutes": "15"})
    assert answer.url.query == b"done=plan"
    return student.id


def test_a_plan_is_made_kept_and_shown(site: Site, planned: int) -> None:
    kept = site.desk.studio.latest_plan(planned)
    assert kept is not None
    plan = plan_from_plain(kept.content)
    assert (plan.instrument, plan.size, plan.age_group) == ("violin", "1/2", "child")
    page = site.client.get(f"/practice/{planned}").text
    for item in plan.items:
        assert f'id="{item.exercise.key}"' in page
    assert page.count('class="exercise"') == len(plan.items)
    assert f"from {date.fromordinal(plan.first_day).day} " in page


def test_the_sheet_goes_home_as_asked(site: Site, planned: int) -> None:
    answer = site.client.get(f"/practice/{planned}/sheet.pdf?paper=us-letter&large_print=yes")
    assert answer.headers["content-type"] == "application/pdf"
    pdf = pypdf.PdfReader(io.BytesIO(answer.content))
    assert [float(side) for side in pdf.pages[0].mediabox[2:]] == [612, 792]
    assert "Ida Winterstein" in pdf.pages[0].extract_text()
    assert site.client.get(f"/practice/{planned}/sheet.pdf?paper=a3").status_code == 400


def test_strips_and_sound_go_home_too(site: Site, planned: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Strips and tones have tests of their own; here the plan's are asked for and answered."""
    asked: list[object] = []

    def strips(plan: Plan, *, kept: object) -> tuple[list[PointStrip], list[BeatStrip]]:
        asked.append(plan)
        return [], [find_beats(plan.instrument, plan.size)]

    def page(plan: Plan, *, student: str, reader: str) -> str:
        asked.append(plan)
        return f"<title>{student}, {reader}</title>"

    monkeypatch.setattr("colophony.app.web.practice_papers.strips_of_plan", strips)
    monkeypatch.setattr("colophony.app.web.practice_papers.make_week_page", page)
    pdf = site.client.get(f"/practice/{planned}/strips.pdf").content
    assert "100" in pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    assert site.client.get(f"/practice/{planned}/week.html").text == "<title>Ida Winterstein, child</title>"
    assert asked[0] == asked[1]


def test_minutes_that_are_none_come_back_with_one_line(site: Site, planned: int) -> None:
    for minutes in ("many", "9999"):
        answer = site.client.post(f"/practice/{planned}/plan", data={"minutes": minutes})
        assert answer.status_code == 400
        assert f'value="{minutes}"' in answer.text


def test_without_consent_a_plan_is_shown_and_never_written(site: Site) -> None:
    student = site.add_student()
    assert site.client.get(f"/practice/{student}/sheet.pdf").status_code == 404
    page = site.client.post(f"/practice/{student}/plan", data={}).text
    assert "it is forgotten when the studio is closed" in page
    assert site.desk.studio.plans(student) == []
    assert site.client.get(f"/practice/{student}/sheet.pdf").status_code == 200


def test_an_exercise_passed_by_ear_is_kept(site: Site, planned: int) -> None:
    site.client.post(f"/practice/{planned}/passed", data={"exercise": "wander-little"})
    assert "wander-little" in site.desk.studio.passed_when(planned)
    assert site.client.post(f"/practice/{planned}/passed", data={"exercise": "x"}).status_code == 400


def test_a_take_is_checked_as_an_exercise_and_the_result_kept(site: Site) -> None:
    """The ears of these tests hear two strokes: too few for any rule of ten, so nothing can be said."""
    student = site.add_student(instrument="violin", size="4/4")
    site.consent(student)
    take = site.hear(student, SOUND + b"exercise").url.path
    page = site.client.get(f"{take}/exercise?exercise=hold-point-short")
    assert page.status_code == 200
    assert "Open A string." in page.text, "whoever played something else sees what was asked"
    kept = site.client.post(f"{take}/exercise", data={"exercise": "hold-point-short"})
    assert kept.url.path == f"/practice/{student}"
    (result,) = site.desk.studio.passes(student)
    assert (result.exercise, result.passed) == ("hold-point-short", False)
    assert site.client.get(f"{take}/exercise?exercise=nothing").status_code == 400


def test_an_exercise_is_recorded_and_its_answer_shown(site: Site, planned: int) -> None:
    """From the exercise to its form, from the hearing to what came of it: no page has to be looked for."""
    assert f'href="/lesson/{planned}?exercise=' in site.client.get(f"/practice/{planned}").text
    form = site.client.get(f"/lesson/{planned}?exercise=wander-little").text
    assert '<option value="wander-little" selected>' in form
    answer = site.hear(planned, SOUND + b"recorded", exercise="wander-little")
    assert answer.url.path.endswith("/exercise")
    assert answer.url.query == b"exercise=wander-little"
    assert "Keep this result" in answer.text
    refused = site.send(planned, SOUND + b"other", exercise="no-such-exercise")
    assert refused.status_code == 400
    assert "no-such-exercise" in refused.text
    assert site.desk.studio.pending() == []


def test_a_take_that_is_not_kept_is_checked_and_leaves_nothing(site: Site) -> None:
    student = site.add_student()
    take = site.hear(student, SOUND + b"passing").url.path
    assert "only shown" in site.client.get(f"{take}/exercise?exercise=hold-point-short").text
    assert site.client.post(f"{take}/exercise", data={"exercise": "hold-point-short"}).status_code == 400
    assert site.desk.studio.passes(student) == []


def test_the_plan_of_somebody_erased_is_forgotten_also_where_it_was_never_kept(site: Site) -> None:
    student = site.desk.studio.student(site.add_student())
    site.client.post(f"/practice/{student.id}/plan", data={"minutes": "15"})
    assert site.plans.find(site.desk, student) is not None
    assert site.desk.studio.latest_plan(student.id) is None
    site.client.post(f"/students/{student.id}/erase")
    with pytest.raises(StudioError, match="no student"):
        site.plans.find(site.desk, student)


def test_a_plan_made_after_a_withdrawal_is_shown_and_told_from_the_kept_one(site: Site) -> None:
    """What was kept stays until it is erased; the later plan is shown, and said not to be kept."""
    student = add_consented(site.desk.studio, "Kai Sommerfeld").id
    site.client.post(f"/practice/{student}/plan", data={"minutes": "15"})
    site.client.post(f"/lesson/{student}/consent/withdraw")
    before = site.client.get(f"/practice/{student}").text
    assert "15 minutes a day" in before
    assert "not kept" not in before
    after = site.client.post(f"/practice/{student}/plan", data={"minutes": "25"}).text
    assert "25 minutes a day" in after
    assert "not kept" in after
    assert len(site.desk.studio.plans(student)) == 1


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_serves_everybody_on_a_phone(
    site: Site, planned: int, open_page: OpenPage, scheme: str
) -> None:
    """WCAG 2.2 as far as axe tells; nothing wider than a small phone (320 px, success criterion 1.4.10)."""
    for address in (f"/practice/{planned}", "/practice", "/practice/exercises", "/practice/exercises/new"):
        page = open_page(site.address + address, width=320, scheme=scheme)
        assert axe_violations(page) == []
        assert overflow_px(page) <= 0
        assert page.complaints == []
