"""Did it succeed? A take held against the rule of an exercise, stroke by stroke, with the reasons.

Nothing is said against a stroke that could not be judged: it counts neither way. Where too few strokes are
left to decide, the outcome is ``cannot-say``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from colophony.listening.take import CLEAN, Span, Stroke, Take, ToneState
from colophony.teaching.exercises.exercise import (
    Exercise,
    Outcome,
    Passed,
    PassRule,
    Remark,
    StrokeCheck,
    Target,
)

_NOT_JUDGED = (ToneState.PLUCKED, ToneState.UNSURE)
_GRADES = ("clean", "slow", "very-slow")
#: A stroke of which less than this share was judged says nothing.
_LEAST_JUDGED = 0.5
#: Shorter than this, and than a quarter of what was asked, is a touch of the bow and no stroke.
_TOUCH_S = 0.25
#: A stroke this far from every note of the exercise is something else, such as tuning, in semitones.
_OTHER_NOTE = 1.5


def check_take(exercise: Exercise, take: Take, *, targets: Sequence[Target] = ()) -> Passed:
    """Return which strokes of a take pass an exercise's rule, which do not and why.

    Of more strokes than the rule asks for the last ones count: the first may have been a trial.

    Parameters
    ----------
    targets : what the exercise asked on this instrument; they give its notes and the length of a bow
    """
    rule = exercise.pass_rule
    seconds = targets[0].seconds if targets else exercise.stroke.seconds
    checks = [
        _check(number, stroke, take, rule, seconds)
        for number, stroke in enumerate(take.strokes, start=1)
        if _belongs(stroke, targets, seconds)
    ]
    counted = _last(checks, rule.of)
    judged = [check for check in counted if check.passed is not None]
    passed = sum(bool(check.passed) for check in judged)
    return Passed(
        key=exercise.key,
        outcome=_outcome(rule, passed, len(judged)),
        passed=passed,
        judged=len(judged),
        needed=rule.at_least,
        of=rule.of,
        strokes=tuple(counted),
        left_out=len(take.strokes) - len(checks),
    )


def _outcome(rule: PassRule, passed: int, judged: int) -> Outcome:
    if passed >= rule.at_least:
        return "passed"
    return "not-yet" if judged - passed > rule.of - rule.at_least else "cannot-say"


def _last(checks: list[StrokeCheck], count: int) -> list[StrokeCheck]:
    """Return the last strokes up to so many that could be judged."""
    found: list[StrokeCheck] = []
    judged = 0
    for check in reversed(checks):
        if judged == count:
            break
        judged += check.passed is not None
        found.append(check)
    return found[::-1]


def _belongs(stroke: Stroke, targets: Sequence[Target], seconds: float) -> bool:
    if stroke.state is ToneState.PLUCKED:
        return False
    lasted = stroke.end_s - stroke.start_s
    if lasted < min(_TOUCH_S, 0.25 * seconds):
        return False
    if not targets or stroke.frequency_hz is None or not _sang(stroke):
        return True  # a tone at fault has no sure pitch
    away = (abs(12.0 * math.log2(stroke.frequency_hz / target.frequency_hz)) for target in targets)
    return min(away) <= _OTHER_NOTE


def _sang(stroke: Stroke) -> bool:
    """Whether a stroke was clean throughout or, if it did not groan, in a part that gives its pitch."""
    if stroke.state in (*CLEAN, ToneState.LOW_ANOMALOUS):
        return stroke.state in CLEAN
    return any(span.state in CLEAN and span.end_s - span.start_s >= _TOUCH_S for span in stroke.spans)


def _check(number: int, stroke: Stroke, take: Take, rule: PassRule, seconds: float) -> StrokeCheck:
    against: list[Remark] = []
    unknown: list[Remark] = []
    for found in (
        _tone(stroke, rule),
        _start(stroke, rule),
        _within("level", stroke.steadiness.level_swing_db, rule.level_within_db),
        _within("pitch", stroke.steadiness.pitch_swing_cents, rule.pitch_within_cents),
        _rise(stroke, take, rule),
        _length(stroke, rule, seconds),
    ):
        if found is not None:
            (unknown if found.kind.startswith("unknown") else against).append(found)
    if against:
        return StrokeCheck(number, False, tuple(against))
    return StrokeCheck(number, None if unknown else True, tuple(unknown))


def _tone(stroke: Stroke, rule: PassRule) -> Remark | None:
    spans = stroke.spans or (Span(stroke.start_s, stroke.end_s, stroke.state, stroke.confidence),)
    lasted: dict[ToneState, float] = {}
    for span in spans:
        lasted[span.state] = lasted.get(span.state, 0.0) + span.end_s - span.start_s
    judged = sum(seconds for state, seconds in lasted.items() if state not in _NOT_JUDGED)
    if judged <= 0.0 or judged < _LEAST_JUDGED * (stroke.end_s - stroke.start_s):
        return Remark("unknown-tone")
    share = sum(lasted.get(state, 0.0) for state in CLEAN) / judged
    if share >= rule.clean_share:
        return None
    worst = max((state for state in lasted if state not in (*CLEAN, *_NOT_JUDGED)), key=lambda s: lasted[s])
    return Remark(f"tone-{worst}", {"share": share, "asked": rule.clean_share})


def _start(stroke: Stroke, rule: PassRule) -> Remark | None:
    if rule.start is None:
        return None
    grade = stroke.onset.grade
    if grade is None:
        return Remark("unknown-start")
    if _GRADES.index(grade) <= _GRADES.index(rule.start):
        return None
    kind = stroke.onset.kind if stroke.onset.kind in ("creaking", "slipping") else "slow"
    return Remark(
        f"start-{kind}", {} if stroke.onset.settling_ms is None else {"ms": stroke.onset.settling_ms}
    )


def _within(what: str, swing: float | None, limit: float | None) -> Remark | None:
    if limit is None:
        return None
    if swing is None:
        return Remark(f"unknown-{what}")
    return None if swing <= limit else Remark(f"{what}-swings", {"swing": swing, "asked": limit})


def _rise(stroke: Stroke, take: Take, rule: PassRule) -> Remark | None:
    if rule.level_rises_db is None:
        return None
    rise_db = _rise_db(stroke, take)
    if rise_db is None:
        return Remark("unknown-level")
    if rise_db >= rule.level_rises_db:
        return None
    return Remark("level-too-flat", {"rise_db": rise_db, "asked": rule.level_rises_db})


def _rise_db(stroke: Stroke, take: Take) -> float | None:
    """Return how much louder the last third of a stroke is than its first, dB; None without a track."""
    if take.track is None:
        return None
    times, level = take.track.times_s, take.track.level_db
    third = (stroke.end_s - stroke.start_s) / 3.0
    first = level[(times >= stroke.start_s) & (times < stroke.start_s + third)]
    last = level[(times > stroke.end_s - third) & (times <= stroke.end_s)]
    if len(first) == 0 or len(last) == 0:
        return None
    return float(np.median(last) - np.median(first))


def _length(stroke: Stroke, rule: PassRule, seconds: float) -> Remark | None:
    if rule.lasts_share is None:
        return None
    lasted = stroke.end_s - stroke.start_s
    if lasted >= rule.lasts_share * seconds:
        return None
    return Remark("too-short", {"seconds": lasted, "asked_s": seconds})
