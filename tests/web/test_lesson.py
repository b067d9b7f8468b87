"""The lesson: what is sent is heard, shown, and kept only where it may be."""

from __future__ import annotations

import io
import re
import time
import zipfile
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path

import fake_ears
import pypdf
import pytest
from fake_ears import SOUND
from serving import CONSENT, STUDENT, Site, served

from colophony.app.lesson import with_direction
from colophony.app.web import unkept as unkept_module
from colophony.app.web.unkept import FORGET_AFTER_S, WAIT_S, UnkeptTakes
from colophony.errors import InputError
from colophony.records.domain import Student
from colophony.teaching.findings import Findings
from factories import make_stroke, make_take

# Consent


def test_without_consent_a_childs_take_is_shown_and_nothing_remains(site: Site) -> None:
    student = site.add_student()
    page = site.hear(student, SOUND + b"unkept one")
    assert "This take is not kept." in page.text
    assert site.client.get(f"{page.url.path}/recording").content == SOUND + b"unkept one"
    assert pypdf.PdfReader(io.BytesIO(site.client.get(f"{page.url.path}/sheet.pdf").content)).pages
    assert "<!doctype html>" in site.client.get(f"{page.url.path}/findings.html").text.lower()
    assert site.files() == set()
    assert "None yet" in site.client.get(f"/lesson/{student}").text
    assert b"unkept one" not in b"".join(
        path.read_bytes() for path in site.folder.rglob("*") if path.is_file()
    )
    site.client.post(f"{page.url.path}/forget")
    assert site.client.get(page.url.path).status_code == 404


def test_with_consent_a_childs_take_is_kept(site: Site) -> None:
    student = site.add_student()
    site.consent(student)
    page = site.hear(student, SOUND + b"kept one")
    assert re.fullmatch(r"/takes/\d+", page.url.path)
    assert "is not kept" not in page.text
    assert len(site.files()) == 1
    assert page.url.path in site.client.get(f"/lesson/{student}").text
    site.client.post(f"{page.url.path}/erase")
    assert site.files() == set()


def test_consent_to_findings_keeps_no_sound(site: Site) -> None:
    student = site.add_student()
    site.consent(student, keep="findings")
    page = site.hear(student, SOUND + b"findings only")
    assert re.fullmatch(r"/takes/\d+", page.url.path)
    assert "The sound of this take is not kept." in page.text
    assert site.client.get(f"{page.url.path}/recording").status_code == 404
    assert site.files() == set()


def test_withdrawn_consent_ends_the_keeping(site: Site) -> None:
    student = site.add_student()
    site.consent(student)
    site.hear(student, SOUND + b"to be withdrawn")
    site.client.post(f"/lesson/{student}/consent/withdraw")
    assert site.files() == set()
    assert "This take is not kept." in site.hear(student).text


@pytest.mark.parametrize(
    ("change", "line"),
    [
        ({"given_by": " "}, "Write who agrees."),
        ({"relation": ""}, "Write what this person is"),
        ({"on": "14.3.2025"}, "year-month-day"),
        ({"on": "2999-01-01"}, "still to come"),
        ({"agreed": ""}, "Tick the box"),
        ({"keep": "all"}, "Choose what may be kept."),
        ({"note": "x" * 301}, "limit is 300"),
    ],
)
def test_a_consent_with_something_missing_is_not_recorded(
    site: Site, change: dict[str, str], line: str
) -> None:
    student = site.add_student()
    answer = site.client.post(f"/lesson/{student}/consent", data=CONSENT | change)
    assert answer.status_code == 400
    assert line in answer.text
    if "given_by" not in change:
        assert 'value="Anna Weber"' in answer.text
    assert not site.desk.studio.may_keep(student)


# Students


