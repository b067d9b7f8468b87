"""Findings as JSON: strict, complete, as ``docs/listen.schema.json`` says, whatever the ears may bring."""

from __future__ import annotations

import json
from dataclasses import fields
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hand_made import make_findings
from hypothesis import given
from hypothesis import strategies as st

from colophony.app.contract import findings_to_json
from colophony.listening.take import Brightness, Onset, Stroke, Take, ToneState
from colophony.teaching.findings import Findings
from factories import make_stroke, make_take

SCHEMA = json.loads((Path(__file__).parents[2] / "docs/listen.schema.json").read_text(encoding="utf-8"))
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)

maybe = st.none() | st.floats(allow_nan=True, allow_infinity=True)
positive = st.none() | st.just(float("nan")) | st.floats(0.01, 1e5)
share = st.floats(0, 1)
strokes = st.builds(
    make_stroke,
    note=st.sampled_from([None, "C2", "A#3", "E7"]),
    frequency_hz=positive,
    cents=maybe,
    state=st.sampled_from(ToneState),
    confidence=share,
    bow=st.sampled_from([None, "down", "up"]),
    way=st.sampled_from([None, "one", "other"]),
    reversal=st.booleans(),
    onset=st.builds(
        Onset,
        grade=st.sampled_from([None, "clean", "slow", "very-slow"]),
        settling_ms=positive,
        uncertainty_ms=positive,
        kind=st.sampled_from(["clean", "creaking", "slipping", "unknown"]),
        within_limit=st.sampled_from([None, True, False]),
    ),
    brightness=st.builds(Brightness, positive, positive, maybe),
    harmonicity_db=maybe,
)


@given(st.lists(strokes, min_size=1, max_size=3), st.text(max_size=20), st.sampled_from(["child", "teacher"]))
def test_whatever_is_heard_becomes_json_of_the_schema(heard: list[Stroke], name: str, reader: Any) -> None:
    """RFC 8259 knows no NaN and no infinity; a reader of UTF-8 meets no half characters (RFC 3629, 3)."""
    value = findings_to_json(make_findings(*heard, file=name), reader=reader)
    text = json.dumps(value, allow_nan=False, ensure_ascii=False)
    text.encode("utf-8")
    VALIDATOR.validate(json.loads(text))


def test_the_schema_refuses_what_is_not_the_contract() -> None:
    """The check above can fail: a state of another name, a missing field and a NaN as text are refused."""
    for path, wrong in (("state", "lovely"), ("cents", "NaN"), ("confidence", 2)):
        value = findings_to_json(make_findings())
        value["strokes"][0][path] = wrong
        with pytest.raises(jsonschema.ValidationError):
            VALIDATOR.validate(value)
    value = findings_to_json(make_findings())
    del value["strokes"][0]["onset"]["kind"]
    with pytest.raises(jsonschema.ValidationError):
        VALIDATOR.validate(value)


def test_every_value_of_a_take_reaches_the_reader() -> None:
    """A field that is added to a take is added to the JSON too, or named here as left out on purpose."""
    value = findings_to_json(make_findings())
    assert set(value) >= {field.name for field in fields(Take)} - {"track"}  # a drawing's, large
    assert set(value["strokes"][0]) >= {field.name for field in fields(Stroke)} - {"harmonics_db"}


def test_a_take_without_strokes_is_told() -> None:
    """Silence gives findings too: no strokes, nothing to work on."""
    silent = make_findings()
    empty = Findings(make_take(strokes=()), (), silent.summary)
    value = findings_to_json(empty)
    assert value["strokes"] == []
    VALIDATOR.validate(value)
