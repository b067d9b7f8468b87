"""The gallery in a real browser: every component, light and dark, wide and narrow."""

from __future__ import annotations

from pathlib import Path

import pytest

from browser import OpenPage, axe_violations, leaves_the_file, overflow_px
from colophony.app.look.gallery import render_gallery


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> str:
    path: Path = tmp_path_factory.mktemp("gallery") / "gallery.html"
    path.write_text(render_gallery(), encoding="utf-8")
    return path.as_uri()


@pytest.mark.parametrize(("width", "scheme"), [(1100, "light"), (360, "light"), (360, "dark")])
def test_nothing_in_the_gallery_breaks_a_rule_of_axe(
    open_page: OpenPage, address: str, width: int, scheme: str
) -> None:
    """WCAG 2.2 A and AA as far as axe-core 4.14 can tell: no violation in any component."""
    page = open_page(address, width=width, scheme=scheme)
    assert axe_violations(page) == []
    assert page.complaints == []


def test_axe_would_notice(open_page: OpenPage, address: str) -> None:
    """The check can fail: an image without a name and pale text are reported."""
    page = open_page(address)
    page.evaluate("document.querySelector('main').innerHTML += '<p><img src=\"data:,\"></p>'")
    assert any(line.startswith("image-alt") for line in axe_violations(page))


@pytest.mark.parametrize("width", [320, 360, 768])
def test_the_gallery_fits_a_phone(open_page: OpenPage, address: str, width: int) -> None:
    """WCAG 2.2, 1.4.10 Reflow: no scrolling to the side at 320 CSS px."""
    assert overflow_px(open_page(address, width=width)) == 0


def test_the_gallery_asks_for_nothing_outside_itself(open_page: OpenPage, address: str) -> None:
    """A page that carries its style works without any network."""
    assert [asked for asked in open_page(address).asked if leaves_the_file(asked)] == []


def test_fonts_load_and_figures_are_tabular(open_page: OpenPage, address: str) -> None:
    """In tables every digit is as wide as any other, and both families are the vendored ones."""
    page = open_page(address)
    page.evaluate("document.fonts.ready")
    assert page.evaluate("[...document.fonts].filter(f => f.status === 'loaded').length") >= 3
    widths = page.evaluate("""() => ['1111111111', '0000000000', '4747474747'].map(text => {
        const cell = document.querySelector('td.right'); cell.innerHTML = `<span>${text}</span>`;
        return cell.firstChild.getBoundingClientRect().width; })""")
    assert max(widths) - min(widths) < 0.5


def test_focus_is_always_seen(open_page: OpenPage, address: str) -> None:
    """WCAG 2.2, 2.4.7 and 2.4.13: what has the focus has an outline at least 2 px thick."""
    page = open_page(address)
    seen = set()
    for _ in range(14):
        page.keyboard.press("Tab")
        tag, style, width = page.evaluate(
            "() => { const a = document.activeElement, s = getComputedStyle(a);"
            " return [a.tagName, s.outlineStyle, parseFloat(s.outlineWidth)]; }"
        )
        assert style != "none", tag
        assert width >= 2, tag
        seen.add(tag)
    assert {"A", "BUTTON", "INPUT"} <= seen