@pytest.mark.parametrize(
    ("change", "line"),
    [
        ({"name": "\u0007 "}, "Write a name."),
        ({"name": "x" * 81}, "limit is 80"),
        ({"instrument": "kazoo"}, "Choose an instrument."),
        ({"instrument": "viola", "size": "1/16"}, "no viola size"),
        ({"age": "?"}, "Choose how old the student is."),
        ({"reader": "dog"}, "Choose whose words to use."),
    ],
)
def test_a_wrong_student_gets_one_line_and_the_form_again(
    site: Site, change: dict[str, str], line: str
) -> None:
    answer = site.client.post("/students", data=STUDENT | {"name": "Wrong"} | change)
    assert answer.status_code == 400
    assert answer.text.count('role="alert"') == 1
    assert line in answer.text
    assert 'id="reader-child" name="reader" value="child" checked' in answer.text or "reader" in change


def test_markup_in_a_name_is_text(site: Site) -> None:
    student = site.add_student(name="<b onclick=x>Mia</b>")
    page = site.client.get(f"/lesson/{student}").text
    assert "<b onclick" not in page
    assert "&lt;b onclick=x&gt;Mia" in page


# Hearing


def test_a_file_without_sound_gets_one_line_and_the_form_with_what_was_said(site: Site) -> None:
    student = site.add_student()
    page = site.hear(student, b"a letter", name="letter.wav", string="D4")
    assert page.text.count('role="alert"') == 1 + 1  # the line, and the empty place of the form's own
    assert "letter.wav: this file holds no sound" in page.text, "named as it was sent, not as it is kept"
    assert '<option value="D4" selected>' in page.text


def test_a_take_lower_than_the_instrument_asks_whose_it_is(site: Site) -> None:
    """A cello's low C in the take of a violin: too low for any of its strings, groans apart."""
    student = site.add_student(instrument="violin", size="4/4")
    assert "is it the right student" in site.hear(student, SOUND + b"C2").text
    assert "is it the right student" not in site.hear(student, SOUND + b"G3").text


def test_a_kept_file_without_sound_is_named_as_it_was_sent(site: Site) -> None:
    page = site.hear(site.add_student(age="grown-up"), b"a letter", name="letter.wav")
    assert "letter.wav: this file holds no sound" in page.text


def test_a_recording_that_could_not_be_heard_is_not_lost(site: Site) -> None:
    student = site.add_student(age="grown-up")
    page = site.hear(student, b"crash" + SOUND, name="long.wav")
    assert "The listening stopped half way" in page.text
    ref = re.search(r"/takes/(\d+)/hear-again", page.text)
    assert ref is not None
    assert site.client.get(f"/takes/{ref[1]}/recording?save").content == b"crash" + SOUND
    assert "not heard yet" in site.client.get(f"/lesson/{student}").text
    assert f"/takes/{ref[1]}/hear-again" in site.client.get("/studio").text
    again = site.wait(site.client.post(f"/takes/{ref[1]}/hear-again"))
    assert "The listening stopped half way" in again.text


def test_after_a_crash_the_next_take_is_heard(site: Site) -> None:
    student = site.add_student()
    site.hear(student, b"crash")
    assert "scratchy" in site.hear(student).text


def test_an_unkept_take_that_failed_can_be_saved_and_heard_again(site: Site) -> None:
    student, before = site.add_student(), site.files()
    page = site.hear(student, b"crash unkept", name="x.wav")
    ref = re.search(r"/takes/(u-[\w-]+)/hear-again", page.text)
    assert ref is not None
    assert site.client.get(f"/takes/{ref[1]}/recording?save").content == b"crash unkept"
    site.client.post(f"/takes/{ref[1]}/forget")
    assert site.client.get(f"/takes/{ref[1]}/recording").status_code == 404
    assert site.files() == before


def test_one_take_is_heard_at_a_time_and_can_be_called_off(site: Site) -> None:
    student, before = site.add_student(), site.files()
    first = site.send(student, SOUND + b"slow")
    second = site.send(student, SOUND + b"second")
    assert "One take is heard before this one." in second.text
    started = time.monotonic()
    site.client.get("/lesson")
    assert time.monotonic() - started < 1, "the pages stay quick while a take is heard"
    state = site.client.get(f"{first.url.path}/state").json()
    assert state["stage"] in {"waiting", "hearing"}
    assert 0 <= state["share"] < 1
    after = site.client.post(f"{first.url.path}/call-off")
    assert after.url.path == f"/lesson/{student}"
    assert "called off" in after.text
    assert "scratchy" in site.wait(second).text
    assert site.files() == before


