"""A real browser for tests of pages: Debian's chromium through playwright, and the axe accessibility rules.

Loaded as a plugin by ``conftest``. The browser lives for one test module, because its event loop occupies
the main thread while it is open. ``COLOPHONY_CHROMIUM`` names another chromium.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Generator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = Path(os.environ.get("COLOPHONY_CHROMIUM", "/usr/bin/chromium"))
#: axe-core 4.14.1, MPL-2.0; the licence lies beside it.
AXE = Path(__file__).parent / "look" / "vendor" / "axe.min.js"
#: WCAG 2.0 to 2.2, levels A and AA, and what axe calls best practice.
_AXE_RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]

OpenPage = Callable[..., Any]


@contextmanager
def launched(*more: str) -> Generator[Any, None, None]:
    """Run Chromium, headless, with sound allowed to start and a microphone that asks nobody.

    ``more`` are further switches of chromium's.
    """
    api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    if not CHROMIUM.exists():
        pytest.skip(f"no chromium at {CHROMIUM}: install it or set COLOPHONY_CHROMIUM")
    with api.sync_playwright() as playwright:
        running = playwright.chromium.launch(
            executable_path=str(CHROMIUM),
            args=[
                "--no-sandbox",
                "--autoplay-policy=no-user-gesture-required",
                "--use-fake-ui-for-media-stream",
                "--use-fake-device-for-media-stream",
                *more,
            ],
        )
        yield running
        running.close()


@pytest.fixture(scope="module")
def browser() -> Generator[Any, None, None]:
    """Chromium with a microphone that plays a test tone."""
    with launched() as running:
        yield running


@pytest.fixture
def open_page(browser: Any) -> Generator[OpenPage, None, None]:
    """Open an address in a fresh profile; returns the page, which also remembers what it asked for.

    ``open_page(address, width=1100, scheme="light", javascript=True)``. ``page.asked`` lists every address
    requested, ``page.complaints`` every error of a script or of the console.
    """
    contexts = []

    def open_(address: str, *, width: int = 1100, scheme: str = "light", javascript: bool = True) -> Any:
        context = browser.new_context(
            viewport={"width": width, "height": 900},
            color_scheme=scheme,
            java_script_enabled=javascript,
            reduced_motion="reduce",
        )
        contexts.append(context)
        page = context.new_page()
        page.asked, page.complaints = [], []
        page.on("request", lambda request: page.asked.append(request.url))
        page.on("pageerror", lambda error: page.complaints.append(str(error)))
        page.on("console", lambda said: said.type == "error" and page.complaints.append(said.text))
        page.goto(address)
        return page

    yield open_
    for context in contexts:
        context.close()


def axe_violations(page: Any) -> list[str]:
    """Return what axe-core finds wrong with a page, one line for each element at fault."""
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate(
        "rules => axe.run(document, {runOnly: {type: 'tag', values: rules}}).then(r => r.violations)",
        _AXE_RULES,
    )
    return [
        f"{rule['id']}: {node['html'][:160]} ({node['failureSummary'][:200]})"
        for rule in found
        for node in rule["nodes"]
    ]


def wait_until(page: Any, expression: str, *, seconds: float = 10.0) -> None:
    """Wait until a JavaScript expression is true, also under a policy that forbids playwright's waiting."""
    ends = time.monotonic() + seconds
    while not page.evaluate(expression):
        assert time.monotonic() < ends, f"not within {seconds:g} s: {expression}"
        page.wait_for_timeout(20)


def leaves_the_file(address: str) -> bool:
    """Whether a requested address lies outside the file that was opened."""
    return not address.startswith(("file:", "data:", "blob:"))


def overflow_px(page: Any) -> int:
    """How far the page reaches beyond its window to the right, in CSS px."""
    width: int = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    return width
