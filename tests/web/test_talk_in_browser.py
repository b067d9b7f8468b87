"""The talk in a real browser: alone and offline, by keys and clicker, held still, with notes, any screen."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from serving import Site

from browser import axe_violations, leaves_the_file, overflow_px, wait_until
from colophony.app.talk import Talk, offline_page

#: A slide of each kind of picture: string, map, trace of a start, string and bars.
KEYS = ("corner", "map", "starts", "near-and-far")
NOW = "document.querySelector('[data-slide][data-now]')?.id"
STEP = """[...document.querySelectorAll('[data-slide][data-now] [data-step]')]
  .findIndex(step => step.hasAttribute('data-now'))"""
SOUNDING = "[...document.querySelectorAll('audio')].filter(a => !a.paused && !a.ended).length"
ASKING = "document.querySelector('[data-slide][data-now]').classList.contains('asking')"


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> str:
    path: Path = tmp_path_factory.mktemp("talk") / "talk.html"
    path.write_text(offline_page(Talk("violin", "4/4", "D", KEYS, "Strings & bows")), encoding="utf-8")
    return path.as_uri()


@pytest.fixture
def moving_page(browser: Any, file: str) -> Iterator[Any]:
    """The file as most people see it, with motion, and no network."""
    context = browser.new_context(viewport={"width": 1280, "height": 720}, offline=True)
    page = context.new_page()
    page.complaints = []
    page.on("pageerror", lambda error: page.complaints.append(str(error)))
    page.on("console", lambda said: said.type == "error" and page.complaints.append(said.text))
    page.goto(file)
    yield page
    context.close()


def test_the_file_works_alone_and_offline(moving_page: Any, open_page: Any, file: str) -> None:
    """Nothing is asked of a network, nothing complains, and every slide and sound can be reached."""
    page = open_page(file)
    wait_until(page, "[...document.querySelectorAll('audio')].every(a => a.readyState >= 1)")
    for _ in range(40):
        page.keyboard.press("PageDown")
    assert page.evaluate(NOW) == KEYS[-1]
    assert [asked for asked in page.asked if leaves_the_file(asked)] == []
    assert page.complaints == []
    moving_page.keyboard.press("PageDown")
    moving_page.keyboard.press("PageDown")
    wait_until(moving_page, f"{SOUNDING} === 1")
    assert moving_page.complaints == []


def test_a_clicker_goes_through_strokes_the_question_and_the_next_slide(moving_page: Any) -> None:
    """Presenters' remotes send page down and page up (common practice, no source)."""
    page = moving_page
    assert page.evaluate(NOW) == "opening"
    page.keyboard.press("PageDown")
    assert page.evaluate(NOW) == "corner"
    assert page.evaluate(SOUNDING) == 0  # the sentence first
    page.keyboard.press("PageDown")
    wait_until(page, f"{SOUNDING} === 1")
    assert not page.evaluate(ASKING)
    page.keyboard.press("PageDown")
    assert page.evaluate(ASKING)
    assert page.evaluate(SOUNDING) == 0
    assert page.locator(".slide[data-now] .question").is_visible()
    page.keyboard.press("ArrowRight")
    assert page.evaluate(NOW) == "map"
    page.keyboard.press("PageUp")
    assert page.evaluate(NOW) == "corner"
    assert page.evaluate(ASKING)


def test_each_stroke_is_seen_heard_and_told_when_its_turn_comes(moving_page: Any) -> None:
    page = moving_page
    page.goto(page.url.split("#")[0] + "#starts")
    page.reload()
    signs = page.locator(".slide[data-now] .step-sign")
    assert not signs.nth(1).is_visible()  # what the string did is not given away
    for number, word in (("1", "clean at once"), ("2", "creaks first"), ("3", "hisses first")):
        page.keyboard.press(number)
        wait_until(page, f"{SOUNDING} === 1")
        assert page.evaluate(STEP) == int(number) - 1
        assert signs.nth(int(number) - 1).is_visible()
        assert word in signs.nth(int(number) - 1).inner_text()
        assert page.locator(".slide[data-now] figure:visible").count() == 1
    page.keyboard.press(" ")
    wait_until(page, f"{SOUNDING} === 0")
    page.keyboard.press(" ")
    wait_until(page, f"{SOUNDING} === 1")
    page.keyboard.press("Escape")
    assert page.evaluate(SOUNDING) == 0


