"""The sounding week: one offline file whose tones are simulations of the instrument's own string."""

from __future__ import annotations

import base64
import hashlib
import html
import io
import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from plan_samples import sample_plan

from browser import OpenPage, axe_violations, leaves_the_file, overflow_px, wait_until
from colophony.app.week import make_week_page
from colophony.app.week.strokes import USUAL, PlayedExercise, play_exercise
from colophony.app.week.words import FAILINGS, failing_words
from colophony.errors import InputError
from colophony.teaching.exercises.exercise import AIMS
from colophony.teaching.exercises.library import find_exercise, library
from colophony.teaching.exercises.targets import targets_of
from colophony.teaching.findings import READERS


@dataclass(frozen=True)
class Made:
    """A page, the exercises as they were played for it, and its sound [n] at a rate."""

    page: str
    played: tuple[PlayedExercise, ...]
    sound: Any
    rate_hz: int
    spans: tuple[tuple[float, float], ...]


@pytest.fixture(scope="module")
def made() -> Made:
    """Two exercises on a violin: hold a sounding point (fails too near), crescendo (the weight stays)."""
    played: list[PlayedExercise] = []

    def play(*given: Any, **more: Any) -> PlayedExercise:
        played.append(play_exercise(*given, **more))
        return played[-1]

    page = make_week_page(sample_plan(items=2), student="Mira <b>", play=play)
    address = re.search(r'src="data:audio/mp4;base64,([^"]+)"', page)
    assert address is not None
    with av.open(io.BytesIO(base64.b64decode(address.group(1)))) as container:
        rate = container.streams.audio[0].rate
        sound = np.concatenate([frame.to_ndarray()[0] for frame in container.decode(audio=0)])
    spans = re.findall(r'data-start="([\d.]+)" data-end="([\d.]+)"', page)
    return Made(page, tuple(played), sound, rate, tuple((float(a), float(b)) for a, b in spans))


def heard(made: Made, index: int) -> Any:
    """The last second of a tone."""
    start, end = made.spans[index]
    return made.sound[round(max(start, end - 1.0) * made.rate_hz) : round(end * made.rate_hz)]


def test_target_sings_and_failure_fails(made: Made) -> None:
    """The target keeps one slip a period; the failure is another state, or a start players do not accept."""
    for one in made.played:
        assert one.target.bowed.told_state == "helmholtz"
        assert one.failure is not None
        failed = one.failure.bowed
        assert failed.told_state != "helmholtz" or failed.start.accepted is False
    assert [one.failure and one.failure.failing for one in made.played] == ["too-near", "weight-stays"]


def test_the_target_is_the_stroke_that_the_plan_asks_for(made: Made) -> None:
    for item, one in zip(sample_plan(items=2).items, made.played, strict=True):
        asked, request = item.targets[0].end, one.target.bowed.request
        assert request.distance_mm == pytest.approx(asked.distance_mm, abs=0.05)
        assert request.weight_n == pytest.approx(asked.weight_n)
        assert request.speed_cm_s == pytest.approx(item.targets[0].speed_cm_s)


def test_the_carried_sound_is_that_of_the_string(made: Made) -> None:
    """The open A sounds at 440 Hz (ISO 16), within 10 cents; what fails sounds otherwise."""
    tone = heard(made, 0) * np.hanning(len(heard(made, 0)))
    spectrum = np.abs(np.fft.rfft(tone, 8 * len(tone)))
    hertz = np.fft.rfftfreq(8 * len(tone), 1.0 / made.rate_hz)
    harmonic = np.array([spectrum[np.argmin(np.abs(hertz - k * 440.0))] for k in range(1, 7)])
    near = (hertz > 400.0) & (hertz < 480.0)
    peak = float(hertz[near][np.argmax(spectrum[near])])
    assert abs(1200.0 * np.log2(peak / 440.0)) < 10.0
    assert harmonic.max() > 20.0 * np.median(spectrum)
    shapes = [np.abs(np.fft.rfft(heard(made, k)))[:5000] for k in (0, 1)]
    likeness = np.corrcoef(
        np.log(shapes[0][: min(map(len, shapes))]), np.log(shapes[1][: min(map(len, shapes))])
    )
    assert likeness[0, 1] < 0.95


