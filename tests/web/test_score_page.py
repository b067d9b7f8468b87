"""The page Score: a piece is sent, planned, changed, heard and taken home; nothing of it is kept."""

from __future__ import annotations

import io
import re
import tempfile
import zipfile
from html import unescape
from pathlib import Path
from xml.etree import ElementTree as ET

import httpx
import numpy as np
import pytest
import soundfile
from serving import STUDENT, Site

from colophony.app.score.opening import read_score
from colophony.app.web import score
from colophony.app.web.loaded_scores import COUNT_LIMIT, FORGET_AFTER_S, LoadedScores

pytest.importorskip("verovio")
pytest.importorskip("music21")

EVENING = (Path(__file__).parents[2] / "src/colophony/app/score/evening.musicxml").read_bytes()


def send(site: Site, content: bytes, name: str = "evening.musicxml", **fields: str) -> httpx.Response:
    return site.client.post("/score", files={"score": (name, content)}, data=fields)


def text_of(page: httpx.Response) -> str:
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", page.text)).split())


def link(page: httpx.Response, words: str) -> str:
    """The address of the link that begins with some words."""
    found = re.search(rf'<a (?:class="[^"]*" )?href="([^"]*)"[^>]*>\s*{words}', page.text)
    assert found, words
    return unescape(found[1])


@pytest.fixture(scope="module")
def planned(site: Site) -> httpx.Response:
    return send(site, EVENING)


def test_a_sent_piece_is_shown_with_its_plan(planned: httpx.Response) -> None:
    assert planned.status_code == 200
    text = text_of(planned)
    assert "Evening on the Hill" in text
    assert "In 1 of 20 strokes the bow runs out." in text
    assert "Measure 9, beat 1: hair runs out" in text
    assert planned.text.count("score-line") >= 4
    assert 'aria-current="page">Score' in planned.text


def test_the_form_allows_what_a_plan_allows(planned: httpx.Response, site: Site) -> None:
    """At the ends of what its fields accept the plan is made; the next whole number beyond is refused."""
    address = planned.url.path
    for name in ("tempo", "bow_mm"):
        field = re.search(rf'<input[^>]*name="{name}"[^>]*>', planned.text)
        assert field is not None
        ends = [int(re.findall(rf' {end}="(\d+)"', field[0])[0]) for end in ("min", "max")]
        for value, status in zip((ends[0] - 1, *ends, ends[1] + 1), (400, 200, 200, 400), strict=True):
            assert site.client.get(address, params={name: value}).status_code == status, (name, value)


def test_weights_come_with_a_word_about_pain_and_about_the_teacher(planned: httpx.Response) -> None:
    """The plan says how heavily to bow; it goes on paper too, and so do the caution and who decides."""
    (legend,) = re.findall(r"<figcaption.*?</figcaption>", planned.text)
    assert "Stop on pain" in legend
    assert "the teacher decides" in legend


def test_the_example_is_one_press_away(site: Site) -> None:
    page = site.client.post("/score/example")
    assert "Evening on the Hill" in text_of(page)


def test_a_split_slur_is_planned_again_and_taken_back(site: Site, planned: httpx.Response) -> None:
    cured = site.client.get(link(planned, "Do that"))
    assert "The bow reaches: 21 strokes" in text_of(cured)
    assert "Measure 11: the slur is split." in text_of(cured)
    back = site.client.get(link(cured, "Take it back"))
    assert "In 1 of 20 strokes the bow runs out." in text_of(back)


def test_a_smaller_bow_and_another_tempo_change_the_plan(site: Site, planned: httpx.Response) -> None:
    small = site.client.get(planned.url.path, params={"instrument": "violin", "size": "1/2"})
    assert "530 mm of hair" in text_of(small)
    quick = site.client.get(planned.url.path, params={"tempo": "140", "bow_mm": "700"})
    assert "140 quarter notes a minute" in text_of(quick)
    assert "The bow reaches" in text_of(quick)


def test_a_students_instrument_counts_and_their_words(site: Site, planned: httpx.Response) -> None:
    student = site.add_student(size="1/4", reader="child")
    page = site.client.get(planned.url.path, params={"student": str(student)})
    assert "470 mm of hair" in text_of(page)
    assert "the bow is too short for this" in text_of(page)
    grown = STUDENT | {"name": f"Grown {student}", "size": "1/2"}
    site.client.post(f"/students/{student}", data=grown)
    page = site.client.get(planned.url.path, params={"student": str(student)})
    assert "530 mm of hair" in text_of(page)


@pytest.mark.parametrize(
    ("query", "line"),
    [
        ({"tempo": "fast"}, "'fast' is no number for the tempo"),
        ({"tempo": "9000"}, "a tempo of 9000 is out of range"),
        ({"bow_mm": "3"}, "a bow of 3 mm of hair is out of range"),
        ({"part": "9"}, "there is no part '9'"),
        ({"instrument": "kazoo"}, "kazoo"),
        ({"student": "x"}, "no such student"),
        ({"change": "burn:everything"}, "not known"),
        ({"change": "split:p9m9n9"}, "not in this score"),
        ({"part": "x" * 500}, "too long"),
    ],
)
def test_what_cannot_be_planned_is_one_line_and_the_piece_stays(
    site: Site, planned: httpx.Response, query: dict[str, str], line: str
) -> None:
    page = site.client.get(planned.url.path, params=query)
    assert page.status_code == 400
    assert line in text_of(page)
    assert "score-line" in page.text


def zipped(name: str, content: bytes) -> bytes:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, content)
    return target.getvalue()


