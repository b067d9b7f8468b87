"""What changed over weeks? A player's takes held against the player's own earlier takes, and nobody else's.

A change is named only where it stands out of the scatter from day to day: the slope is the median of all
slopes between two days (Theil 1950, Sen 1968), and it counts where Kendall's rank correlation of value and
day is unlikely by chance (two-sided, `LEAST_SURE`). Days count once, by their median: three takes of one
afternoon are no three witnesses.
"""

from __future__ import annotations

import math
import statistics
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from colophony.listening.take import Instrument, Stroke, ToneState
from colophony.teaching.faults import FAULTS
from colophony.teaching.findings import Findings

Measure = Literal["clean_share", "clean_starts", "level_swing_db"]
MEASURES: tuple[Measure, ...] = ("clean_share", "clean_starts", "level_swing_db")

#: A change is told from so many days over so long, and where chance alone would make one like it so rarely.
#: Five days are the fewest whose order can be that rare (2 of 120 orders). Chosen, but for that.
LEAST_DAYS = 5
LEAST_SPAN_DAYS = 14
LEAST_SURE = 0.05
#: Smaller changes are not worth a sentence, however sure: shares of 1, dB. Chosen.
LEAST_CHANGE: Mapping[Measure, float] = MappingProxyType(
    {"clean_share": 0.05, "clean_starts": 0.05, "level_swing_db": 0.5}
)
#: A start or a swing of level is judged on strokes that last at least so long, s. Chosen.
_LONG_ENOUGH_S = 0.5
_BOWED = frozenset(ToneState) - {ToneState.PLUCKED, ToneState.NOISE, ToneState.UNSURE}


@dataclass(frozen=True, slots=True)
class Heard:
    """One take as progress sees it. What the take could not tell is None.

    Attributes
    ----------
    day : number of the day, counted like `datetime.date.toordinal`
    strokes : bowed strokes whose state is known
    clean_share : share of bowed time that was clean, 0 to 1
    clean_starts : share of the starts that were judged and were clean, 0 to 1
    level_swing_db : median swing of level within a stroke
    faults : how many strokes had each fault, names of `colophony.teaching.faults.FAULTS`
    """

    day: int
    instrument: Instrument
    size: str
    strokes: int
    clean_share: float | None
    clean_starts: float | None
    level_swing_db: float | None
    faults: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Change:
    """How one measure went: its value on the first and the last day, by the line through all."""

    measure: Measure
    days: int  #: days with a value
    first: float
    last: float
    typical: float  #: median over the days
    is_clear: bool  #: stands out of the scatter, and is worth a sentence

    @property
    def is_better(self) -> bool:
        """Whether it went the way one wishes: more clean time, more clean starts, less swing."""
        return (self.last > self.first) != (self.measure == "level_swing_db")


@dataclass(frozen=True, slots=True)
class FaultThen:
    """How often a fault came in the earlier and the later half of the days, shares of strokes."""

    fault: str
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class Progress:
    """Takes in order of days, and what changed among those on the instrument that is played now.

    ``others`` were played on another instrument or size: they are shown, not compared.
    """

    takes: tuple[Heard, ...]
    others: tuple[Heard, ...]
    changes: tuple[Change, ...]
    fault: FaultThen | None  #: the one that came most often in the earlier half

    @property
    def span_days(self) -> int:
        """From the first compared day to the last."""
        return self.takes[-1].day - self.takes[0].day if self.takes else 0


def heard(findings: Findings, *, day: int, instrument: Instrument, size: str) -> Heard:
    """Return a take as progress sees it; see `Heard` for ``day``."""
    strokes = [stroke for stroke in findings.take.strokes if stroke.state in _BOWED]
    long_enough = [stroke for stroke in strokes if stroke.end_s - stroke.start_s >= _LONG_ENOUGH_S]
    grades = [stroke.onset.grade for stroke in long_enough if stroke.onset.grade is not None]
    return Heard(
        day=day,
        instrument=instrument,
        size=size,
        strokes=len(strokes),
        clean_share=findings.summary.clean_share,
        clean_starts=grades.count("clean") / len(grades) if grades else None,
        level_swing_db=_median(long_enough, lambda stroke: stroke.steadiness.level_swing_db),
        faults=_faults(findings),
    )


