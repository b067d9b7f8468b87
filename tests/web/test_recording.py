"""A take recorded in the browser, from a microphone that plays a real cello, heard by the real ears."""

from __future__ import annotations

import itertools
import re
import struct
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from serving import Site, served

from browser import axe_violations, launched, overflow_px
from colophony.app.web.listener import hear_take

RECORDINGS = Path(__file__).parents[1] / "recordings"


@pytest.fixture(scope="module")
def studio(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """Pages with the real ears, loaded already as ``studio serve`` does."""
    with served(tmp_path_factory.mktemp("recording") / "studio", hear=hear_take) as site:
        site.desk.queue.warm_up()
        yield site


@pytest.fixture(scope="module")
def microphone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The cello's open A, as chromium's fake microphone wants it: 16-bit WAV, played over and over."""
    sound, rate = soundfile.read(RECORDINGS / "cello-a3.flac", always_2d=True)
    path = tmp_path_factory.mktemp("microphone") / "cello.wav"
    mono = sound.mean(axis=1)
    soundfile.write(path, 0.5 * mono / np.abs(mono).max(), rate, subtype="PCM_16")
    return path


@pytest.fixture(scope="module")
def browser(microphone: Path) -> Iterator[Any]:
    with launched(f"--use-file-for-fake-audio-capture={microphone}") as running:
        yield running


def until(page: Any, expression: str, timeout_s: float = 15) -> None:
    end = time.monotonic() + timeout_s
    while not page.evaluate(expression):
        assert time.monotonic() < end, f"{expression}: {page.inner_text('main')}"
        page.wait_for_timeout(40)


def record(page: Any, seconds: float) -> None:
    """Record by keyboard: Enter on the button begins, Escape ends."""
    page.focus("[data-record]")
    page.keyboard.press("Enter")
    until(page, "document.querySelector('[data-record]').getAttribute('aria-pressed') === 'true'")
    page.wait_for_timeout(1000 * seconds)


def test_a_take_recorded_in_the_browser_is_heard(studio: Site, open_page: Any) -> None:
    """The microphone plays the open A of a cello (A3, 220 Hz); the findings say so, and the file kept is
    the sound as the browser gave it: 32-bit float, at the rate of the sound card."""
    student = studio.add_student(instrument="cello", size="4/4", age="grown-up")
    page = open_page(f"{studio.address}/lesson/{student}", width=340)
    record(page, 3.0)
    assert re.fullmatch(r"0:0[2-4]", page.inner_text("[data-elapsed]"))
    assert page.inner_text("[data-level-word]") == "Good level"
    assert page.evaluate("document.querySelector('[data-bar]').getBoundingClientRect().width") > 20
    assert axe_violations(page) == []
    assert overflow_px(page) <= 0
    page.keyboard.press("Escape")
    until(page, "!document.querySelector('[data-recorded]').hidden")
    until(page, "document.querySelector('[data-playback]').duration > 2.5")
    played_s = page.evaluate("document.querySelector('[data-playback]').duration")
    assert axe_violations(page) == []
    assert overflow_px(page) <= 0
    page.click("[data-submit]")
    page.wait_for_url(re.compile(r"/takes/\d+$"), timeout=30_000)
    assert "A3" in page.inner_text(".strokes")
    content = studio.client.get(f"{page.url}/recording").content
    assert content[:4] + content[8:16] == b"RIFFWAVEfmt "
    kind, channels, rate = struct.unpack("<HHI", content[20:28])
    assert (kind, channels) == (3, 1)
    assert rate in {44100, 48000}
    (take,) = studio.desk.studio.takes(student)
    findings = studio.desk.studio.findings(take.id)
    bowed = [stroke for stroke in findings.take.strokes if stroke.end_s - stroke.start_s > 0.5]
    assert {stroke.note for stroke in bowed} == {"A3"}
    assert findings.take.duration_s == pytest.approx(played_s, abs=0.1)
    assert page.complaints == []


def test_a_discarded_take_is_not_sent(studio: Site, open_page: Any) -> None:
    student = studio.add_student(instrument="cello", size="4/4", age="grown-up")
    page = open_page(f"{studio.address}/lesson/{student}")
    record(page, 0.8)
    page.keyboard.press("Enter")  # the button still has the focus: the same key ends what it began
    until(page, "!document.querySelector('[data-recorded]').hidden")
    assert page.is_disabled("input[type=file]")
    page.click("[data-discard]")
    assert page.is_enabled("input[type=file]")
    assert page.evaluate("document.activeElement.matches('[data-record]')")
    assert studio.desk.studio.takes(student) == []
    assert not any(address.endswith("/takes") for address in page.asked)


def test_a_recording_that_cannot_be_sent_can_be_sent_again_or_saved(
    studio: Site, open_page: Any, tmp_path: Path
) -> None:
    """The studio is out of reach for a while: nothing is lost."""
    student = studio.add_student(instrument="cello", size="4/4", age="grown-up")
    page = open_page(f"{studio.address}/lesson/{student}")
    record(page, 1.2)
    page.keyboard.press("Escape")
    until(page, "!document.querySelector('[data-recorded]').hidden")
    until(page, "document.querySelector('[data-playback]').duration > 0")  # the browser has read it
    played_s = page.evaluate("document.querySelector('[data-playback]').duration")
    page.route("**/takes", lambda route: route.abort())
    page.click("[data-submit]")
    until(page, "document.querySelector('[data-alert]').textContent.includes('still here')")
    assert "cannot be reached" in page.inner_text("[data-alert]")
    with page.expect_download() as saving:
        page.click("[data-save]")
    saved = tmp_path / "saved.wav"
    saving.value.save_as(saved)
    sound, rate = soundfile.read(saved)
    assert len(sound) / rate == pytest.approx(played_s, abs=0.05)
    assert np.abs(sound).max() > 0.01
    page.unroute("**/takes")
    page.click("[data-submit]")
    page.wait_for_url(re.compile(r"/takes/\d+$"), timeout=30_000)


def test_the_microphones_sound_is_left_as_it_is(studio: Site, open_page: Any) -> None:
    """W3C Media Capture and Streams: echo, noise and gain processing are asked off; they spoil tone."""
    student = studio.add_student()
    page = open_page(f"{studio.address}/lesson/{student}")
    page.evaluate(
        """() => {
          const own = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
          navigator.mediaDevices.getUserMedia = async (wanted) => {
            const stream = await own(wanted);
            window.heard = stream.getAudioTracks()[0].getSettings();
            return stream;
          };
        }"""
    )
    record(page, 0.3)
    settings = page.evaluate("window.heard")
    page.keyboard.press("Escape")
    assert settings["echoCancellation"] is False
    assert settings["noiseSuppression"] is False
    assert settings["autoGainControl"] is False


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("NotAllowedError", "did not allow the microphone"),
        ("NotFoundError", "No microphone was found"),
        ("NotReadableError", "another program has it"),
        ("AbortError", "could not be started (AbortError)"),
    ],
)
def test_without_a_microphone_a_file_can_still_be_sent(
    studio: Site, open_page: Any, name: str, line: str
) -> None:
    """W3C Media Capture and Streams, getUserMedia: the ways in which it fails."""
    student = studio.add_student()
    page = open_page(f"{studio.address}/lesson/{student}")
    page.evaluate(
        """name => {
          const refuse = () => Promise.reject(new DOMException("no", name));
          navigator.mediaDevices.getUserMedia = refuse;
        }""",
        name,
    )
    page.click("[data-record]")
    until(page, "!document.querySelector('[data-alert]').hidden")
    assert line in page.inner_text("[data-alert]")
    assert page.is_enabled("input[type=file]")
    assert page.is_visible("[data-record]")


def test_real_recordings_are_heard_and_go_home(studio: Site) -> None:
    """Two strings of a real cello as reference, then a take of the same string: heard against it."""
    student = studio.add_student(instrument="cello", size="4/4", age="grown-up", reader="teacher")
    for name, string in (("cello-a3", "A3"), ("cello-c2", "C2")):
        content = (RECORDINGS / f"{name}.flac").read_bytes()
        answer = studio.client.post(
            f"/lesson/{student}/reference/{string}", files={"recording": (f"{name}.flac", content)}
        )
        page = studio.wait(answer)
        assert f"Heard on the open {string[0]}." in page.text, page.text
        studio.client.post(f"{page.url.path}/accept")
    page = studio.hear(student, (RECORDINGS / "cello-a4.flac").read_bytes(), name="a4.flac", string="A3")
    assert page.url.path.startswith("/takes/")
    assert "A4" in page.text
    assert studio.client.get(f"{page.url.path}/sheet.pdf").content.startswith(b"%PDF")
    assert "data:audio" in studio.client.get(f"{page.url.path}/findings.html").text


def test_the_level_is_told_in_words(studio: Site, open_page: Any) -> None:
    """Common practice, no source: peaks from -36 to -3 dB below full scale are a good level."""
    page = open_page(f"{studio.address}/lesson/{studio.add_student()}")
    words = page.evaluate(
        """async () => {
          const { levelWord } = await import('/static/take-form.js');
          return [0, 0.005, 0.1, 0.9, 1].map(levelWord);
        }"""
    )
    assert words == ["silent", "quiet", "good", "loud", "cut"]
    assert all(a != b for a, b in itertools.pairwise(words))
