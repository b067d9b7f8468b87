"""Page Talk over HTTP: arranged by its address, shown, and taken along."""

from __future__ import annotations

import html
import io
import re
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import numpy as np
import pytest
import soundfile
from serving import Site, served

from colophony.teaching.demonstrations import DEMONSTRATIONS
from pseudo import spoken_pseudo
from shown import left_over, texts_of

SMALL = "instrument=violin&size=4/4&string=D&slides=corner,starts"


def links(text: str, words: str) -> list[str]:
    """Addresses of the links whose words begin so."""
    found = re.findall(r'<a[^>]*href="([^"]*)"[^>]*>([^<]*)', text)
    return [html.unescape(address) for address, said in found if said.strip().startswith(words)]


def slides_of(address: str) -> list[str]:
    return parse_qs(urlsplit(address).query)["slides"][0].split(",")


def test_the_page_stands_in_the_navigation_and_lists_every_demonstration(site: Site) -> None:
    page = site.client.get("/talk").text
    assert re.search(r'<a href="/talk" aria-current="page"', page)
    for one in DEMONSTRATIONS.values():
        assert html.escape(one.title, quote=False) in html.unescape(page)
    assert len(links(page, "Remove")) == len(DEMONSTRATIONS)


def test_slides_are_moved_removed_and_added_by_links(site: Site) -> None:
    """Without a script, with a keyboard: each link leads to the talk as it then is."""
    page = site.client.get("/talk?slides=corner,map,tilt").text
    assert slides_of(links(page, "Later")[0]) == ["map", "corner", "tilt"]
    assert slides_of(links(page, "Earlier")[2]) == ["corner", "tilt", "map"]
    assert slides_of(links(page, "Remove")[1]) == ["corner", "tilt"]
    assert ["corner", "map", "tilt", "size"] in [slides_of(address) for address in links(page, "Add")]
    assert slides_of(links(page, "Show the talk")[0]) == ["corner", "map", "tilt"]


def test_a_talk_without_slides_says_so_and_offers_them(site: Site) -> None:
    page = site.client.get("/talk?slides=none").text
    assert "No slide is left" in page
    assert links(page, "Show the talk") == []
    assert len(links(page, "Add")) == len(DEMONSTRATIONS)


def test_another_instrument_in_the_form_brings_a_size_and_string_it_has(site: Site) -> None:
    page = site.client.get("/talk?instrument=cello&was=violin&size=1/16&string=E&slides=tilt").text
    assert '<option value="cello" selected>' in page
    assert '<option value="4/4" selected>' in page
    assert slides_of(links(page, "Show the talk")[0]) == ["tilt"]


def test_a_mistake_in_the_address_is_one_line_and_the_page_still_works(site: Site) -> None:
    answer = site.client.get("/talk", params={"string": "<script>x</script>"})
    assert answer.status_code == 400
    assert "<script>x" not in answer.text
    assert len(links(answer.text, "Remove")) == len(DEMONSTRATIONS)
    for address in (
        "/talk/show?slides=encore",
        "/talk/file?size=9/4",
        f"/talk/sound.wav?{SMALL}&slide=corner",
    ):
        assert site.client.get(address).status_code == 400


def test_the_shown_talk_has_its_sounds_from_the_studio(site: Site) -> None:
    """Each at a safe level, 12 dB below full scale."""
    page = site.client.get(f"/talk/show?{SMALL}").text
    sounds = [html.unescape(address) for address in re.findall(r'<audio[^>]*src="([^"]*)"', page)]
    assert len(sounds) == 4
    sound, rate = soundfile.read(io.BytesIO(site.client.get(sounds[0]).content))
    assert rate == 48_000
    assert len(sound) / rate == pytest.approx(2.0, abs=0.1)
    assert np.abs(sound).max() == pytest.approx(10 ** (-12 / 20), rel=0.02)
    assert site.client.get(f"/talk/sound.wav?{SMALL}&slide=corner&stroke=7").status_code == 400


def test_the_file_is_sent_to_be_kept(site: Site) -> None:
    answer = site.client.get(f"/talk/file?{SMALL}")
    assert answer.headers["content-disposition"] == 'attachment; filename="talk-violin-4-4-D.html"'
    assert 'src="data:audio/mp4;base64,' in answer.text


def test_arranging_and_showing_are_said_through_the_catalogue(tmp_path: Path) -> None:
    """In a language that only tests speak, only names, numbers and units stand outside of messages."""
    faults = []
    with spoken_pseudo(), served(tmp_path / "studio") as running:
        running.client.timeout = 120
        for path in (
            "/talk",
            "/talk?slides=none",
            "/talk?string=X",
            f"/talk/show?{SMALL}",
            "/talk/show?size=9",
        ):
            faults += left_over(texts_of(running.client.get(path).text))
    assert faults == [], "\n".join(faults)
