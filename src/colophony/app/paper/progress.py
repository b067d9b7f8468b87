"""The report of a student's weeks on one page, for student, parent or school: what changed, what is next."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

from colophony.app.look import INK
from colophony.app.look.figures import day
from colophony.app.paper.typeset import Paper, clean_name, look, typeset, write_pdf
from colophony.app.progress import (
    StudentProgress,
    headline,
    looked_at,
    measures_shown,
    next_steps,
    rarer_fault,
)
from colophony.teaching.findings import Reader, Say

_TEMPLATE = Path(__file__).with_name("progress.typ")
#: At most so many passed exercises are listed, the latest.
_MOST_PASSED = 8

LABELS: Mapping[str, Say] = MappingProxyType(
    {
        "title": Say("My weeks with the bow", "Progress with the bow", "Progress with the bow"),
        "changed": Say("What changed", "What changed", "What changed"),
        "passed": Say("What you can do now", "What was passed", "What was passed"),
        "next": Say("What is next", "What is next", "What is next"),
        "remark": Say("What your teacher says", "A word from the teacher", "Remarks"),
        "name": Say("Name", "Name", "Name"),
        "no_next": Say(
            "Your teacher will tell you.",
            "To be agreed in the next lesson.",
            "No plan made yet.",
        ),
        "fair": Say(
            "You are compared with yourself, and with nobody else.",
            "Compared with this player's own earlier recordings, and with nobody else's. A change is named "
            "only where it stands out of the ups and downs from day to day; a phone's recording shows tone, "
            "not talent, and no level in it says what is safe for the ears.",
            "Own earlier takes only, no ranking. Changes: median slope (Theil and Sen), told where Kendall's "
            "rank correlation over days is below 5 % by chance. Material and room differ between takes.",
        ),
        "others": Say(
            "The rings are from another instrument.",
            "Rings: takes on another instrument or size, shown but not compared.",
            "Rings: another instrument or size; not compared.",
        ),
    }
)


def make_progress_report(
    shown: StudentProgress, out: Path, *, on: datetime.date, reader: Reader = "adult", paper: Paper = "a4"
) -> None:
    """Write the report as a tagged PDF of one page; a name that cannot be printed leaves a line to write on.

    Raises `InputError` when the extra ``paper`` is not installed or the file cannot be written.
    """
    told = report_words(shown, on=on, reader=reader) | {"paper": paper}
    pdf = typeset(_TEMPLATE, told | {"student": clean_name(shown.student.name)}, date=on)
    write_pdf(pdf or typeset(_TEMPLATE, told | {"student": ""}, date=on), out)


def report_words(shown: StudentProgress, *, on: datetime.date, reader: Reader) -> dict[str, Any]:
    """Return everything that the report says and draws, as plain JSON values; pictures are SVG text."""
    measures = measures_shown(shown, reader=reader, theme=INK)
    return {
        "reader": reader,
        "labels": {key: words.to(reader) for key, words in LABELS.items()},
        "date": day(on),
        "headline": headline(shown, reader=reader),
        "looked_at": looked_at(shown),
        "measures": [
            {
                "name": measure.name,
                "sentence": measure.sentence,
                "picture": str(measure.picture),
                "alt": ", ".join(f"{day(when)}: {value}" for when, value in measure.rows),
            }
            for measure in measures
        ],
        "has_others": bool(shown.progress.others),
        "rarer_fault": rarer_fault(shown, reader=reader),
        "passed": [{"title": item.title, "on": day(item.on)} for item in shown.passed[-_MOST_PASSED:]],
        "next": next_steps(shown),
        "look": look(),
    }
