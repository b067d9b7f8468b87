"""The page Score says all it says through the catalogue; the piece alone speaks for itself."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from serving import Site, served

from pseudo import spoken_pseudo
from shown import NAME, left_over, texts_of

pytest.importorskip("verovio")
pytest.importorskip("music21")

EVENING = Path(__file__).parents[2] / "src/colophony/app/score/evening.musicxml"


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    with spoken_pseudo(), served(tmp_path_factory.mktemp("spoken") / "studio") as running:
        yield running


def test_every_sentence_of_the_page_passes_through_the_catalogue(site: Site) -> None:
    """What the file says itself (title, part, words in the music) is replaced by a name that is known."""
    piece = EVENING.read_text("utf-8").replace("Evening on the Hill", NAME).replace(">Violin<", f">{NAME}<")
    piece = piece.replace(">Calm<", f">{NAME}<")
    student = site.client.post(
        "/students",
        data={"name": NAME, "instrument": "violin", "size": "4/4", "age": "child", "reader": "child"},
    ).url.path.rpartition("/")[2]
    first = site.client.get("/score")
    sent = site.client.post("/score", files={"score": (f"{NAME}.musicxml", piece.encode())})
    child = site.client.get(sent.url.path, params={"student": student})
    split = site.client.get(sent.url.path, params={"change": "split:p0m11n0"})
    wrong = site.client.get(sent.url.path, params={"tempo": "9"})
    gone = site.client.post(f"{sent.url.path}/forget")
    for page in (first, sent, child, split, wrong, gone):
        assert left_over(texts_of(page.text)) == []
