"""Every page in a real browser: axe, phone's width, keyboard, without script, nothing from elsewhere."""

from __future__ import annotations

import itertools
import re
import time
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlsplit

import pytest
from fake_ears import SOUND, long_sound
from serving import Site

from browser import axe_violations, overflow_px


@pytest.fixture(scope="module")
def pages(site: Site) -> dict[str, str]:
    """Every kind of page of a studio in use, by name."""
    child = site.add_student(name="Mia with a rather long second name of Ausserhofer")
    adult = site.add_student(name="Jonas", instrument="cello", size="4/4", age="grown-up", reader="teacher")
    consented = site.add_student(name="Lea", instrument="viola", size="3/4")
    site.consent(consented, note="Signed on paper.")
    kept = site.hear(adult, SOUND + b"kept", name="a very long name of a recording without any spaces.wav")
    named = site.hear(adult, SOUND + b"named")
    site.client.post(f"{named.url.path}/direction", data={"stroke": "0", "bow": "down"})
    unkept = site.hear(child)
    failed = site.hear(child, b"a letter", name="letter.wav", string="G3")
    waiting = site.hear(consented, b"a letter", name="letter.wav")
    files = {"recording": ("c.wav", SOUND + b"reference")}
    reference = site.wait(site.client.post(f"/lesson/{adult}/reference/C2", files=files))
    files = {"recording": ("g.wav", SOUND + b"marked")}
    asked = {"point": "3", "beats": "4", "tempo": "60"}
    marked = site.wait(site.client.post(f"/lesson/{adult}/reference/G2", files=files, data=asked))
    return {
        "students": "/lesson",
        "lesson of a child": f"/lesson/{child}?done=added",
        "lesson of an adult": f"/lesson/{adult}",
        "lesson with something waiting": f"/lesson/{consented}",
        "consent": f"/lesson/{child}/consent",
        "consent given": f"/lesson/{consented}/consent",
        "findings": kept.url.path,
        "findings with directions": named.url.path,
        "findings not kept": unkept.url.path,
        "not heard": failed.url.path,
        "not heard but kept": waiting.url.path,
        "reference": f"/lesson/{adult}/reference",
        "reference without consent": f"/lesson/{child}/reference",
        "reference string": f"/lesson/{adult}/reference/G2",
        "reference at a marked place": f"/lesson/{adult}/reference/G2?point=3",
        "reference take": reference.url.path,
        "reference take that does not fit": marked.url.path,
        "studio": "/studio",
        "student": f"/students/{child}",
        "erase a take": f"{kept.url.path}/erase",
        "erase a student": f"/students/{child}/erase",
        "no such page": "/nothing",
        "look": "/look",
        "bench": "/bench",
        "bench with a stroke that is not clear": "/bench?distance_mm=14&weight_n=0.35",
        "bench with two strokes": "/bench?instrument=cello&kept_instrument=violin",
    }


NAMES = (
    "students",
    "lesson of a child",
    "lesson of an adult",
    "lesson with something waiting",
    "consent",
    "consent given",
    "findings",
    "findings with directions",
    "findings not kept",
    "not heard",
    "not heard but kept",
    "reference",
    "reference without consent",
    "reference string",
    "reference at a marked place",
    "reference take",
    "reference take that does not fit",
    "studio",
    "student",
    "erase a take",
    "erase a student",
    "no such page",
    "look",
    "bench",
    "bench with a stroke that is not clear",
    "bench with two strokes",
)


def test_every_page_is_examined(pages: dict[str, str]) -> None:
    assert set(pages) == set(NAMES)


@pytest.fixture(scope="module")
def walker(browser: Any) -> Iterator[Any]:
    """One page of the browser that goes from page to page; ``asked`` and ``complaints`` as in `open_page`."""
    context = browser.new_context(reduced_motion="reduce")
    page = context.new_page()
    page.asked, page.complaints = [], []
    page.on("request", lambda request: page.asked.append(request.url))
    page.on("pageerror", lambda error: page.complaints.append(str(error)))
    page.on("console", lambda said: said.type == "error" and page.complaints.append(said.text))
    yield page
    context.close()


@pytest.mark.parametrize("name", NAMES)
def test_a_page_is_accessible_narrow_and_alone(
    site: Site, pages: dict[str, str], walker: Any, name: str
) -> None:
    """WCAG 2.2 A and AA as far as axe-core sees, light and dark; 1.4.10 reflow at 320 px, which is also
    1280 px at 400 %; headings in order; nothing is asked of another host."""
    page = walker
    page.asked.clear()
    page.complaints.clear()
    page.set_viewport_size({"width": 320, "height": 800})
    page.emulate_media(color_scheme="light")
    page.goto(site.address + pages[name])
    assert overflow_px(page) <= 0
    assert axe_violations(page) == []
    page.emulate_media(color_scheme="dark")
    assert axe_violations(page) == []
    page.set_viewport_size({"width": 1100, "height": 900})
    assert overflow_px(page) <= 0
    assert {urlsplit(asked).netloc for asked in page.asked} == {urlsplit(site.address).netloc}
    expected = ["the server responded with a status of 404"] if name == "no such page" else []
    assert len(page.complaints) == len(expected), page.complaints
    if name != "look":
        levels = page.evaluate("[...document.querySelectorAll('h1, h2, h3, h4')].map(h => +h.tagName[1])")
        assert levels[0] == 1
        assert levels.count(1) == 1
        assert all(after - before <= 1 for before, after in itertools.pairwise(levels)), levels


