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


def picture_of_a_week(folder: Path) -> None:
    """Write the first exercises of an invented week's sheet."""
    pdf = folder / "week.pdf"
    asked = ["--instrument", "violin", "--size", "1/2", "--reader", "adult", "--pdf", str(pdf)]
    subprocess.run([sys.executable, "-m", "colophony", "sheet", *asked], check=True)
    part = ["-x", "60", "-y", "288", "-W", "960", "-H", "308"]
    made = ["-r", "130", "-png", "-singlefile", "-f", "1", "-l", "1", *part]
    subprocess.run(["pdftoppm", *made, str(pdf), str(IMAGES / "week")], check=True)


def picture_of_a_score(folder: Path) -> None:
    """Write the picture of the example's bow plan."""
    score = ROOT / "src/colophony/app/score/evening.musicxml"
    asked = [str(score), "--picture", str(IMAGES / "score.png")]
    subprocess.run([sys.executable, "-m", "colophony", "score", *asked], check=True)


if __name__ == "__main__":
    IMAGES.mkdir(parents=True, exist_ok=True)
    with TemporaryDirectory() as folder:
        subprocess.run([sys.executable, "-m", "colophony", "demo", "--out", folder], check=True)
        photograph(Path(folder) / f"{TAKE}.html", IMAGES / "page.png")
        sheet = [str(Path(folder) / f"{TAKE}.pdf"), str(IMAGES / "sheet")]
        subprocess.run(["pdftoppm", "-r", "90", "-png", "-singlefile", *sheet], check=True)
        picture_of_a_week(Path(folder))
        picture_of_a_score(Path(folder))
