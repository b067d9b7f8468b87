"""Every page says all it says through the catalogue.

A language that only tests speak brackets each message; what stands outside of the brackets is names,
numbers, units and notes, or a fault.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from serving import Site, served

from colophony.app.web.listener import ListeningError
from colophony.app.web.queue import HearingQueue
from colophony.language import LANGUAGES
from colophony.records.domain import Student
from colophony.teaching.advice import judge
from colophony.teaching.findings import Findings
from factories import make_stroke, make_take
from pseudo import outside, spoken_pseudo
from shown import NAME, every_state, left_over, texts_of

TODAY = date(2026, 3, 2)
NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
_APP = Path(__file__).parents[2] / "src/colophony/app"
_TEMPLATES = _APP / "web/templates"


class _Ears:
    """Stands in for `colophony.app.web.listener.Listener`: it waits, then could not hear."""

    def __init__(self) -> None:
        self.waits = threading.Event()

    def hear(self, *_: Any, **__: Any) -> Findings:
        self.waits.wait(10)
        raise ListeningError("⟦⟧")

    def start(self) -> None: ...

    def stop(self) -> None: ...


class Pages:
    """A studio whose pages speak the language of tests, and the templates that were shown."""

    def __init__(self, site: Site) -> None:
        self.client, self.desk = site.client, site.desk
        self.client.timeout = 120
        self.ears = _Ears()
        self.desk.queue = HearingQueue(self.ears)
        self.shown: set[str] = set()
        inner = self.desk.templates.get_template

        def get_template(name: Any, *more: Any, **others: Any) -> Any:
            self.shown.add(str(name))
            return inner(name, *more, **others)

        self.desk.templates.get_template = get_template

    def faults(self, path: str, **data: str) -> list[str]:
        """Return what a page says outside the catalogue; with data it is sent as a form."""
        answer = self.client.post(path, data=data) if data else self.client.get(path)
        assert answer.status_code < 500, answer.text
        return left_over(texts_of(answer.text))

    def add(self, name: str, *, minor: bool = True, consent: bool = False, sound: bool = True) -> Student:
        studio = self.desk.studio
        student = studio.add_student(name, instrument="violin", size="1/2", minor=minor, reader="teacher")
        if consent:
            studio.record_consent(
                student.id, given_by="Eva", relation="mother", on=TODAY, keep_sound=sound, note="Eva"
            )
        return student

    def file(self, student: Student, findings: Findings, folder: Path, *, purpose: Any = "practice") -> int:
        """Keep a take and its findings; return its number."""
        recording = folder / "lesson.m4a"
        recording.write_bytes(f"{student.id}{purpose}{len(findings.advice)}".encode() * 500)
        take = self.desk.studio.receive_take(
            student.id, recording, taken_at=NOON, purpose=purpose, original_name="lesson.m4a"
        )
        self.desk.studio.file_findings(take.id, findings)
        return int(take.id)


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Pages]:
    with spoken_pseudo(), served(tmp_path_factory.mktemp("spoken") / "studio") as running:
        yield Pages(running)


def test_the_pages_of_the_lesson_are_said_through_the_catalogue(pages: Pages, tmp_path: Path) -> None:
    """With and without consent, with takes of all kinds, after mistakes and after changes."""
    faults = pages.faults("/lesson") + pages.faults("/studio")
    stranger, adult = pages.add(NAME), pages.add(f"{NAME} Eva", minor=False)
    heard, unheard = pages.add(f"{NAME} {NAME}", consent=True), pages.add("Eva", consent=True, sound=False)
    take = pages.file(heard, every_state(), tmp_path)
    reference = pages.file(heard, judge(make_take(make_stroke(note="G3"))), tmp_path, purpose="reference")
    faults += pages.faults(f"/takes/{reference}")
    pages.desk.studio.accept_reference(reference, True)
    pending = tmp_path / "waiting.wav"
    pending.write_bytes(b"waiting" * 1000)
    pages.desk.studio.receive_take(heard.id, pending, taken_at=NOON, original_name="lesson.wav")
    for student in (stranger, adult, heard, unheard):
        for path in ("/lesson/{}", "/lesson/{}/consent", "/lesson/{}/reference", "/lesson/{}/reference/G3"):
            faults += pages.faults(path.format(student.id))
        faults += pages.faults(f"/students/{student.id}") + pages.faults(f"/students/{student.id}/erase")
    for number in (take, reference):
        faults += pages.faults(f"/takes/{number}") + pages.faults(f"/takes/{number}/erase")
    faults += pages.faults(f"/lesson/{heard.id}/consent/withdraw", nothing="")
    faults += pages.faults("/lesson") + pages.faults("/studio") + pages.faults("/look")
    assert faults == [], "\n".join(faults)


def test_what_went_wrong_is_said_through_the_catalogue(pages: Pages) -> None:
    """One line for each mistake in a form, for what is not there, and after every change."""
    from colophony.app.web.desk import DONE

    student = pages.add("Eva Quillfeather", consent=True).id
    form = {"name": NAME, "instrument": "violin", "size": "1/2", "age": "child", "reader": "child"}
    faults = [fault for done in DONE for fault in pages.faults(f"/studio?done={done}")]
    for wrong in ({"name": ""}, {"name": "x" * 99}, *({field: "?"} for field in list(form)[1:])):
        faults += pages.faults("/students", **form | wrong)
    consent = {"given_by": "Eva", "relation": "mother", "on": "2025-03-14", "keep": "sound", "agreed": "yes"}
    for field in consent:
        faults += pages.faults(f"/lesson/{student}/consent", **consent | {field: ""})
    faults += pages.faults(f"/lesson/{student}/consent", **consent | {"on": "2999-01-01"})
    for path in ("/nothing", "/takes/999", "/takes/x", "/lesson/999", "/hearing/x", "/takes/x/recording"):
        faults += pages.faults(path)
    faults += pages.faults("/takes/x/forget", nothing="") + pages.faults("/takes/x/hear-again", nothing="")
    assert faults == [], "\n".join(faults)


def test_a_hearing_is_said_through_the_catalogue(pages: Pages) -> None:
    """While it waits, while it is heard, and where it failed; kept and unkept."""
    faults = []
    for student in (pages.add("Eva Eva"), pages.add("Eva Eva Eva", consent=True)):
        pages.ears.waits.clear()
        sent = [
            pages.client.post(
                f"/lesson/{student.id}/takes", files={"recording": ("lesson.wav", bytes(1000 + k))}
            )
            for k in range(2)
        ]
        faults += [fault for one in sent for fault in left_over(texts_of(one.text))]
        pages.ears.waits.set()
        for hearing in list(pages.desk.queue._known.values()):
            pages.desk.queue.wait(hearing, 10)
            faults += pages.faults(f"/hearing/{hearing.key}")
    assert faults == [], "\n".join(faults)


def test_the_bench_is_said_through_the_catalogue(pages: Pages) -> None:
    """A clear tone, one with a cure and a stroke kept beside it, and values out of reach."""
    faults = pages.faults("/bench")
    kept = "kept_instrument=violin&kept_string=D&kept_distance_mm=27.5&kept_speed_cm_s=20&kept_weight_n=0.8"
    faults += pages.faults(f"/bench?string=D&distance_mm=14&speed_cm_s=20&weight_n=0.35&tilt_deg=20&{kept}")
    for wrong in ("weight_n=99", "speed_cm_s=fast", "note=C9", "instrument=horn", "size=9", "string=X"):
        faults += pages.faults(f"/bench?{wrong}")
    assert faults == [], "\n".join(faults)


def test_every_template_of_these_pages_was_looked_at(pages: Pages) -> None:
    """The tests above leave out no page of lesson, take, consent, studio and bench."""
    others = ("exercise", "practice", "progress", "score", "talk", "week")
    named = {path.name for path in _TEMPLATES.glob("*.j2") if not path.name.startswith(("_", *others))}
    assert named - {"page.html.j2"} <= pages.shown


def test_what_a_browser_or_the_foot_asks_for_is_spoken(tmp_path: Path) -> None:
    """Accept-Language (RFC 9110, 12.5.4) until the foot of a page chooses; then what was chosen there."""
    with served(tmp_path / "studio") as running:
        client = running.client
        client.headers["Accept-Language"] = "de-AT,de;q=0.9,en;q=0.5"
        assert '<html lang="de"' in client.get("/lesson").text
        answer = client.post("/language", data={"language": "en", "back": "/studio"})
        assert answer.url.path == "/studio"
        assert '<html lang="en"' in answer.text
        assert '<html lang="de"' in client.post("/language", data={"language": "de", "back": "/look"}).text
        away = client.post(
            "/language", data={"language": "xx", "back": "//example.org/"}, follow_redirects=False
        )
        assert away.headers["location"] == "/"
        assert "set-cookie" not in away.headers


def test_each_language_names_itself_in_the_foot(pages: Pages) -> None:
    """A reader finds the own language whatever is spoken."""
    text = outside(pages.client.get("/lesson").text)
    assert all(f'value="{name}" lang="{name}"' in text and own in text for name, own in LANGUAGES.items())


def test_the_scripts_of_the_pages_hold_no_sentences() -> None:
    """What a script says stands in its page: its own texts are never two words side by side."""
    scripts = [*_APP.glob("web/static/*.js"), *_APP.glob("report/*.js"), *_APP.glob("talk/*.js")]
    assert len(scripts) > 10
    found = []
    for script in scripts:
        code = re.sub(r"(?:(?<=\s)|^)//[^\n]*|/\*.*?\*/", "", script.read_text("utf-8"), flags=re.DOTALL)
        code = re.sub(r'(className = |class: |matchMedia\()"[^"]*"', "", code)
        for text in re.findall(r'"(?:[^"\\\n]|\\.)*"|`(?:[^`\\]|\\.)*`', code):
            spoken = re.sub(r"use strict|\$\{[^}]*\}|<[^>]*>|\[[^\]]*\]", "", text)
            if re.search(r"[A-Za-z]{2,}[,.;:]? [a-z]{2,}", spoken):
                found.append((script.name, text))
    assert found == [], found
