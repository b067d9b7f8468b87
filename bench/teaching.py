"""How long a week, a piece and a talk take, the engine warm and no map kept, beside one map of a string."""

from __future__ import annotations

import datetime
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from colophony.app.kept_ranges import ask_playable
from colophony.physics.instruments import find_instrument
from colophony.teaching.exercises.library import library
from colophony.teaching.exercises.ranges import DISTANCES, SPEEDS_M_S, AskRanges
from colophony.teaching.plans import Plan

INSTRUMENT, SIZE = "violin", "1/2"
EXAMPLE = Path(__file__).resolve().parent.parent / "src/colophony/app/score/evening.musicxml"
_DAY = datetime.date(2026, 3, 2)


def one_map() -> None:
    """The ranges of one string at five speeds and ten distances, as an exercise asks for them."""
    instrument = find_instrument(INSTRUMENT, SIZE)
    string = instrument.string("A")
    ask_playable(
        instrument,
        string,
        frequency_hz=string.open_frequency_hz,
        speeds_m_s=SPEEDS_M_S,
        distances=DISTANCES,
        tolerance=0.1,
    )


def plan(ask: AskRanges) -> Plan:
    """A first week for a half-size violin."""
    from colophony.app.practice import invented_plan

    return invented_plan(INSTRUMENT, SIZE, first_day=_DAY, age_group="child", exercises=library(), ask=ask)


def measure() -> dict[str, float]:
    """Return seconds by what was made."""
    from colophony.app.paper import make_strips, make_week_sheet
    from colophony.app.paper.strip_plan import strips_of_plan
    from colophony.app.practice import ask_ranges
    from colophony.app.score.opening import read_score
    from colophony.app.score.plan import plan_score
    from colophony.app.score.values import Request
    from colophony.app.talk import Talk, offline_page
    from colophony.app.week import make_week_page

    one_map()  # the engine is compiled and loaded
    ask = ask_ranges()
    took = {"map": seconds(one_map)}
    took["plan"], took["plan again"] = (seconds(lambda: plan(ask)) for _ in range(2))
    week = plan(ask)
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "out.pdf"
        took["sheet"] = seconds(lambda: make_week_sheet(week, out, student=None))
        points, beats = strips_of_plan(week)
        took["strips"] = seconds(lambda: make_strips(out, points=points, beats=beats, date=_DAY))
    took["page with sound"] = seconds(lambda: make_week_page(week))
    score = read_score(EXAMPLE.read_bytes(), name=EXAMPLE.name)
    took["score, published limits"] = seconds(lambda: plan_score(score, Request(), computed=False))
    took["score"] = seconds(lambda: plan_score(score, Request()))
    took["talk"] = seconds(lambda: offline_page(Talk.read({"instrument": "violin"})))
    return took


def seconds(make: Callable[[], object]) -> float:
    """Return how long it takes, s."""
    start = time.perf_counter()
    make()
    return time.perf_counter() - start
