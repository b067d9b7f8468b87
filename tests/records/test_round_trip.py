"""Whatever can be found in a take comes back from the studio as it went in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, replace
from pathlib import Path
from typing import get_args

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as stnp

from colophony.errors import StudioError
from colophony.listening.take import (
    Brightness,
    Evidence,
    Instrument,
    Onset,
    Span,
    Steadiness,
    Stroke,
    Take,
    ToneState,
    Track,
)
from colophony.records.codec import from_plain, pack_track, unpack_track
from colophony.records.studio import Studio
from colophony.teaching.exercises.plain import to_plain
from colophony.teaching.findings import Advice, Findings, Say, Summary, Turn, Variable
from studio_samples import NOON, add_consented, make_findings, write_recording

NUMBER = st.floats(allow_nan=False, allow_infinity=False)
MAYBE = st.none() | NUMBER
SHARE = st.floats(0, 1)
TEXT = st.text(max_size=40)
SAY = st.builds(Say, TEXT, TEXT, TEXT)
EVIDENCE = st.builds(Evidence, TEXT, st.dictionaries(TEXT, NUMBER | TEXT | st.integers(-9, 9), max_size=3))
SPAN = st.builds(Span, NUMBER, NUMBER, st.sampled_from(ToneState), SHARE)
STROKE_FIELDS = {
    "start_s": NUMBER,
    "end_s": NUMBER,
    "note": st.none() | st.sampled_from(["C2", "F#4", "E7"]),
    "frequency_hz": MAYBE,
    "cents": MAYBE,
    "state": st.sampled_from(ToneState),
    "confidence": SHARE,
    "spans": st.lists(st.builds(Span, NUMBER, NUMBER, st.sampled_from(ToneState), SHARE), max_size=3).map(
        tuple
    ),
    "bow": st.sampled_from([None, "down", "up"]),
    "way": st.sampled_from([None, "one", "other"]),
    "reversal": st.booleans(),
    "onset": st.builds(
        Onset,
        st.sampled_from([None, "clean", "slow", "very-slow"]),
        MAYBE,
        MAYBE,
        st.sampled_from(["clean", "creaking", "slipping", "unknown"]),
        st.none() | st.booleans(),
    ),
    "steadiness": st.builds(Steadiness, MAYBE, MAYBE, MAYBE, MAYBE),
    "brightness": st.builds(Brightness, MAYBE, MAYBE, MAYBE),
    "harmonicity_db": MAYBE,
    "evidence": st.lists(EVIDENCE, max_size=2).map(tuple),
    "harmonics_db": st.lists(NUMBER, max_size=20).map(tuple),
    "level_db": MAYBE,
}
STROKE = st.builds(Stroke, **STROKE_FIELDS)  # type: ignore[arg-type]
ADVICE = st.builds(Advice, st.sampled_from(get_args(Variable)), st.sampled_from(get_args(Turn)), TEXT, SAY)
ARRAY = stnp.arrays(np.float32, st.integers(0, 30), elements=st.floats(width=32))
TRACK = st.none() | st.builds(Track, ARRAY, ARRAY, ARRAY, ARRAY)
TAKE_FIELDS = {
    "file": TEXT,
    "duration_s": NUMBER,
    "a4_hz": NUMBER,
    "instrument": st.sampled_from([None, *get_args(Instrument)]),
    "strokes": st.lists(STROKE, max_size=3).map(tuple),
    "warnings": st.lists(EVIDENCE, max_size=2).map(tuple),
    "track": TRACK,
}
TAKE = st.builds(Take, **TAKE_FIELDS)  # type: ignore[arg-type]
SUMMARY = st.builds(
    Summary, st.none() | SHARE, st.integers(0, 9), st.none() | ADVICE, headline=SAY, check=SAY
)


@st.composite
def all_findings(draw: st.DrawFn) -> Findings:
    take = draw(TAKE)
    advice = tuple(tuple(draw(st.lists(ADVICE, max_size=2))) for _ in take.strokes)
    return Findings(take, advice, draw(SUMMARY))


@pytest.fixture(scope="module")
def filed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Studio, int]]:
    folder = tmp_path_factory.mktemp("round")
    with Studio.open(folder / "studio") as studio:
        student = add_consented(studio)
        recording: Path = write_recording(folder)
        yield studio, studio.receive_take(student.id, recording, taken_at=NOON).id


def assert_same_track(one: Track | None, other: Track | None) -> None:
    assert (one is None) == (other is None)
    if one is not None and other is not None:
        for field in fields(Track):
            put, got = getattr(one, field.name), getattr(other, field.name)
            assert got.dtype == put.dtype
            np.testing.assert_array_equal(got, put)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(put=all_findings())
def test_findings_come_back_from_the_studio_as_they_went_in(filed: tuple[Studio, int], put: Findings) -> None:
    studio, take_id = filed
    studio.file_findings(take_id, put)
    got = studio.findings(take_id)
    assert replace(got, take=replace(got.take, track=None)) == replace(
        put, take=replace(put.take, track=None)
    )
    assert_same_track(put.take.track, got.take.track)
    assert all(isinstance(stroke.state, ToneState) for stroke in got.take.strokes)


def test_every_field_is_generated_above() -> None:
    """A field that the strategies forget would come back unseen: `test_findings_...` would not notice."""
    assert {field.name for field in fields(Stroke)} == set(STROKE_FIELDS)
    assert {field.name for field in fields(Take)} == set(TAKE_FIELDS)


def test_numbers_from_numpy_become_plain_ones() -> None:
    plain = to_plain(Span(np.float32(0.5), np.float64(1.5), ToneState.NOISE, np.float32(1)))  # type: ignore[arg-type]
    assert plain == {"start_s": 0.5, "end_s": 1.5, "state": "noise", "confidence": 1.0}
    assert {type(value) for value in plain.values()} == {float, str}


def test_a_field_added_later_takes_its_default_from_older_rows() -> None:
    plain = to_plain(make_findings().take.strokes[0])
    del plain["harmonics_db"]
    assert from_plain(Stroke, plain).harmonics_db == ()


@pytest.mark.parametrize("damage", [{"state": "humming"}, {"spans": 3}, {"onset": "x"}])
def test_damaged_findings_are_refused_in_one_line(damage: dict[str, object]) -> None:
    plain = to_plain(make_findings().take.strokes[0]) | damage
    with pytest.raises(StudioError, match="hear the recording again"):
        from_plain(Stroke, plain)


def test_a_damaged_track_is_refused_in_one_line() -> None:
    block = pack_track(make_findings().take.track)
    assert block is not None
    for damaged in (b"", b"junk", block[: len(block) // 2]):
        with pytest.raises(StudioError, match="hear the recording again"):
            unpack_track(damaged)


def test_a_minute_of_track_takes_less_than_its_bare_numbers() -> None:
    """6,000 rows of four 4-byte numbers are 96 kB."""
    rng = np.random.default_rng(1)
    rows = [rng.normal(size=6000).astype(np.float32) for _ in range(4)]
    block = pack_track(Track(*rows))
    assert block is not None
    assert len(block) < 96_000 + 2_000
