"""The page of a score, the plan under it, and how it sounds."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest
import score_pieces as pieces

from colophony.app.bow import RATE_HZ
from colophony.app.look.pen import Pen
from colophony.app.look.tokens import INK, LIGHT
from colophony.app.score import playing
from colophony.app.score.annotated import with_bowings
from colophony.app.score.engraving import Page, engrave
from colophony.app.score.moving import clock_of
from colophony.app.score.opening import read_score
from colophony.app.score.picture import NARROW, WIDE, drawn_lines, picture
from colophony.app.score.plan import plan_score
from colophony.app.score.ribbon import lines_of
from colophony.app.score.saying import place_word, point_figure, weight_span
from colophony.app.score.values import PlannedScore, Request
from colophony.errors import InputError
from colophony.language import speaking

pytest.importorskip("verovio")
pytest.importorskip("music21")

EVENING = Path(__file__).parents[2] / "src/colophony/app/score/evening.musicxml"
_SVG = "{http://www.w3.org/2000/svg}"
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def plan(data: bytes, **request: Any) -> PlannedScore:
    return plan_score(read_score(data, name="piece.musicxml"), Request(**request), computed=False)


@pytest.fixture(scope="module")
def evening() -> PlannedScore:
    return plan(EVENING.read_bytes())


@pytest.fixture(scope="module")
def repeated() -> PlannedScore:
    """Three strokes to a bar, repeated: the second time the bow begins where the first one ended."""
    bar = pieces.note("D4", 1) * 3
    return plan(pieces.simple(bar + pieces.repeat("backward"), metre="3/4", quarters=90))


@pytest.fixture(scope="module")
def page(evening: PlannedScore) -> Page:
    return engrave(with_bowings(evening), 0, width=500)


def ways(drawing: str) -> dict[int, list[tuple[float, float]]]:
    """The outline of each stroke's line, by the stroke's index."""
    root = ET.fromstring(f'<svg xmlns="http://www.w3.org/2000/svg">{drawing}</svg>')
    found = {}
    for group in root.iter(f"{_SVG}g"):
        if group.get("class") == "way":
            path = group.find(f"{_SVG}path")
            assert path is not None
            numbers = [float(n) for n in _NUMBER.findall(path.get("d", ""))]
            found[int(group.get("data-stroke", ""))] = list(zip(numbers[::2], numbers[1::2], strict=True))
    return found


def test_every_note_stands_on_the_page_and_what_sounds_later_stands_farther_right(
    evening: PlannedScore, page: Page
) -> None:
    assert len(page.systems) > 1
    seen = {id_ for system in page.systems for id_ in system.places}
    assert {id_ for event in evening.part.events for id_ in event.element_ids} <= seen
    for system in page.systems:
        here = [e for e in evening.part.events if e.element_ids and e.element_ids[0] in system.places]
        xs = [system.places[e.element_ids[0]].middle for e in here]
        assert all(a < b for a, b in pairwise(xs))
        assert system.music_left <= min(xs)
        assert max(xs) < system.music_right <= page.width + 1


def test_lines_of_music_hold_all_measures_once(page: Page, evening: PlannedScore) -> None:
    measures = [k for s in page.systems for k in range(s.first_measure, s.last_measure + 1)]
    assert measures == [measure.index for measure in evening.part.measures]


def test_a_down_bow_falls_and_an_up_bow_rises_from_its_note_on(evening: PlannedScore, page: Page) -> None:
    """Down on the page is towards the tip: on every line of music, for every stroke that uses hair."""
    checked = 0
    for line in lines_of(evening, page, Pen(LIGHT)):
        for index, outline in ways(line.drawing).items():
            stroke = evening.plan.strokes[index]
            left, right = min(outline), max(outline)
            assert (right[1] > left[1]) == (stroke.direction == "down"), stroke
            place = line.system.places.get(stroke.element_ids[0])
            assert place is not None
            assert left[0] == pytest.approx(place.middle, abs=4)
            checked += 1
    assert checked == len(evening.plan.strokes)


def test_hair_that_runs_out_is_told_by_sign_word_and_colour(evening: PlannedScore) -> None:
    assert [stroke.measure for stroke in evening.plan.failing] == ["9"]
    drawn = picture(evening)
    assert ">hair runs out</text>" in drawn
    colour = LIGHT.states["raucous"]  # type: ignore[index]
    assert drawn.count(colour) >= 4  # its line, its ragged end, the sign and the word
    longer = plan(EVENING.read_bytes(), tempo=140.0)
    assert longer.plan.failing == ()
    assert colour not in picture(longer)


def test_a_repeat_that_is_bowed_otherwise_is_drawn_faintly(repeated: PlannedScore) -> None:
    """Three strokes and a repeat end a stroke farther along the bow than they began: the second time goes
    otherwise, by direction or by more than 5 cm, and stands beside the first.
    """
    strokes = repeated.plan.strokes
    assert [s.passing for s in strokes] == [1, 1, 1, 2, 2, 2]
    drawn = "".join(str(line.svg) for line in drawn_lines(repeated, width=WIDE, prefix="w"))
    otherwise = [
        again
        for first, again in zip(strokes, strokes[3:], strict=False)
        if first.direction != again.direction or abs(first.start_at_mm - again.start_at_mm) > 50.0
    ]
    assert len(otherwise) == 3
    assert drawn.count('fill-opacity="0.45"') == 2 * len(otherwise)  # line and point


def test_time_on_the_page_runs_once_for_each_time_through(repeated: PlannedScore) -> None:
    """Two times three quarters at 90: two seconds each (60 / 90 s a quarter)."""
    (line,) = drawn_lines(repeated, width=WIDE, prefix="w")
    assert len(line.beats) == 2
    for run, start in zip(line.beats, (0.0, 2.0), strict=True):
        assert run[0][0] == pytest.approx(start)
        assert run[-1][0] == pytest.approx(start + 2.0)
        assert all(a[0] < b[0] and a[1] < b[1] for a, b in pairwise(run))


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_a_drawing_keeps_within_its_frame_and_says_what_it_shows(evening: PlannedScore, width: float) -> None:
    for line in drawn_lines(evening, width=width, prefix="p"):
        root = ET.fromstring(str(line.svg).replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))
        _x, _y, across, down = map(float, root.get("viewBox", "").split())
        assert across == width
        for text in root.iter(f"{_SVG}text"):
            assert 0 <= float(text.get("x", "0")) <= across
            assert 0 <= float(text.get("y", "0")) <= down
        title, text = root.find(f"{_SVG}title"), root.find(f"{_SVG}desc")
        assert title is not None
        assert "easure" in (title.text or "")
        assert text is not None
        assert "bow" in (text.text or "")
        assert root.get("role") == "img"


def test_a_picture_stands_alone(evening: PlannedScore) -> None:
    """An SVG file: well formed, with its typefaces inside, nothing from elsewhere, no colour of a page."""
    drawn = picture(evening, theme=INK)
    root = ET.fromstring(drawn)
    assert root.tag == f"{_SVG}svg"
    addresses = [v for e in root.iter() for k, v in e.attrib.items() if k.endswith("href")]
    names = {e.get("id") for e in root.iter()}
    assert addresses
    assert all(address.startswith("#") and address[1:] in names for address in addresses)
    assert "var(--" not in drawn
    assert "Evening on the Hill" in drawn


def test_any_thread_may_draw(evening: PlannedScore) -> None:
    """verovio tells only the thread that imported it where its glyphs are."""
    with ThreadPoolExecutor(2) as pool:
        drawings = list(pool.map(lambda _: picture(evening), range(3)))
    assert len(set(drawings)) == 1


def test_figures_have_the_languages_decimal_mark(evening: PlannedScore) -> None:
    """The decimal mark of German is the comma (DIN 1333)."""
    stroke = evening.plan.strokes[7]
    english = weight_span(stroke)
    assert "." in english
    with speaking("de"):
        assert weight_span(stroke) == english.replace(".", ",")


@pytest.mark.parametrize(
    ("point", "says"), [(1.0, "1"), (1.2, "1"), (1.3, "1½"), (2.74, "2½"), (2.76, "3"), (5.0, "5")]
)
def test_sounding_points_are_told_to_the_half(point: float, says: str) -> None:
    assert point_figure(point) == says


@pytest.mark.parametrize(
    ("at_mm", "says"), [(0, "frog"), (80, "frog"), (163, "¼"), (325, "middle"), (500, "¾"), (650, "tip")]
)
def test_places_on_the_bow_are_told_to_the_quarter(at_mm: float, says: str) -> None:
    assert place_word(at_mm, 650.0) == says


# How it sounds


def test_a_stroke_sounds_in_tune_for_as_long_as_it_lasts(evening: PlannedScore) -> None:
    """ISO 16: A4 is 440 Hz, so that B4 is 493.88 Hz in equal temperament. A bowed string may differ from a
    ringing one: 12 cents, our own figure, as on the bench.
    """
    stroke = evening.plan.strokes[7]
    assert stroke.notes == ("B4",)
    sound = playing.stroke_sound(evening, stroke.index)
    assert len(sound) / RATE_HZ == pytest.approx(stroke.seconds + 0.25, abs=0.02)
    steady = sound[RATE_HZ // 2 : 2 * RATE_HZ]
    count = 16 * len(steady)
    spectrum = np.abs(np.fft.rfft(steady * np.hanning(len(steady)), count))
    low, high = (round(hz * count / RATE_HZ) for hz in (450, 540))
    pitch_hz = (low + spectrum[low:high].argmax()) * RATE_HZ / count
    assert 1200 * np.log2(pitch_hz / 493.88) == pytest.approx(0, abs=12)


def test_a_planned_stroke_settles_into_one_slip_a_period(evening: PlannedScore) -> None:
    """What the plan is for: read from the simulated string's velocity, by rules that know no plan."""
    long_ones = [s.index for s in evening.plan.strokes if len(s.notes) == 1 and s.seconds > 1.5]
    states = [playing.stroke_state(evening, index) for index in long_ones]
    assert states.count("helmholtz") >= len(states) - 1, states
    assert len(states) >= 4