def test_a_waiting_take_can_be_called_off_before_its_turn(site: Site) -> None:
    student = site.add_student()
    first = site.send(student, SOUND + b"slow")
    second = site.send(student, SOUND + b"slow")
    assert "called off" in site.client.post(f"{second.url.path}/call-off").text
    site.client.post(f"{first.url.path}/call-off")


def test_an_unknown_hearing_is_said_to_be_over(site: Site) -> None:
    assert site.client.get("/hearing/none").status_code == 404
    assert site.client.get("/hearing/none/state", headers={"Accept": "application/json"}).json()["line"]


def test_the_page_without_script_refreshes_itself(site: Site) -> None:
    student = site.add_student()
    page = site.send(student, SOUND + b"slow")
    assert '<noscript><meta http-equiv="refresh"' in page.text
    site.client.post(f"{page.url.path}/call-off")


def test_a_student_erased_during_the_hearing_leaves_nothing(site: Site) -> None:
    student = site.add_student(age="grown-up")
    site.send(student, SOUND + b"slow, of somebody erased")
    site.client.post(f"/students/{student}/erase")
    assert site.client.get(f"/lesson/{student}").status_code == 404
    assert not any(b"of somebody erased" in (site.folder / file).read_bytes() for file in site.files())


# Forgetting


def test_an_unkept_take_is_forgotten_on_time(tmp_path: Path) -> None:
    """A quarter of an hour after it was heard, whether or not anybody looks."""
    now = 0.0
    takes = UnkeptTakes(clock=lambda: now)
    student = Student(1, "Mia", "violin", "1/2", ("G3",), True, "child")
    file = tmp_path / "a"
    file.write_bytes(b"sound")
    hold = ExitStack()
    hold.callback(file.unlink)
    take = takes.add(student, file, name="a.wav", taken_at=datetime.now(UTC), purpose="practice", hold=hold)
    now = WAIT_S - 1
    assert takes.find(take.key) is not None
    assert takes.heard(take.key, fake_ears.make_findings())
    assert not file.exists()
    now += FORGET_AFTER_S - 1
    assert takes.find(take.key) is not None
    now += 2
    assert takes.find(take.key) is None


def test_unkept_takes_are_few(site: Site) -> None:
    student = site.add_student()
    first = site.hear(student)
    for _ in range(unkept_module.COUNT_LIMIT):
        last = site.hear(student)
    assert site.client.get(first.url.path).status_code == 404
    assert last.status_code == 200


def test_a_stopped_studio_forgets(tmp_path: Path) -> None:
    with served(tmp_path / "studio") as first:
        page = first.hear(first.add_student())
        waiting = first.hear(1, b"crash")
        assert "could not be heard" in waiting.text
        assert first.files() != set()
    assert first.files() == set()
    with served(tmp_path / "studio") as second:
        assert second.client.get(page.url.path).status_code == 404


# Down and up


def test_naming_one_stroke_names_the_others_of_its_note() -> None:
    """Ways compare strokes of one note: the one and the other way alternate down and up."""
    a = [make_stroke(i, i + 0.9, note="A4", way="one" if i % 2 == 0 else "other") for i in range(4)]
    d = make_stroke(5, 6, note="D4", way="one")
    unknown = make_stroke(7, 8, note="A4", way=None)
    take = make_take(*a, d, unknown)
    findings = Findings(take, ((),) * 6, fake_ears.make_findings().summary)
    named = with_direction(findings, 1, "down").take.strokes
    assert [stroke.bow for stroke in named] == ["up", "down", "up", "down", None, None]
    with pytest.raises(InputError, match="has 6"):
        with_direction(findings, 6, "down")


