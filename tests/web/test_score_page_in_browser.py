"""The page Score in a real browser: accessible, on a phone, without script, and while it plays."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from serving import Site

from browser import axe_violations, overflow_px, wait_until

pytest.importorskip("verovio")
pytest.importorskip("music21")

EVENING = Path(__file__).parents[2] / "src/colophony/app/score/evening.musicxml"


@pytest.fixture(scope="module")
def address(site: Site) -> str:
    page = site.client.post("/score/example", timeout=120)
    site.client.get(f"{page.url.path}/stroke-1.wav", timeout=120)  # the engine may have to be compiled first
    return str(page.url)


def test_a_piece_is_sent_by_hand_and_shown(site: Site, open_page: Any) -> None:
    page = open_page(f"{site.address}/score")
    assert axe_violations(page) == []
    page.set_input_files("input[type=file]", str(EVENING))
    page.click("text=Plan the bow")
    wait_until(page, "document.querySelector('h1').innerText === 'Evening on the Hill'", seconds=60)
    assert page.complaints == []


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (320, "dark")])
def test_the_plan_is_accessible_and_fits_a_phone(
    address: str, open_page: Any, width: int, scheme: str
) -> None:
    page = open_page(address, width=width, scheme=scheme)
    page.click("text=Every stroke in a table")
    page.click("text=Another part, tempo, bow or instrument")
    assert axe_violations(page) == []
    assert overflow_px(page) == 0
    shown = page.evaluate(
        "[...document.querySelectorAll('[data-drawing]')].filter(e => e.offsetWidth)"
        ".map(e => e.dataset.drawing)"
    )
    assert shown == ["wide" if width > 767 else "narrow"]
    assert page.complaints == []


def test_without_a_script_the_plan_is_read_heard_and_changed(address: str, open_page: Any) -> None:
    page = open_page(address, javascript=False)
    assert page.is_visible("audio[controls]")
    assert page.is_hidden("[data-play-piece]")
    page.click("text=Do that")
    assert page.inner_text("p.says").startswith("The bow reaches: 21 strokes")


def test_a_stroke_is_chosen_by_key_told_and_played(address: str, open_page: Any) -> None:
    page = open_page(address)
    page.focus("[data-step='1']")
    for _ in range(2):
        page.keyboard.press("Enter")
    assert page.inner_text("[data-told]").startswith("Stroke 2, measure 1, beat 1: down-bow")
    assert page.evaluate("document.querySelectorAll('.score-wide .way.now').length") == 1
    page.click("[data-play-stroke]")
    wait_until(page, "document.querySelector('.now-at') !== null", seconds=30)
    wait_until(page, "document.querySelector('[data-answer]').innerText.includes('answers:')", seconds=20)
    assert page.query_selector("[data-answer] .state svg") is not None
    page.keyboard.press("Escape")
    wait_until(page, "document.querySelector('[data-playing], .now-at') === null")
    page.click("text=Every stroke in a table")
    page.click("[data-stroke-link='4']")
    wait_until(page, "document.querySelector('[data-told]').innerText.startsWith('Stroke 4,')")
    wait_until(page, "document.querySelector('.now-at') !== null", seconds=30)
    assert page.complaints == []


def test_while_the_piece_plays_a_line_moves_along_the_music(address: str, open_page: Any) -> None:
    page = open_page(address)
    page.click("[data-play-piece]")
    wait_until(page, "document.querySelector('.now-at') !== null", seconds=60)
    first = float(page.get_attribute(".now-at", "x1"))
    wait_until(page, "document.querySelector('[data-told]').innerText.startsWith('Stroke 2,')", seconds=20)
    assert float(page.get_attribute(".now-at", "x1")) > first
    page.click("[data-play-piece]")
    wait_until(page, "document.querySelector('[data-playing], .now-at') === null")
    assert page.complaints == []
