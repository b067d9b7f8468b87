"""The findings file in a real browser: it works alone, plays its strokes and breaks no rule."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from samples import HOSTILE, findings, lesson, write_ticks

from browser import OpenPage, axe_violations, leaves_the_file, overflow_px, wait_until
from colophony.app.look.gallery import example_take
from colophony.app.report import make_report


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("report")


@pytest.fixture(scope="module")
def short(folder: Path) -> str:
    """Two strokes, at 0.5 to 2.5 s and 3 to 5 s, with sound."""
    sound = write_ticks(folder / "ticks.wav", seconds=5.5, at_s=(0.5, 3.0))
    path = folder / "short.html"
    path.write_text(make_report(findings(), sound, student=HOSTILE, reader="adult"), encoding="utf-8")
    return path.as_uri()


@pytest.fixture(scope="module")
def every_state(folder: Path) -> str:
    path = folder / "states.html"
    path.write_text(make_report(findings(example_take())), encoding="utf-8")
    return path.as_uri()


@pytest.fixture(scope="module")
def long(folder: Path) -> str:
    path = folder / "long.html"
    path.write_text(make_report(findings(lesson())), encoding="utf-8")
    return path.as_uri()


@pytest.mark.parametrize(
    ("width", "scheme"), [(1100, "light"), (360, "light"), (1100, "dark"), (360, "dark")]
)
def test_no_report_breaks_a_rule_of_axe(
    open_page: OpenPage, short: str, every_state: str, width: int, scheme: str
) -> None:
    """WCAG 2.2 A and AA as far as axe-core 4.14 can tell, with everything unfolded."""
    for address in (short, every_state):
        page = open_page(address, width=width, scheme=scheme)
        page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
        assert axe_violations(page) == []


@pytest.mark.parametrize("width", [320, 360])
def test_a_report_fits_a_phone(
    open_page: OpenPage, short: str, every_state: str, long: str, width: int
) -> None:
    """WCAG 2.2, 1.4.10 Reflow: no scrolling to the side, unfolded too."""
    for address in (short, every_state, long):
        page = open_page(address, width=width)
        page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
        assert overflow_px(page) == 0


def test_a_report_works_alone(open_page: OpenPage, short: str) -> None:
    """Nothing is asked of any network, and its own policy hinders nothing that it needs."""
    page = open_page(short)
    wait_until(page, "document.querySelector('audio').readyState >= 1")
    assert [asked for asked in page.asked if leaves_the_file(asked)] == []
    assert page.complaints == []
    assert page.evaluate("[...document.fonts].some(font => font.status === 'loaded')")


def test_a_stroke_plays_from_its_start_to_its_end(open_page: OpenPage, short: str) -> None:
    """Enter on a stroke's button plays that stroke alone; the button says so; a line shows where."""
    page = open_page(short)
    page.evaluate("""() => { const sound = document.querySelector('audio'); window.heard = [];
        sound.addEventListener('timeupdate', () => window.heard.push(sound.currentTime)); }""")
    button = page.get_by_role("button", name="Play stroke 2")
    button.focus()
    page.keyboard.press("Enter")
    wait_until(page, "document.querySelector('audio').currentTime > 3.1")
    assert page.evaluate("Math.min(...window.heard)") >= 2.99
    assert page.get_by_role("button", name="Stop stroke 2").is_visible()
    assert page.evaluate("document.querySelector('audio').currentTime") < 5.1
    where = page.evaluate("document.querySelector('.playhead').closest('svg').dataset.start")
    assert float(where) == pytest.approx(2.75)
    wait_until(page, "document.querySelector('audio').paused")
    assert page.evaluate("document.querySelector('audio').currentTime") == pytest.approx(5.0, abs=0.25)
    assert button.is_visible()


def test_playing_stops_when_asked(open_page: OpenPage, short: str) -> None:
    """WCAG 2.2, 1.4.2: sound can be stopped, by the same button and by Escape."""
    page = open_page(short)
    paused = "document.querySelector('audio').paused"
    for stop in ("button", "Escape"):
        button = page.get_by_role("button", name="Play stroke 1")
        button.click()
        wait_until(page, "document.querySelector('audio').currentTime > 0.55")
        if stop == "button":
            page.get_by_role("button", name="Stop stroke 1").click()
        else:
            page.keyboard.press("Escape")
        wait_until(page, paused)
        button.wait_for(state="visible")  # the button hears of the pause a moment later


def test_the_whole_take_plays_on_over_its_strokes(open_page: OpenPage, short: str) -> None:
    """Played as a whole, the take does not stop where a stroke ends; the same button stops it."""
    page = open_page(short)
    page.get_by_role("button", name="Play the take").click()
    wait_until(page, "document.querySelector('audio').currentTime > 2.7")
    page.get_by_role("button", name="Stop the take").click()
    wait_until(page, "document.querySelector('audio').paused")
    page.get_by_role("button", name="Play the take").wait_for(state="visible")


def test_touching_the_picture_plays_the_stroke_under_it(open_page: OpenPage, short: str) -> None:
    """The picture is a way to the sound for mouse and finger; the list is one for the keyboard."""
    page = open_page(short)
    wait_until(page, "document.querySelector('audio').readyState >= 1")
    page.locator("svg[data-start]").nth(1).click()
    wait_until(page, "!document.querySelector('audio').paused")
    assert page.get_by_role("button", name="Stop stroke 2").is_visible()


def test_the_switch_changes_whose_words_are_shown(open_page: OpenPage, short: str) -> None:
    """One reader's words at a time; arrow keys move the choice as in any group of radio buttons."""
    summary = findings().summary.headline
    page = open_page(short)
    assert page.locator("h1").inner_text() == summary.adult
    page.get_by_label("a child").check()
    assert page.locator("h1").inner_text() == summary.child
    page.keyboard.press("ArrowLeft")
    assert page.locator("h1").inner_text() == summary.teacher


def test_without_scripts_the_page_still_reads_and_sounds(open_page: OpenPage, short: str) -> None:
    """No script: no dead button, and the browser's own player holds the whole take."""
    page = open_page(short, javascript=False)
    assert page.locator("audio").is_visible()
    assert page.locator("button:visible").count() == 0
    assert page.locator("h1").inner_text() == findings().summary.headline.adult
    page.locator("summary").first.click()
    assert page.locator(".numbers").first.is_visible()


def test_a_print_holds_the_findings_in_ink(open_page: OpenPage, short: str) -> None:
    """Printed, the page says the same in two sheets at most, without buttons (read back with pypdf)."""
    from pypdf import PdfReader

    printed = PdfReader(io.BytesIO(open_page(short, scheme="dark").pdf(format="A4", print_background=True)))
    text = " ".join(" ".join(page.extract_text() for page in printed.pages).split())
    assert len(printed.pages) <= 2
    assert "The one thing to work on" in text
    assert "Play" not in text.split("Take care")[0].split("Stroke by stroke")[1].replace("Play four", "")
