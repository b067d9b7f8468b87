"""The bench's map in a real browser: the point under hand and keys, first and closer looks, no script."""

from __future__ import annotations

from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from serving import Site

from browser import axe_violations, overflow_px, wait_until

#: The engine may have to be compiled first.
PATIENT = 180.0
NOTE = "document.querySelector('[data-map-part=note]').textContent"


def opened(site: Site, open_page: Any, query: str = "", **more: Any) -> Any:
    site.client.get(f"/bench/map?{query}", timeout=PATIENT)
    page = open_page(f"{site.address}/bench?{query}", **more)
    wait_until(page, "document.querySelector('[data-map-dot]')?.hidden === false")
    page.locator("[data-map-dot]").scroll_into_view_if_needed()
    return page


@pytest.fixture
def bench(site: Site, open_page: Any) -> Any:
    return opened(site, open_page)


def query(page: Any) -> dict[str, str]:
    return {name: values[0] for name, values in parse_qs(urlsplit(page.url).query).items()}


def centre(page: Any) -> tuple[float, float]:
    box = page.locator("[data-map-dot]").bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def test_the_point_is_dragged_and_the_string_follows(bench: Any) -> None:
    """Lighter and lighter at one place: at once the map says that the string slips, then the string does."""
    x, y = centre(bench)
    forces = bench.inner_html("[data-part=forces]")
    bench.mouse.move(x, y)
    bench.mouse.down()
    for step in range(1, 9):
        bench.mouse.move(x - 25 * step, y)
    assert "surface" in bench.inner_text("[data-map-state]") or "hair" in bench.inner_text("[data-map-state]")
    light = float(bench.input_value("#weight_n"))
    assert light < 0.4
    bench.mouse.up()
    wait_until(bench, f"location.search.includes('weight_n={light:g}')")
    wait_until(bench, "!document.querySelector('[data-part=says]').innerText.startsWith('clear')")
    assert bench.inner_html("[data-part=forces]") != forces
    assert float(query(bench)["distance_mm"]) == pytest.approx(27.5, abs=0.6)
    wait_until(bench, "document.querySelector('[data-map-part=says]').innerText.includes('It is clear')")
    again, _ = centre(bench)
    assert again == pytest.approx(x - 200, abs=2)
    assert bench.complaints == []


def test_a_press_on_the_map_brings_the_point_there(bench: Any) -> None:
    x, y = centre(bench)
    bench.mouse.click(x, y - 40)
    wait_until(bench, "location.search.includes('distance_mm=')")
    wait_until(bench, "Number(document.querySelector('#distance_mm').value) > 30")
    assert centre(bench)[1] == pytest.approx(y - 40, abs=3)


def test_keys_move_the_point_and_say_where_it_is(bench: Any) -> None:
    dot = bench.locator("[data-map-dot]")
    dot.focus()
    for _ in range(3):
        bench.keyboard.press("ArrowUp")
    bench.keyboard.press("Shift+ArrowRight")
    spoken = dot.get_attribute("aria-valuetext")
    assert spoken.startswith("30.5 millimetres from the bridge, 1.16 newtons: ")
    assert spoken.endswith("clear")
    assert dot.get_attribute("aria-valuenow") == "30.5"
    wait_until(bench, "location.search.includes('distance_mm=30.5') && location.search.includes('1.16')")
    assert bench.evaluate("document.activeElement.matches('[data-map-dot]')")


def test_another_tilt_is_another_map_first_roughly_then_closely(bench: Any) -> None:
    wait_until(bench, f"{NOTE}.includes('1\u00a0280')", seconds=60)
    shape = "document.querySelector('[data-map-part=drawing]').innerHTML"
    bench.evaluate(f"window.before = {shape}")
    bench.fill("#tilt_deg", "45")
    wait_until(bench, f"{NOTE}.startsWith('A first look')")
    assert bench.evaluate(f"window.before !== {shape}")
    bench.evaluate(f"window.rough = {shape}")
    wait_until(bench, f"!{NOTE}.startsWith('A first look')", seconds=60)
    assert bench.evaluate(f"window.rough !== {shape}")
    wait_until(bench, "document.querySelector('.map-room').getAttribute('d').length > 0")