def test_on_the_map_the_stroke_that_is_played_is_marked(moving_page: Any) -> None:
    page = moving_page
    page.goto(page.url.split("#")[0] + "#map")
    page.reload()
    for number in ("1", "2", "3"):
        page.keyboard.press(number)
        marked = page.evaluate(
            "[...document.querySelectorAll('[data-spot][data-now]')].map(s => s.dataset.spot)"
        )
        assert marked == [number]


def test_the_corner_moves_and_is_held_still(moving_page: Any) -> None:
    """The drawn string moves by the simulated shapes; held, only a key moves it."""
    page = moving_page
    page.keyboard.press("PageDown")
    path = "document.querySelector('.slide[data-now] .now').getAttribute('d')"
    first = page.evaluate(path)
    wait_until(page, f"{path} !== {first!r}")
    page.keyboard.press("h")
    held = page.evaluate(path)
    page.wait_for_timeout(150)
    assert page.evaluate(path) == held
    page.keyboard.press("Shift+ArrowRight")
    assert page.evaluate(path) != held
    page.keyboard.press("Shift+ArrowLeft")
    assert page.evaluate(path) == held


def test_who_asked_for_less_motion_gets_stills_and_steps(open_page: Any, file: str) -> None:
    """WCAG 2.2, 2.2.2 and 2.3.3; ``prefers-reduced-motion`` (Media Queries 5)."""
    page = open_page(file, width=1280)
    page.keyboard.press("PageDown")
    path = "document.querySelector('.slide[data-now] .now').getAttribute('d')"
    still = page.evaluate(path)
    page.wait_for_timeout(150)
    assert page.evaluate(path) == still
    page.get_by_role("button", name="A moment on").click()
    assert page.evaluate(path) != still


def test_a_black_screen_comes_and_goes(moving_page: Any) -> None:
    page = moving_page
    page.keyboard.press("PageDown")
    page.keyboard.press("PageDown")
    wait_until(page, f"{SOUNDING} === 1")
    page.keyboard.press("b")
    assert page.locator("[data-blank]").is_visible()
    assert page.evaluate(SOUNDING) == 0
    page.keyboard.press("PageDown")  # wakes, and nothing more
    assert not page.locator("[data-blank]").is_visible()
    assert page.evaluate(NOW) == "corner"
    page.keyboard.press(".")
    assert page.locator("[data-blank]").is_visible()


def test_notes_come_on_request_for_one_audience_at_a_time(moving_page: Any) -> None:
    page = moving_page
    page.keyboard.press("PageDown")
    assert not page.locator(".slide[data-now] .notes").is_visible()
    page.keyboard.press("n")
    for words, audience in (("For players", "players"), ("For physics students", "physicists")):
        page.get_by_label(words).check()
        assert page.locator(".slide[data-now] .note:visible").count() == 1
        assert page.locator(f".slide[data-now] .note[data-audience={audience}]").is_visible()


def test_a_second_window_shows_the_notes_of_the_slide_and_drives_the_first(moving_page: Any) -> None:
    page = moving_page
    page.keyboard.press("PageDown")
    with page.context.expect_page() as opened:
        page.click("text=Notes in a second window")
    notes = opened.value
    wait_until(notes, f"{NOW} === 'corner'")
    assert notes.locator(".slide[data-now] .notes").is_visible()
    assert notes.locator("figure:visible").count() == 0
    for _ in range(3):
        notes.keyboard.press("PageDown")
    wait_until(page, f"{NOW} === 'map'")
    wait_until(notes, f"{NOW} === 'map'")
    assert notes.evaluate(SOUNDING) == 0  # one window sounds


@pytest.mark.parametrize(("width", "scheme"), [(1920, "light"), (1024, "dark"), (360, "light")])
def test_no_slide_breaks_a_rule_of_axe(open_page: Any, file: str, width: int, scheme: str) -> None:
    """WCAG 2.2 A and AA as far as axe-core 4.14 can tell, with the notes open."""
    page = open_page(file, width=width, scheme=scheme)
    page.keyboard.press("n")
    for key in ("opening", *KEYS):
        wait_until(page, f"{NOW} === {key!r}")
        page.keyboard.press("1")
        assert axe_violations(page) == [], key
        while page.evaluate(NOW) == key and key != KEYS[-1]:
            page.keyboard.press("PageDown")