def progress(takes: Sequence[Heard], *, instrument: Instrument, size: str) -> Progress:
    """Return what changed over a player's takes, in any order; the instrument is the one played now."""
    ordered = sorted(takes, key=lambda take: take.day)
    ours = [take for take in ordered if (take.instrument, take.size) == (instrument, size)]
    changes = (_change(measure, ours) for measure in MEASURES)
    return Progress(
        takes=tuple(ours),
        others=tuple(take for take in ordered if take not in ours),
        changes=tuple(change for change in changes if change is not None),
        fault=_fault_then(ours),
    )


def by_day(takes: Sequence[Heard], measure: Measure) -> list[tuple[int, float]]:
    """Return (day, median of the day) where a measure is known, in order of days."""
    days: dict[int, list[float]] = {}
    for take in takes:
        value = getattr(take, measure)
        if value is not None:
            days.setdefault(take.day, []).append(value)
    return [(day, statistics.median(values)) for day, values in sorted(days.items())]


def _change(measure: Measure, takes: Sequence[Heard]) -> Change | None:
    """Return the change of a measure; None with fewer than two days."""
    from scipy.stats import kendalltau, theilslopes

    known = by_day(takes, measure)
    if len(known) < 2:
        return None
    days, values = [day for day, _ in known], [value for _, value in known]
    line = theilslopes(values, days)
    first, last = (float(line.intercept + line.slope * day) for day in (days[0], days[-1]))
    most = math.inf if measure == "level_swing_db" else 1.0
    first, last = min(max(first, 0.0), most), min(max(last, 0.0), most)  # the line knows no limits
    enough = len(known) >= LEAST_DAYS and days[-1] - days[0] >= LEAST_SPAN_DAYS
    moved = len(set(values)) > 1 and abs(last - first) >= LEAST_CHANGE[measure]
    is_clear = enough and moved and float(kendalltau(days, values).pvalue) < LEAST_SURE
    return Change(measure, len(known), first, last, statistics.median(values), is_clear)


def _fault_then(takes: Sequence[Heard]) -> FaultThen | None:
    """Return the fault that came most often in the earlier half of the days; None with too few days."""
    days = sorted({take.day for take in takes if take.strokes})
    if len(days) < LEAST_DAYS or days[-1] - days[0] < LEAST_SPAN_DAYS:
        return None
    middle = days[len(days) // 2]
    halves = [take for take in takes if take.day < middle], [take for take in takes if take.day >= middle]
    counts = [_counted(half) for half in halves]
    strokes = [sum(take.strokes for take in half) for half in halves]
    if not counts[0] or not all(strokes):
        return None
    fault = max(counts[0], key=lambda name: (counts[0][name], name))
    return FaultThen(fault, counts[0][fault] / strokes[0], counts[1][fault] / strokes[1])


def _counted(takes: Sequence[Heard]) -> Counter[str]:
    counted: Counter[str] = Counter()
    for take in takes:
        counted.update(dict(take.faults))
    return counted


def _faults(findings: Findings) -> tuple[tuple[str, int], ...]:
    """Return how many strokes had each known fault; two cures of one fault are one."""
    counted: Counter[str] = Counter()
    for advice in findings.advice:
        counted.update({item.fault for item in advice if item.fault in FAULTS})
    return tuple(sorted(counted.items()))


def _median(strokes: Sequence[Stroke], value: Callable[[Stroke], float | None]) -> float | None:
    known = [one for one in map(value, strokes) if one is not None]
    return statistics.median(known) if known else None