def test_tones_are_parted_by_silence_and_none_is_loud(made: Made) -> None:
    """12 dB of room below full scale (`SAFE_PEAK_DB`), an encoder's ripple of 1 dB allowed."""
    assert np.abs(made.sound).max() < 10 ** (-11.0 / 20.0)
    for (_, end), (start, _) in zip(made.spans, made.spans[1:], strict=False):
        between = made.sound[round((end + 0.08) * made.rate_hz) : round((start - 0.08) * made.rate_hz)]
        assert len(between) > 0
        assert np.abs(between).max() < 0.01


def test_the_page_carries_all_it_needs_and_may_load_nothing_else(made: Made) -> None:
    """W3C Content Security Policy 3: nothing by default, and the hashes are those of its own two texts."""
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', made.page)
    assert policy is not None
    rules = html.unescape(policy.group(1))
    assert rules.startswith("default-src 'none'")
    for kind in ("style", "script"):
        [text] = re.findall(rf"<{kind}>(.*?)</{kind}>", made.page, re.DOTALL)
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{kind}-src 'sha256-{digest}'" in rules
    addresses = re.findall(r'(?:src|href)="([^"#][^"]*)"', made.page)
    assert all(address.startswith("data:") for address in addresses)
    assert not re.search(r"@import|url\((?!\"data:)", made.page)


def test_the_page_is_small_enough_to_mail(made: Made) -> None:
    """Two exercises well below 1 MB beside the typefaces: a week of six below 5 MB."""
    assert len(made.page.encode()) < 1_200_000


def test_the_page_says_what_was_done_wrong_to_three_readers(made: Made) -> None:
    text = html.unescape(made.page)
    for one in made.played:
        assert one.failure is not None
        words = failing_words(one.failure, one.target)
        for reader in READERS:
            assert words.to(reader) in text
            assert one.failure.bowed.says(reader) in text
    assert "Turn the volume down before the first tone" in text
    assert "Mira <b>" in text
    assert "Mira <b>" not in made.page


def test_the_drawn_string_is_the_one_that_is_heard(made: Made) -> None:
    """Two vibrations of the simulation's own shapes, the bridge at rest."""
    moved = [json.loads(html.unescape(one)) for one in re.findall(r'data-moving="([^"]+)"', made.page)]
    assert len(moved) == 4
    for one in moved:
        assert len(one["ys"]) > 20
        assert one["frequency_hz"] == pytest.approx(440.0, rel=0.01)
        assert len({row[0] for row in one["ys"]}) == 1
    assert max(max(row) for row in moved[0]["ys"]) > max(max(row) for row in moved[1]["ys"])


def test_what_cannot_be_played_is_told_without_sound() -> None:
    def play(*_: Any, **__: Any) -> PlayedExercise:
        raise InputError("too short a string")

    page = make_week_page(sample_plan(items=1), play=play)
    assert "told without sound" in page
    assert "<audio" not in page
    assert "<script>" not in page


def test_every_kind_of_exercise_has_its_usual_failures_and_every_failure_its_words() -> None:
    assert set(USUAL) == set(AIMS)
    assert {failing for ways in USUAL.values() for failing in ways} == set(FAILINGS)


#: What too much and too little weight make of a string (Schoonderwaldt, Guettler and Askenfelt 2008).
STATES = {"too-heavy": {"raucous", "low-anomalous", "s-motion"}, "too-light": {"multiple-slip"}}