@pytest.mark.parametrize(
    ("content", "line"),
    [
        (b"", "empty"),
        (b"Dear teacher, here is my piece.", "no score that can be read"),
        (b"\x89PNG\r\n\x1a\n" + bytes(64), "no score that can be read"),
        (b"<html><body>score</body></html>", "no MusicXML score"),
        (EVENING[:3000], "no score that can be read"),
        (zipped("a.txt", b"x"), "without a score"),
        (zipped("a.musicxml", EVENING)[:-40], "damaged"),
        (
            b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "b">]><score-partwise>&b;</score-partwise>',
            "entities",
        ),
        (b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60", ""),
    ],
)
def test_a_file_that_is_no_score_is_refused_in_one_line(site: Site, content: bytes, line: str) -> None:
    page = send(site, content, "my piece.musicxml")
    assert page.status_code == 400
    assert line in text_of(page)
    assert page.text.count('role="alert"') == 1
    assert 'type="file"' in page.text  # and another can be sent at once


def test_a_form_without_a_file_or_with_one_too_large_is_refused(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    none = site.client.post("/score", files={"score": ("", b"")})
    assert none.status_code == 400
    other = site.client.post("/score", data={"size": "4/4"})
    assert other.status_code == 400
    assert "choose a file" in text_of(other)
    monkeypatch.setattr(score, "MOST_BYTES", 2**20)
    large = send(site, bytes(1_900_000), "noise.mid")
    assert large.status_code == 400
    assert "larger than 1 MB" in text_of(large)


def test_a_large_score_is_written_nowhere_on_its_way_in(
    site: Site, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The page promises it, for a score of a megabyte and more too: here a temporary file can't be made."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "nowhere"))
    before = site.files()
    padded = EVENING.replace(b"<work>", b"<!--" + b"x" * 1_500_000 + b"--><work>", 1)
    assert "Evening on the Hill" in text_of(send(site, padded))
    assert site.files() == before


def test_what_a_file_says_is_never_shown_as_markup(site: Site) -> None:
    evil = EVENING.replace(b"Evening on the Hill", b"&lt;script&gt;x&lt;/script&gt;")
    evil = evil.replace(b">Violin<", b">&lt;img src=x&gt;<").replace(b">Calm<", b">&lt;b&gt;Calm&lt;/b&gt;<")
    page = send(site, evil, "<script>y</script>.musicxml")
    assert page.status_code == 200
    for markup in ("<script>x", "<img src=x", "<b>Calm", "<script>y"):
        assert markup not in page.text
    svg = site.client.get(f"{page.url.path}/picture.svg").text
    ET.fromstring(svg)
    assert "<script" not in svg


def test_another_site_may_not_send(site: Site) -> None:
    """Fetch Metadata (W3C): a form of another site says so, and is refused."""
    page = site.client.post(
        "/score", files={"score": ("e.musicxml", EVENING)}, headers={"Sec-Fetch-Site": "cross-site"}
    )
    assert page.status_code == 403


def test_score_and_picture_are_taken_home(site: Site, planned: httpx.Response) -> None:
    written = site.client.get(f"{planned.url.path}/annotated.musicxml")
    assert written.headers["content-disposition"] == 'attachment; filename="evening-bowed.musicxml"'
    assert written.headers["content-type"].startswith("application/vnd.recordare.musicxml+xml")
    assert read_score(written.content, name="again.musicxml").title == "Evening on the Hill"
    drawn = site.client.get(f"{planned.url.path}/picture.svg")
    assert drawn.headers["content-type"].startswith("image/svg+xml")
    ET.fromstring(drawn.text)


def test_strokes_and_stretches_are_heard_and_those_that_are_not_there_are_said(
    site: Site, planned: httpx.Response
) -> None:
    address = planned.url.path
    for name in ("stroke-1.wav", "block-0.wav"):
        sound, rate = soundfile.read(io.BytesIO(site.client.get(f"{address}/{name}").content))
        assert rate == 48_000
        assert 0.02 < np.abs(sound).max() <= 0.36
    answer = site.client.get(f"{address}/stroke-8.json").json()["html"]
    assert "The simulated string answers:" in answer
    assert 'class="state state-helmholtz"' in answer
    assert site.client.get(f"{address}/stroke-4.json").json() == {"html": ""}  # a slur
    assert "no stroke 99" in site.client.get(f"{address}/stroke-99.wav").text
    assert site.client.get(f"{address}/stroke-0.wav").status_code == 400
    assert site.client.get(f"{address}/block-99.wav").status_code == 404


def test_nothing_is_written_and_a_forgotten_score_is_gone(site: Site) -> None:
    before = site.files()
    page = send(site, EVENING)
    assert site.files() == before
    gone = site.client.post(f"{page.url.path}/forget")
    assert "The score is forgotten." in text_of(gone)
    for name in ("", "/annotated.musicxml", "/picture.svg", "/stroke-1.wav"):
        answer = site.client.get(page.url.path + name)
        assert answer.status_code == 404
        assert "send it again" in answer.text


def test_scores_are_few_and_forgotten_after_an_hour() -> None:
    now = 0.0
    scores = LoadedScores(lambda: now)
    piece = read_score(EVENING, name="e.musicxml")
    first = scores.add(piece, name="first")
    for k in range(COUNT_LIMIT):
        latest = scores.add(piece, name=str(k))
    assert scores.find(first.key) is None
    now = FORGET_AFTER_S - 1
    assert scores.find(latest.key) is latest  # looked at: the hour begins anew
    now = 2 * FORGET_AFTER_S - 2
    assert scores.find(latest.key) is latest
    now = 3 * FORGET_AFTER_S
    assert scores.find(latest.key) is None