def test_of_a_slur_nothing_is_told(evening: PlannedScore) -> None:
    assert playing.stroke_state(evening, 3) is None


def test_a_slur_changes_its_note_under_one_bow(evening: PlannedScore) -> None:
    """B4, C5, D5 a quarter each at 72: the strongest partial of each is a whole multiple of its note."""
    stroke = evening.plan.strokes[3]
    assert stroke.notes == ("B4", "C5", "D5")
    sound = playing.stroke_sound(evening, stroke.index)
    quarter = round(60 / 72 * RATE_HZ)
    for k, hertz in enumerate((493.88, 523.25, 587.33)):
        part = sound[k * quarter + quarter // 3 : (k + 1) * quarter - quarter // 8]
        count = 16 * len(part)
        spectrum = np.abs(np.fft.rfft(part * np.hanning(len(part)), count))
        first = round(200 * count / RATE_HZ)
        strongest = (first + spectrum[first:].argmax()) * RATE_HZ / count
        partial = max(1, round(strongest / hertz))
        assert 1200 * np.log2(strongest / (partial * hertz)) == pytest.approx(0, abs=15)


def test_nothing_is_louder_than_is_safe(evening: PlannedScore) -> None:
    """Hearing: a peak of at most 0.35 of full scale, about 9 dB below it; our own figure."""
    block = playing.blocks_of(evening)[-1]  # the loud end, with its double stop
    sound = playing.block_sound(evening, block)
    assert 0.05 < np.abs(sound).max() <= 0.35


def test_the_shortest_notes_are_bowed_too(evening: PlannedScore) -> None:
    """Sixteenths at 300 last 50 ms, of which a staccato sounds half."""
    run = pieces.note("D5", 0.25, marks=["staccato"]) * 2 + pieces.note("E5", 0.25) * 2
    piece = plan(pieces.simple(run * 4, quarters=300))
    sound = playing.piece_sound(piece)
    assert np.isfinite(sound).all()
    assert 0.01 < np.abs(sound).max() <= 0.35


def test_blocks_follow_each_other_and_hold_every_stroke_once(evening: PlannedScore) -> None:
    blocks = playing.blocks_of(evening)
    assert [index for block in blocks for index in block.strokes] == list(range(len(evening.plan.strokes)))
    clock = clock_of(evening)
    for block in blocks:
        assert block.start_s == clock.at(evening.plan.strokes[block.strokes[0]].onset_ql)


def test_what_is_plucked_is_silent_and_said_to_be(evening: PlannedScore) -> None:
    piece = plan(pieces.simple(pieces.words("pizz.") + pieces.note("D4", 4)))
    assert piece.plan.strokes[0].is_plucked
    assert not playing.piece_sound(piece).any()
    with pytest.raises(InputError, match="plucked"):
        playing.stroke_sound(piece, 0)
    with pytest.raises(InputError, match="no stroke 21"):
        playing.stroke_sound(evening, 20)


def test_a_piece_that_is_too_long_to_play_says_so(
    evening: PlannedScore, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The example is 49 quarters long: 41 s at 72 a minute."""
    monkeypatch.setattr(playing, "LONGEST_S", 42.0)
    assert playing.blocks_of(evening)
    monkeypatch.setattr(playing, "LONGEST_S", 40.0)
    with pytest.raises(InputError, match="listen to single strokes"):
        playing.blocks_of(evening)
