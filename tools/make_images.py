"""Makes the pictures of the documents from what the program really writes: ``python tools/make_images.py``.

Needs Chromium and pdftoppm. Look at the pictures before you commit them.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from playwright.sync_api import sync_playwright

ROOT = Path(__file__).parent.parent
IMAGES = ROOT / "docs/images"
TAKE = "synthetic-violin-pressed-bow"


def photograph(page_file: Path, picture: Path) -> None:
    """Write what a browser window of 1100 by 680 pixels shows of a page."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", "--headless"]
        )
        page = browser.new_page(viewport={"width": 1100, "height": 680}, device_scale_factor=1.5)
        page.goto(page_file.as_uri())
        page.wait_for_timeout(500)  # for the fonts
        page.screenshot(path=picture)
        browser.close()


if __name__ == "__main__":
    IMAGES.mkdir(parents=True, exist_ok=True)
    with TemporaryDirectory() as folder:
        subprocess.run([sys.executable, "-m", "colophony", "demo", "--out", folder], check=True)
        photograph(Path(folder) / f"{TAKE}.html", IMAGES / "page.png")
        sheet = [str(Path(folder) / f"{TAKE}.pdf"), str(IMAGES / "sheet")]
        subprocess.run(["pdftoppm", "-r", "90", "-png", "-singlefile", *sheet], check=True)