@pytest.mark.parametrize(
    ("instrument", "size", "key"),
    [
        ("cello", "4/4", "start-middle"),
        ("violin", "1/8", "fast-light-half"),
        ("viola", "4/4", "reference-open-strings"),
    ],
)
def test_other_instruments_play_too(instrument: str, size: str, key: str) -> None:
    """On each a clear target, and a failure whose state is that of what was done wrong."""
    exercise = find_exercise(key, library())
    target = targets_of(exercise, instrument, size)[0]
    played = play_exercise(exercise, target, instrument=instrument, size=size)
    assert played.target.bowed.told_state == "helmholtz"
    assert played.failure is not None
    assert played.failure.failing in USUAL[exercise.aim]
    failed = played.failure.bowed
    if played.failure.failing == "creeps-in":
        assert failed.start.accepted is False
    else:
        assert failed.told_state in STATES[played.failure.failing]


def test_a_crescendo_grows_and_ends_where_it_should(made: Made) -> None:
    """Nearer and heavier is louder: the level follows speed over contact distance (Helmholtz motion)."""
    bowed = made.played[1].target.bowed
    item = sample_plan(items=2).items[1]
    force = bowed.motion.bridge_force_n
    third = len(force) // 3
    first, last = (float(np.std(part)) for part in (force[third // 2 : third], force[-third:]))
    assert 20.0 * np.log10(last / first) > 3.0
    length_mm = 1000.0 * bowed.length_m
    assert bowed.motion.beta * length_mm == pytest.approx(item.targets[0].end.distance_mm, abs=1.5)


# --- in a browser


@pytest.fixture(scope="module")
def address(made: Made, tmp_path_factory: pytest.TempPathFactory) -> str:
    path: Path = tmp_path_factory.mktemp("week") / "week.html"
    path.write_text(made.page, encoding="utf-8")
    return path.as_uri()


@pytest.mark.parametrize(("width", "scheme"), [(1100, "light"), (320, "dark")])
def test_the_page_breaks_no_rule_and_fits_a_phone(
    open_page: OpenPage, address: str, width: int, scheme: str
) -> None:
    """WCAG 2.2 A and AA as far as axe-core 4.14 can tell; 1.4.10: no scrolling to the side at 320 px."""
    page = open_page(address, width=width, scheme=scheme)
    wait_until(page, "document.querySelector('audio').readyState >= 1")
    assert axe_violations(page) == []
    assert overflow_px(page) == 0
    assert [asked for asked in page.asked if leaves_the_file(asked)] == []
    assert page.complaints == []


def test_slow_motion_plays_slower_and_moves_the_string(open_page: OpenPage, address: str) -> None:
    """By the keyboard: a quarter of the speed, lower in pitch, from the tone's start; Escape ends it."""
    page = open_page(address)
    before = page.locator(".tone .now").nth(1).get_attribute("d")
    button = page.get_by_role("button", name="Slow motion").nth(1)
    button.focus()
    page.keyboard.press("Enter")
    start = float(page.locator(".tone").nth(1).get_attribute("data-start"))
    wait_until(page, f"document.querySelector('audio').currentTime > {start + 0.05}")
    assert page.evaluate("document.querySelector('audio').playbackRate") == 0.25
    assert page.evaluate("document.querySelector('audio').preservesPitch") is False
    assert page.locator(".tone .now").nth(1).get_attribute("d") != before
    page.keyboard.press("Escape")
    wait_until(page, "document.querySelector('audio').paused")


def test_a_tone_plays_from_its_start_to_its_end(open_page: OpenPage, address: str) -> None:
    page = open_page(address)
    end = float(page.locator(".tone").first.get_attribute("data-end"))
    page.get_by_role("button", name="Play The tone to look for").first.click()
    wait_until(page, "document.querySelector('.tone').classList.contains('sounding')")
    wait_until(page, "document.querySelector('audio').currentTime > 0.5")
    assert page.evaluate("document.querySelector('audio').playbackRate") == 1
    wait_until(page, "document.querySelector('audio').paused")
    assert page.evaluate("document.querySelector('audio').currentTime") == pytest.approx(end, abs=0.25)


def test_without_scripts_the_page_reads_and_plays_as_a_whole(open_page: OpenPage, address: str) -> None:
    page = open_page(address, javascript=False)
    assert page.locator("audio").is_visible()
    assert page.get_by_role("button", name="Slow motion").count() == 0
    assert page.get_by_role("heading", name="Short bows in one lane").is_visible()