def test_the_teacher_names_a_stroke_on_the_page_and_it_stays(site: Site) -> None:
    student = site.add_student(age="grown-up")
    page = site.hear(student, SOUND + b"directions")
    named = site.client.post(f"{page.url.path}/direction", data={"stroke": "0", "bow": "up"})
    assert "up-bow" in named.text
    assert "down-bow" in named.text
    assert "No, it was down" in site.client.get(page.url.path).text


@pytest.mark.parametrize(
    "fields", [{"stroke": "99", "bow": "up"}, {"stroke": "-1", "bow": "up"}, {"stroke": "0"}]
)
def test_a_wrong_direction_gets_one_line(site: Site, fields: dict[str, str]) -> None:
    page = site.hear(site.add_student())
    answer = site.client.post(f"{page.url.path}/direction", data=fields)
    assert answer.status_code == 400
    assert 'role="alert"' in answer.text


# The tone to compare with


def test_the_open_strings_are_accepted_one_after_the_other(site: Site) -> None:
    student = site.add_student(age="grown-up", size="4/4")
    reference = f"/lesson/{student}/reference"
    assert "Start with the open G" in site.client.get(reference).text
    for number, string in enumerate(("G3", "D4", "A4", "E5")):
        files = {"recording": ("g.wav", SOUND + string.encode() + str(student).encode())}
        page = site.wait(site.client.post(f"{reference}/{string}", files=files))
        assert f"Heard on the open {string[0]}." in page.text
        following = site.client.post(f"{page.url.path}/accept")
        assert "This is now the tone" in following.text
        assert following.url.path == reference if number == 3 else f"{reference}/"
    notes = {stroke.note for stroke in site.desk.studio.reference_strokes(student)}
    assert notes >= {"G3", "D4", "A4", "E5"}
    assert "The tone of all open strings is accepted." in site.client.get(f"/lesson/{student}").text


def test_a_reference_take_that_is_played_again_is_erased(site: Site) -> None:
    student = site.add_student(age="grown-up")
    files = {"recording": ("g.wav", SOUND + b"again G3")}
    page = site.wait(site.client.post(f"/lesson/{student}/reference/G3", files=files))
    back = site.client.post(f"{page.url.path}/repeat")
    assert back.url.path == f"/lesson/{student}/reference/G3"
    assert site.client.get(page.url.path).status_code == 404
    assert not site.desk.studio.reference_strokes(student)


def test_a_marked_place_is_recorded_with_the_strip_and_kept_with_its_take(site: Site) -> None:
    """The fake take has two strokes of 2 s on A4, one of them clean; 2 beats at 60 are a whole bow in 2 s."""
    student = site.add_student(age="grown-up", size="4/4")
    listed = site.client.get(f"/lesson/{student}/reference").text
    assert f"/lesson/{student}/reference/A4?point=3" in listed
    page = site.client.get(f"/lesson/{student}/reference/A4?point=3").text
    assert "Four whole bows on the open A, at sounding point 3" in page
    assert re.search(r"Sounding point 3 is \d\d mm from the bridge", page)
    assert '<label for="beats">' in page
    files = {"recording": ("g.wav", SOUND + b"marked A4")}
    fields = {"point": "3", "beats": "2", "tempo": "60"}
    heard = site.wait(site.client.post(f"/lesson/{student}/reference/A4?point=3", files=files, data=fields))
    assert "2 strokes on the open A4 were heard: play 4 whole bows" in heard.text
    assert "Nothing is lost" in heard.text
    [take] = site.desk.studio.takes(student)
    mark = site.desk.studio.mark(take.id)
    assert mark is not None
    assert (mark.string, mark.point, mark.seconds, mark.speed_cm_s) == ("A4", 3.0, 2.0, 32.5)
    after = site.client.post(f"{heard.url.path}/accept")
    assert len(site.desk.studio.marked_strokes(student)) == 1
    assert "reference/G3?point=3" in str(after.url)
    assert "open A4, sounding point 3" in site.client.get(f"/lesson/{student}").text
    practice = site.client.get(f"/lesson/{student}").text
    assert 'name="whole_bows"' in practice
    assert 'name="same_microphone"' in practice


