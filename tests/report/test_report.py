"""The findings file, read as text."""

from __future__ import annotations

import base64
import io
import re
import time
from datetime import UTC, datetime
from html.parser import HTMLParser
from pathlib import Path

import av
import numpy as np
import pytest
import soundfile
from samples import HOSTILE, findings, lesson, write_ticks

from colophony.app.report import make_report
from colophony.app.report.sound import encode_sound
from colophony.errors import TakeError
from colophony.listening.take import ToneState
from colophony.teaching.cautions import ON_EVERY_SHEET, caution
from factories import make_stroke, make_take


class Reader(HTMLParser):
    """Collects elements and their attributes, and the text outside style and script."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self._silent = 0
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        self._silent += tag in {"style", "script"}

    def handle_endtag(self, tag: str) -> None:
        self._silent -= tag in {"style", "script"}

    def handle_data(self, data: str) -> None:
        if not self._silent:
            self.text += data


def test_the_page_reads_in_a_teachers_order() -> None:
    """First what was heard, then the one thing to work on, the strokes, and last the cautions."""
    found = findings()
    text = Reader(make_report(found, reader="teacher")).text
    order = [
        found.summary.headline.teacher,
        "The one thing to work on",
        found.summary.check.teacher,
        "Stroke by stroke",
        "Take care",
    ]
    places = [text.index(words) for words in order]
    assert places == sorted(places)


def test_every_stroke_tells_state_note_sentence_and_advice() -> None:
    """Nothing that was found about a stroke is missing from the page."""
    found = findings()
    text = " ".join(Reader(make_report(found)).text.split())
    assert "pressed" in text
    assert "A4" in text
    for items in found.advice:
        for item in items:
            for words in (item.say.child, item.say.adult, item.say.teacher, item.why):
                assert " ".join(words.split()) in text
    for name in ON_EVERY_SHEET:
        assert caution(name, reader="teacher") in text


def test_names_from_outside_stay_text() -> None:
    """A student's or a file's name that looks like markup is shown, not obeyed."""
    page = make_report(findings(), student=HOSTILE, title=HOSTILE)
    assert HOSTILE not in page
    assert HOSTILE in Reader(page).text
    assert not [tag for tag, _ in Reader(page).elements if tag == "b" and "Mira" in tag]
    assert page.count("</script>") == 0  # without sound there is no script to close


def test_the_page_names_its_language_and_itself() -> None:
    """WCAG 2.2, 2.4.2 and 3.1.1: a page has a title and a language."""
    page = make_report(findings(), title="Mira, 3 March", generated=datetime(2026, 3, 3, 17, 20, tzinfo=UTC))
    assert '<html lang="en">' in page
    assert "<title>Mira, 3 March – Colophony</title>" in page
    assert "3 March 2026, 17:20" in page


def test_the_page_refers_to_nothing_outside() -> None:
    """Whatever it needs lies inside: the only addresses are pieces of data and places on the page itself."""
    page = Reader(make_report(findings()))
    for tag, attributes in page.elements:
        for name in ("src", "href", "data", "action", "poster", "srcset"):
            address = attributes.get(name)
            assert address is None or address.startswith(("data:", "#")), (tag, address)
    style = make_report(findings()).split("<style>")[1].split("</style>")[0]
    assert all(address.startswith('"data:') for address in re.findall(r"url\(([^)]{0,6})", style))


def test_a_take_without_strokes_still_makes_a_page() -> None:
    """Silence is a finding too."""
    text = Reader(make_report(findings(make_take(file="quiet.wav", strokes=())))).text
    assert "Stroke by stroke" not in text
    assert "Take care" in text


def test_the_same_advice_is_told_once() -> None:
    """Where ten strokes ask for the same change it is explained once, and the others point to it."""
    page = Reader(make_report(findings(lesson(12))))
    assert page.text.count("as for stroke 1.") == 3
    drawings = [a.get("aria-label") for tag, a in page.elements if tag == "svg" and a.get("aria-label")]
    assert len(drawings) < 8


def test_a_long_lesson_puts_strokes_with_advice_first() -> None:
    """300 strokes: those to hear again stand first, the others are folded away; under 3 MB and 6 s."""
    take = lesson()
    found = findings(take)
    began = time.perf_counter()
    page = make_report(found)
    assert time.perf_counter() - began < 6.0
    assert len(page) < 3_000_000
    text = Reader(page).text
    advised = sum(bool(items) for items in found.advice)
    assert f"The other {300 - advised} strokes" in text
    assert text.index("Strokes to hear again") < text.index(f"The other {300 - advised} strokes")


def test_carried_sound_keeps_the_takes_time_scale(tmp_path: Path) -> None:
    """A stroke's seconds mean the same in the carried sound: bursts are found where they were, within 5 ms.

    Decoded by PyAV, which honours the container's edit list as a browser does; a stroke starts no more
    sharply than that.
    """
    at_s = (0.5, 2.25, 6.0)
    path = write_ticks(tmp_path / "ticks.wav", seconds=7.0, at_s=at_s)
    carried = encode_sound(path, duration_s=7.0)
    assert not carried.cut
    assert carried.seconds == pytest.approx(7.0, abs=0.001)
    with av.open(io.BytesIO(carried.content)) as container:
        (stream,) = container.streams.audio
        assert (stream.codec_context.name, stream.codec_context.channels) == ("aac", 1)
        pieces = [(frame.time, frame.to_ndarray()[0]) for frame in container.decode(stream)]
    for burst_s in at_s:
        near = [
            time_s + k / 44100
            for time_s, piece in pieces
            for k in np.flatnonzero(np.abs(piece) > 0.3)
            if abs(time_s + k / 44100 - burst_s) < 0.2
        ]
        assert near[0] == pytest.approx(burst_s, abs=0.005)


def test_sound_beyond_the_limit_is_left_out_and_the_page_says_so(tmp_path: Path) -> None:
    """A cut is told, and a stroke that is not carried offers no button."""
    take = make_take(make_stroke(0.2, 1.0), make_stroke(4.0, 5.0))
    path = write_ticks(tmp_path / "ticks.wav", seconds=6.0, at_s=(0.2,))
    page = make_report(findings(take), path, longest_s=3.0)
    assert "This file carries the first" in page
    assert page.count("data-play=") == 1


def test_the_sound_of_a_tone_stays_small(tmp_path: Path) -> None:
    """About 96 kb/s: 20 s of a bright tone (a sawtooth, as a bowed string moves) take less than 270 kB."""
    times = np.arange(20 * 44100) / 44100
    path = tmp_path / "tone.wav"
    soundfile.write(path, (0.3 * (2 * ((220.0 * times) % 1.0) - 1)).astype(np.float32), 44100)
    assert 60_000 < len(encode_sound(path, duration_s=20.0).content) < 270_000


def test_a_file_that_is_no_recording_is_refused_in_one_line(tmp_path: Path) -> None:
    """Bad input gets one clear line."""
    path = tmp_path / "notes.txt"
    path.write_text("no sound at all")
    with pytest.raises(TakeError) as refused:
        make_report(findings(), path)
    assert "\n" not in str(refused.value)


def test_the_carried_sound_is_inside_the_page(tmp_path: Path) -> None:
    """The audio element's address is the encoded sound itself, in an MP4 container."""
    path = write_ticks(tmp_path / "ticks.wav", seconds=6.0, at_s=(1.0,))
    (audio,) = (a for tag, a in Reader(make_report(findings(), path)).elements if tag == "audio")
    kind, data = str(audio["src"]).split(",", 1)
    assert kind == "data:audio/mp4;base64"
    assert base64.b64decode(data)[4:8] == b"ftyp"


def test_unsure_strokes_are_told_as_unsure() -> None:
    """What the take cannot tell is never dressed up as a verdict."""
    take = make_take(make_stroke(state=ToneState.UNSURE, spans=(), note=None, frequency_hz=None, cents=None))
    text = Reader(make_report(findings(take))).text
    assert "unsure" in text
    assert "None" not in text