@pytest.mark.parametrize("width", [320, 768, 1920])
def test_a_slide_fits_every_screen(open_page: Any, file: str, width: int) -> None:
    """WCAG 2.2, 1.4.10 Reflow: no scrolling to the side; each picture is wholly there."""
    page = open_page(file, width=width)
    for _ in range(14):
        page.keyboard.press("PageDown")
        assert overflow_px(page) == 0
        box = page.evaluate(
            "(r => r ? [r.left, r.right] : [0, 0])"
            "(document.querySelector('.slide[data-now] figure[data-now] svg')?.getBoundingClientRect())"
        )
        assert box[0] >= 0
        assert box[1] <= width


def test_letters_are_large_on_a_projector(open_page: Any, file: str) -> None:
    """A thirtieth of the picture's height at least (common practice, no source); the sentence is larger."""
    page = open_page(file, width=1280)
    page.set_viewport_size({"width": 1280, "height": 720})
    page.keyboard.press("PageDown")
    size = "parseFloat(getComputedStyle(document.querySelector('.slide[data-now] {}')).fontSize)"
    assert page.evaluate(size.format("h2")) >= 720 / 16
    assert page.evaluate(size.format(".step-name")) >= 720 / 30
    drawn = """(t => t.getBoundingClientRect().height)
      (document.querySelector('.slide[data-now] figure[data-now] text'))"""
    assert page.evaluate(drawn) >= 720 / 30


def test_without_a_script_the_file_reads_and_sounds(open_page: Any, file: str) -> None:
    """Every slide one below the other, with the browser's own players and all notes."""
    page = open_page(file, javascript=False)
    assert page.locator("[data-slide]:visible").count() == 1 + len(KEYS)
    assert page.locator("audio:visible").count() == 9
    assert page.locator(".note:visible").count() == 3 * len(KEYS)
    assert page.locator("button:visible").count() == 0
    assert overflow_px(page) == 0


# In the studio


def test_slides_are_arranged_by_keyboard(open_page: Any, site: Site) -> None:
    """The link that was used keeps the focus, so that it can be used again."""
    page = open_page(f"{site.address}/talk?slides=corner,map,tilt")
    page.focus("#later-corner")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    wait_until(page, "document.querySelector('[data-rows] li').dataset.key === 'map'")
    wait_until(page, "document.activeElement.id === 'later-corner'")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    order = "[...document.querySelectorAll('[data-rows] li')].map(row => row.dataset.key).join()"
    wait_until(page, f"{order} === 'map,tilt,corner'")
    assert axe_violations(page) == []
    assert page.complaints == []


def test_slides_are_arranged_by_pointer_and_kept_under_a_name(open_page: Any, site: Site) -> None:
    page = open_page(f"{site.address}/talk?slides=corner,map,tilt")
    grips = page.locator(".grip")
    start, end = grips.nth(2).bounding_box(), grips.nth(0).bounding_box()
    page.mouse.move(start["x"] + 5, start["y"] + 10)
    page.mouse.down()
    page.mouse.move(end["x"] + 5, end["y"] + 4, steps=6)
    with page.expect_navigation():
        page.mouse.up()
    order = "[...document.querySelectorAll('[data-rows] li')].map(row => row.dataset.key).join()"
    wait_until(page, f"location.search.includes('tilt%2Ccorner%2Cmap') && {order} === 'tilt,corner,map'")
    page.click("[data-keep]")
    assert page.inner_text("[data-said]") == "Give it a name first."
    page.fill("#name", "Parents' evening")
    page.click("[data-keep]")
    page.goto(f"{site.address}/talk")
    with page.expect_navigation():
        page.click("text=Parents' evening")
    wait_until(page, f"{order} === 'tilt,corner,map'")
    assert page.input_value("#name") == "Parents' evening"
    page.click("[data-list] button")
    assert page.locator("[data-list] li").count() == 0


def test_the_studio_shows_the_talk_as_the_file_does(open_page: Any, site: Site) -> None:
    """Under the studio's own policy: sound from the studio, motion, no complaint."""
    page = open_page(f"{site.address}/talk/show?slides=corner")
    page.keyboard.press("PageDown")
    page.keyboard.press("PageDown")
    wait_until(page, f"{SOUNDING} === 1")
    assert page.complaints == []
    assert page.get_by_role("link", name="Arrange").get_attribute("href").startswith("/talk?")


@pytest.mark.parametrize("width", [320, 1100])
def test_the_page_for_arranging_fits(open_page: Any, site: Site, width: int) -> None:
    page = open_page(f"{site.address}/talk?slides=corner,map", width=width, scheme="dark")
    assert overflow_px(page) == 0
    assert axe_violations(page) == []