def test_the_pages_in_the_navigation_exist(site: Site, open_page: Any) -> None:
    page = open_page(f"{site.address}/lesson")
    links = [a.get_attribute("href") for a in page.query_selector_all("nav a, footer a")]
    assert len(links) >= 3
    for link in links:
        assert site.client.get(link).status_code == 200


def wait_until(page: Any, expression: str, timeout_s: float = 8) -> None:
    """Wait for an expression of the page to be true; the page's policy forbids the library's own way."""
    end = time.monotonic() + timeout_s
    while not page.evaluate(expression):
        assert time.monotonic() < end, expression
        page.wait_for_timeout(40)


def focus_by_tab(page: Any, wanted: str, presses: int = 40) -> None:
    """Press Tab until the element that matches ``wanted`` has the focus, which must be seen."""
    for _ in range(presses):
        page.keyboard.press("Tab")
        if page.evaluate("s => document.activeElement.matches(s)", wanted):
            outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
            assert outline != "none", f"{wanted} has the focus and does not show it"
            return
    raise AssertionError(f"{wanted} is not reached by Tab")


def test_a_lesson_by_keyboard_alone(site: Site, open_page: Any) -> None:
    """WCAG 2.1.1 and 2.4.7: add a student, send a take, read the findings, name a stroke; no pointer."""
    page = open_page(f"{site.address}/lesson")
    focus_by_tab(page, "#name")
    page.keyboard.type("Keyboard")
    focus_by_tab(page, "main form button")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/lesson/\d+"))
    page.set_input_files(
        "input[type=file]", {"name": "take.wav", "mimeType": "audio/wav", "buffer": SOUND}
    )  # the system's own file window cannot be driven; its button is reached below
    focus_by_tab(page, "input[type=file]")
    focus_by_tab(page, "[data-submit]")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/takes/u-"))
    focus_by_tab(page, "a[href$='sheet.pdf']")
    focus_by_tab(page, "[data-play]")
    focus_by_tab(page, "button[name=bow][value=down]")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"done=direction"))
    assert "The strokes on this note are named" in page.inner_text("main")


def test_a_lesson_without_script(site: Site, open_page: Any) -> None:
    """The forms work by themselves; the page that waits refreshes itself."""
    student = site.add_student()
    page = open_page(f"{site.address}/lesson/{student}", javascript=False)
    assert not page.is_visible("[data-recorder]")
    page.set_input_files("input[type=file]", {"name": "a.wav", "mimeType": "audio/wav", "buffer": SOUND})
    page.click("[data-submit]")
    page.wait_for_url(re.compile(r"/takes/u-"), timeout=10_000)
    assert "One bow was scratchy." in page.inner_text("h1")


def test_the_sheet_and_the_file_are_saved_from_the_page(
    site: Site, pages: dict[str, str], open_page: Any, tmp_path: Any
) -> None:
    page = open_page(site.address + pages["findings"])
    for link, start in (("sheet.pdf", b"%PDF"), ("findings.html", b"<!doctype html>")):
        with page.expect_download() as saving:
            page.click(f"a[href$='{link}']")
        saved = tmp_path / saving.value.suggested_filename
        saving.value.save_as(saved)
        assert saved.name.startswith("Jonas 20")
        assert saved.read_bytes().lower().lstrip().startswith(start.lower())


def test_a_stroke_is_played_and_stops_at_its_end(site: Site, open_page: Any) -> None:
    student = site.add_student(age="grown-up")
    take = site.hear(student, long_sound())
    page = open_page(site.address + take.url.path)
    page.click("[data-play]")
    wait_until(page, "!document.querySelector('audio').paused")
    assert page.inner_text("[data-play][data-playing]").startswith("Stop")
    wait_until(page, "document.querySelector('audio').paused")
    assert page.locator("[data-playing]").count() == 0
    now = page.evaluate("document.querySelector('audio').currentTime")
    assert now == pytest.approx(2.5, abs=0.4)


def test_a_mistake_on_the_page_keeps_the_file_chosen(site: Site, open_page: Any) -> None:
    """What was wrong is said on the page; the chosen file need not be looked for again."""
    student = site.add_student()
    page = open_page(f"{site.address}/lesson/{student}")
    page.click("[data-submit]")
    assert "Record a take first, or choose a file." in page.inner_text("[data-alert]")
    page.set_input_files("input[type=file]", {"name": "a.wav", "mimeType": "audio/wav", "buffer": SOUND})
    page.click("details summary")
    page.fill("#expect", "H9")
    page.click("[data-submit]")
    wait_until(page, "document.querySelector('[data-alert]').textContent.includes('note name')")
    assert page.evaluate("document.querySelector('input[type=file]').files.length") == 1
    page.fill("#expect", "")
    page.click("[data-submit]")
    page.wait_for_url(re.compile(r"/takes/u-"))