@pytest.mark.parametrize(
    ("fields", "line"),
    [
        ({"point": "9"}, "sounding point 9 is out of range"),
        ({"point": "3", "beats": "four"}, "is no number"),
        ({"point": "3", "beats": "4", "tempo": "400"}, "one whole bow in 0.6 s"),
    ],
)
def test_a_place_that_cannot_be_gets_one_line(site: Site, fields: dict[str, str], line: str) -> None:
    student = site.add_student(age="grown-up", size="4/4")
    files = {"recording": ("g.wav", SOUND)}
    answer = site.client.post(f"/lesson/{student}/reference/G3", files=files, data=fields)
    assert answer.status_code == 400
    assert line in answer.text
    assert not site.desk.studio.takes(student)


def test_a_reference_take_waits_for_the_consent(site: Site) -> None:
    student = site.add_student()
    answer = site.client.post(f"/lesson/{student}/reference/G3", files={"recording": ("g.wav", SOUND)})
    assert answer.status_code == 400
    assert "no consent is recorded yet" in answer.text
    assert site.client.get(f"/lesson/{student}/reference/B9").status_code == 404


# The studio


def test_a_copy_of_everything_and_of_one_student_can_be_saved(site: Site) -> None:
    student = site.add_student(age="grown-up")
    site.hear(student, SOUND + b"to be copied")
    for path in ("/studio/backup", f"/students/{student}/export"):
        answer = site.client.post(path)
        assert answer.headers["content-type"] == "application/zip"
        assert "attachment" in answer.headers["content-disposition"]
        with zipfile.ZipFile(io.BytesIO(answer.content)) as packed:
            assert any(packed.read(name) == SOUND + b"to be copied" for name in packed.namelist())


def test_a_student_can_be_changed(site: Site) -> None:
    student = site.add_student()
    changed = STUDENT | {"name": f"Changed {student}", "instrument": "cello", "reader": "teacher"}
    page = site.client.post(f"/students/{student}", data=changed)
    assert f"Changed {student}" in page.text
    assert "Cello 1/2" in page.text
    assert site.client.post(f"/students/{student}", data=changed | {"size": "9/9"}).status_code == 400


def test_part_of_an_unkept_sound_can_be_asked_for(site: Site) -> None:
    """RFC 9110, section 14: one range, as a player asks for it."""
    page = site.hear(site.add_student())
    path = f"{page.url.path}/recording"
    part = site.client.get(path, headers={"Range": "bytes=4-7"})
    assert (part.status_code, part.content) == (206, SOUND[4:8])
    assert part.headers["content-range"] == f"bytes 4-7/{len(SOUND)}"
    assert site.client.get(path, headers={"Range": "bytes=4000-"}).content == SOUND[4000:]
    assert site.client.get(path, headers={"Range": "bytes=9999999-"}).status_code == 416
    assert site.client.get(path, headers={"Range": "rows=1-2"}).status_code == 200


def test_the_findings_file_is_for_saving(site: Site) -> None:
    page = site.hear(site.add_student(age="grown-up"), SOUND + b"file")
    answer = site.client.get(f"{page.url.path}/findings.html")
    assert answer.headers["content-disposition"].startswith("attachment")
    assert answer.headers["content-security-policy"] == "sandbox"


def test_a_reference_is_heard_without_being_told_its_string(site: Site) -> None:
    """A wrong string is named as what it is; told the right one, listening would take it for a groan."""
    student = site.add_student(age="grown-up")
    files = {"recording": ("g.wav", SOUND + b"wrong string G3")}
    page = site.wait(site.client.post(f"/lesson/{student}/reference/D4", files=files))
    assert "Heard on the open G." in page.text


def test_an_erasing_that_left_a_trace_is_not_called_done(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    """`Studio.erase_take` returns false when another program was reading: the page must say so."""
    student = site.add_student(age="grown-up")
    take = site.hear(student, SOUND + b"trace")
    monkeypatch.setattr(type(site.desk.studio), "erase_take", lambda studio, take_id: False)
    answer = site.client.post(f"{take.url.path}/erase")
    assert "start the studio again, and the last trace is wiped" in answer.text
