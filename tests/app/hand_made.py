"""Findings made by hand, for tests of what a person is shown."""

from __future__ import annotations

from typing import Any

from colophony.teaching.findings import Advice, Findings, Say, Summary
from factories import make_take

LESS_WEIGHT = Advice(
    "weight",
    "less",
    "the tone is past the greatest weight",
    Say("Let the bow rest lighter.", "Take a little weight off the bow.", "Less weight, about a quarter."),
)


def make_findings(*strokes: Any, file: str = "lesson.m4a", **changes: Any) -> Findings:
    take = make_take(*strokes, file=file, **changes)
    advice = tuple((LESS_WEIGHT,) if stroke.state == "raucous" else () for stroke in take.strokes)
    summary = Summary(
        clean_share=0.65,
        strokes=len(take.strokes),
        main_advice=LESS_WEIGHT if any(advice) else None,
        headline=Say("One sang, one growled.", "One of two strokes was pressed.", "1 of 2 strokes pressed."),
        check=Say(
            "Does it sing?", "Play it again: does it clear?", "Repeat at the same place: does it clear?"
        ),
    )
    return Findings(take, advice, summary)