def test_a_map_that_was_overtaken_is_not_shown(bench: Any) -> None:
    bench.select_option("#string", "G")
    bench.select_option("#string", "A")
    wait_until(bench, "location.search.includes('string=A')")
    wait_until(bench, f"!{NOTE}.startsWith('A first look')", seconds=60)
    bench.wait_for_load_state("networkidle")
    shown = bench.evaluate("document.querySelector('[data-map-part=drawing]').innerHTML.length")
    bench.wait_for_timeout(700)
    assert bench.evaluate("document.querySelector('[data-map-part=drawing]').innerHTML.length") == shown
    assert bench.input_value("#string") == "A"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1100])
def test_the_map_is_accessible_and_fits(site: Site, open_page: Any, scheme: str, width: int) -> None:
    page = opened(site, open_page, "instrument=cello&string=C", width=width, scheme=scheme)
    wait_until(page, f"document.querySelector('.bow-map-drawing').viewBox.baseVal.width < {width}")
    assert axe_violations(page) == []
    assert overflow_px(page) <= 0
    assert page.locator("[data-map-dot]").bounding_box()["width"] >= 44


def test_a_finger_may_drag_the_point_and_a_tap_brings_it_there(site: Site, browser: Any) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 800}, has_touch=True, is_mobile=True)
    page = context.new_page()
    page.goto(f"{site.address}/bench")
    wait_until(page, "document.querySelector('[data-map-dot]')?.hidden === false", seconds=PATIENT)
    touch_action = "selector => getComputedStyle(document.querySelector(selector)).touchAction"
    assert page.evaluate(touch_action, "[data-map-dot]") == "none"
    assert page.evaluate(touch_action, "[data-map-plate]") == "manipulation"
    page.locator("[data-map-dot]").scroll_into_view_if_needed()
    x, y = centre(page)
    page.touchscreen.tap(x, y - 60)
    wait_until(page, "Number(document.querySelector('#distance_mm').value) > 33")
    context.close()


def test_two_strokes_are_two_points(bench: Any) -> None:
    assert bench.is_hidden("[data-map-kept]")
    bench.click("[data-keep]")
    wait_until(bench, "!document.querySelector('[data-map-kept]').hidden")
    bench.locator("[data-map-dot]").focus()
    for _ in range(6):
        bench.keyboard.press("ArrowLeft")
    wait_until(bench, "document.querySelector('[data-map-part=says]').innerText.includes('The ring is')")
    ring = bench.locator("[data-map-kept]").bounding_box()
    assert ring["x"] > bench.locator("[data-map-dot]").bounding_box()["x"] + 20


def test_without_script_the_map_stands_there_and_points_are_links(site: Site, open_page: Any) -> None:
    site.client.get("/bench/map", timeout=PATIENT)
    page = open_page(f"{site.address}/bench", javascript=False)
    assert page.locator(".bow-map-drawing .map-stroke").is_visible()
    assert "From here you may wander" in page.inner_text("[data-map-part=says]")
    page.click(".map-points li:nth-child(4) a")
    assert page.input_value("#distance_mm") == "38.5"
    assert query(page)["distance_mm"] == "38.5"


def test_an_answer_that_comes_late_does_not_take_the_point_back(bench: Any) -> None:
    """The point moves on while the string is still answering to where it was."""
    bench.route("**/bench/answer?*", lambda route: (bench.wait_for_timeout(300), route.continue_()))
    dot = bench.locator("[data-map-dot]")
    dot.focus()
    bench.keyboard.press("ArrowUp")
    bench.wait_for_timeout(200)
    for _ in range(5):
        bench.keyboard.press("ArrowUp")
        bench.wait_for_timeout(90)
        assert bench.input_value("#distance_mm") == dot.get_attribute("aria-valuenow")
    wait_until(bench, "location.search.includes('distance_mm=33.5')")
    assert dot.get_attribute("aria-valuenow") == "33.5"
