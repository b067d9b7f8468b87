"""The week's plan: what comes into it, on which days, for how long, and why."""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import cache
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colophony.errors import InputError
from colophony.language import LANGUAGES, speaking
from colophony.listening.take import ToneState
from colophony.teaching.cautions import ON_EVERY_SHEET
from colophony.teaching.choosing import AIMS_AGAINST, REVIEW_DAYS, main_fault
from colophony.teaching.exercises.exercise import Exercise, Target
from colophony.teaching.exercises.library import find_exercise, library
from colophony.teaching.exercises.remarks import remark_words
from colophony.teaching.exercises.targets import targets_of
from colophony.teaching.findings import READERS, Advice, Findings, Say, Summary
from colophony.teaching.planning import MINUTES, age_group_of, make_plan
from colophony.teaching.plans import AGE_GROUPS, PastPass, Plan, plan_from_plain, to_plain
from factories import make_stroke, make_take

FIRST_DAY = 739_000
_NOTHING = Say("", "", "")


@cache
def targets(exercise: Exercise) -> tuple[Target, ...]:
    return targets_of(exercise, "violin", "1/2")


def week(**changes: object) -> Plan:
    values: dict[str, object] = {
        "instrument": "violin",
        "size": "1/2",
        "first_day": FIRST_DAY,
        "age_group": "child",
        "exercises": library(),
        "targets_of": targets,
    }
    return make_plan(**(values | changes))  # type: ignore[arg-type]


def keys(plan: Plan, role: str | None = None) -> list[str]:
    return [item.exercise.key for item in plan.items if role in (None, item.role)]


def passes(*names: str, days_ago: int = 20) -> list[PastPass]:
    return [PastPass(name, FIRST_DAY - days_ago) for name in names]


def findings_with(fault: str | None, *, clean_share: float = 0.6) -> Findings:
    advice = Advice("weight", "less", "", _NOTHING, fault) if fault else None
    stroke = make_stroke(state=ToneState.RAUCOUS if fault else ToneState.STEADY)
    summary = Summary(clean_share, 1, advice, _NOTHING, _NOTHING)
    return Findings(make_take(stroke), ((advice,) if advice else (),), summary)


# --- minutes, days, rests


@pytest.mark.parametrize("group", AGE_GROUPS)
def test_no_day_is_longer_than_was_asked_for(group: str) -> None:
    """Exercises and the rests between them stay within the minutes; the seventh day is free."""
    past = passes("hold-point-short", "hold-point-whole", "start-middle", days_ago=3)
    for minutes in (None, 8.0, 45.0):
        plan = week(age_group=group, past=past, minutes_a_day=minutes)
        assert plan.minutes_a_day == (MINUTES[group][0] if minutes is None else minutes)
        for day in range(1, 7):
            assert 0.0 < plan.minutes_on(day) <= plan.minutes_a_day
        assert plan.on_day(7) == ()


@pytest.mark.parametrize("group", AGE_GROUPS)
def test_nobody_plays_longer_without_a_rest_than_suits_the_age(group: str) -> None:
    """Short and often; the younger the shorter (common practice, no source)."""
    _, stretch, _ = MINUTES[group]
    plan = week(age_group=group, minutes_a_day=60.0, past=passes("hold-point-short", "hold-point-whole"))
    for day in range(1, 7):
        played = 0.0
        for item in plan.on_day(day):
            played += item.minutes
            assert played <= stretch
            played = 0.0 if item.rest_minutes else played


def test_the_younger_the_shorter() -> None:
    """Minutes, and stretches without a rest, grow with age."""
    for column in (0, 1):
        values = [MINUTES[group][column] for group in AGE_GROUPS]
        assert values == sorted(values)
        assert len(set(values)) == len(values)


@pytest.mark.parametrize("minutes", [0.0, 4.9, 121.0, float("nan")])
def test_minutes_out_of_range_are_refused(minutes: float) -> None:
    """With the limits, in one line."""
    with pytest.raises(InputError, match="choose 5 to 120"):
        week(minutes_a_day=minutes)


def test_minutes_that_are_left_over_lengthen_the_exercises() -> None:
    """More minutes make longer exercises, up to half as long again; fewer make fewer exercises."""
    short, long = (week(minutes_a_day=minutes, age_group="of-age") for minutes in (15.0, 90.0))
    assert len(short.items) < len(long.items)
    assert all(item.minutes <= 1.5 * item.exercise.minutes for item in long.items)
    assert any(item.minutes > item.exercise.minutes for item in long.items)


CHECKS = st.builds(
    PastPass,
    st.sampled_from([exercise.key for exercise in library()]),
    st.integers(FIRST_DAY - 90, FIRST_DAY),
    st.booleans(),
)


@given(
    past=st.lists(CHECKS, max_size=30),
    group=st.sampled_from(AGE_GROUPS),
    minutes=st.floats(5.0, 120.0),
    fault=st.none() | st.sampled_from(sorted(AIMS_AGAINST)),
)
@settings(max_examples=60, deadline=None)
def test_whatever_happened_the_week_keeps_its_rules(
    past: list[PastPass], group: str, minutes: float, fault: str | None
) -> None:
    """Something every day, no exercise twice, never longer than asked for, no stretch without a rest."""
    plan = week(past=past, age_group=group, minutes_a_day=minutes, findings=[findings_with(fault)])
    assert len(set(keys(plan))) == len(keys(plan))
    for day in range(1, 7):
        assert plan.on_day(day)
        assert plan.minutes_on(day) <= minutes + 1e-9
        played = 0.0
        for item in plan.on_day(day):
            played += item.minutes
            assert played <= MINUTES[group][1] + 1e-9
            played = 0.0 if item.rest_minutes else played


# --- what comes into it


def test_a_first_week_begins_with_the_players_own_sound_and_what_needs_nothing() -> None:
    """Reference takes on day 1, an exercise without requirements daily, what builds on it from day 2."""
    plan = week()
    assert keys(plan)[:2] == ["reference-open-strings", "hold-point-short"]
    assert plan.items[0].days == (1,)
    assert plan.items[1].days == (1, 2, 3, 4, 5, 6)
    seen = {"hold-point-short"}
    for item in plan.items[2:]:
        assert set(item.exercise.before) <= seen
        assert 1 not in item.days
        seen.add(item.exercise.key)
    assert [remark.kind for remark in plan.change] == ["nothing-heard"]


def test_an_accepted_reference_is_not_asked_for_again() -> None:
    """One accepted take of this instrument suffices."""
    assert "reference-open-strings" not in keys(week(has_reference=True))


@pytest.mark.parametrize("fault", sorted(AIMS_AGAINST))
def test_the_main_fault_of_the_last_take_chooses_the_exercises(fault: str) -> None:
    """What is against it works on it; the fault is named, with the number of strokes."""
    past = passes(
        "hold-point-short", "hold-point-whole", "start-middle", "move-one-lane", "hold-point-nearer"
    )
    plan = week(findings=[findings_with(fault)], past=past, minutes_a_day=30.0, has_reference=True)
    chosen = [item for item in plan.items if item.role == "change"]
    assert chosen
    assert {item.exercise.aim for item in chosen} <= set(AIMS_AGAINST[fault])
    (change,) = plan.change
    assert change.kind == f"change-{fault}"
    assert change.values == {"count": 1.0}


def test_an_older_take_names_the_fault_where_the_newest_has_none() -> None:
    """One good day is no proof; four takes ago is too long."""
    good, bad = findings_with(None), findings_with("surface")
    assert main_fault([good, bad]) == "surface"
    assert main_fault([good, good, good, bad]) is None


def test_what_went_well_is_kept_and_said() -> None:
    """Clean time, clean starts, an even bow and what was passed."""
    plan = week(findings=[findings_with(None, clean_share=0.95)], past=passes("hold-point-short"))
    assert [remark.kind for remark in plan.keep] == [
        "keep-clean",
        "keep-starts",
        "keep-steady",
        "keep-passed",
    ]
    assert [remark.kind for remark in plan.change] == ["change-nothing"]


def test_nothing_comes_before_what_it_builds_on() -> None:
    """An exercise is new only when what it needs is passed, or is in the week before it."""
    plan = week(past=passes("hold-point-short", "hold-point-whole"), minutes_a_day=60.0, age_group="teen")
    reached = {"hold-point-short", "hold-point-whole"}
    for item in plan.items:
        if item.role == "new" and item.why[0].kind == "why-new":
            assert set(item.exercise.before) <= reached
        if item.why[0].kind == "why-later":
            assert set(item.exercise.before) <= reached | set(keys(plan))
            assert min(item.days) >= 4


def test_new_exercises_go_from_wide_to_narrow() -> None:
    """Of those that are ready the one with most room comes first."""
    plan = week(past=passes("hold-point-short", "hold-point-whole"), minutes_a_day=60.0)
    rooms = [
        item.difficulty.room
        for item in plan.items
        if item.why[0].kind == "why-new" and item.difficulty is not None
    ]
    assert len(rooms) >= 2
    assert rooms == sorted(rooms, reverse=True)


def test_what_was_tried_without_success_comes_again() -> None:
    """With the number of tries since the last pass."""
    past = [
        *passes("hold-point-short"),
        *(PastPass("hold-point-whole", FIRST_DAY - d, False) for d in (5, 3)),
    ]
    (item,) = [item for item in week(past=past).items if item.why[0].kind == "why-again"]
    assert item.exercise.key == "hold-point-whole"
    assert item.why[0].values == {"count": 2.0}


@pytest.mark.parametrize("first", [False, True])
def test_of_several_tries_on_one_day_the_best_counts(first: bool) -> None:
    """Whichever was told first: the exercise is passed, and does not come again as not passed."""
    key = "hold-point-whole"
    day = [PastPass(key, FIRST_DAY - 2, first), PastPass(key, FIRST_DAY - 2, not first)]
    plan = week(past=[*passes("hold-point-short"), *day])
    assert key not in [item.exercise.key for item in plan.items if item.why[0].kind == "why-again"]
    assert plan.keep[-1].values == {"count": 2.0}


def test_an_exercise_that_this_instrument_cannot_do_is_left_out() -> None:
    """No target, no place in the week."""

    def none_for_starts(exercise: Exercise) -> tuple[Target, ...]:
        return () if exercise.aim == "clean-start" else targets(exercise)

    plan = week(past=passes("hold-point-short"), targets_of=none_for_starts, minutes_a_day=60.0)
    assert not any(item.exercise.aim == "clean-start" for item in plan.items)


def test_without_exercises_there_is_no_plan() -> None:
    """Said in one line with what to do."""
    with pytest.raises(InputError, match="add one"):
        week(exercises=())


# --- spaced review


def review_days(checks: Sequence[PastPass]) -> tuple[int, ...]:
    """On which days of the week the first step comes back; a wider one warms up."""
    warm = [PastPass("fast-light-half", FIRST_DAY - 1)]
    plan = week(past=[*checks, *warm], exercises=_TWO, minutes_a_day=60.0)
    return next((item.days for item in plan.items if item.exercise.key == "hold-point-nearer"), ())


_TWO = tuple(find_exercise(key, library()) for key in ("hold-point-nearer", "fast-light-half"))


@pytest.mark.parametrize("times", range(1, len(REVIEW_DAYS) + 1))
def test_each_pass_in_a_row_lengthens_the_wait(times: int) -> None:
    """After the n-th pass in a row the exercise comes back after the n-th step, to the day."""
    last = FIRST_DAY - REVIEW_DAYS[times - 1] + 2  # due on the third day of the week
    checks = [PastPass("hold-point-nearer", last - 10 * k) for k in range(times)]
    assert review_days(checks) == (3,)


def test_the_steps_widen() -> None:
    """Spaced practice with widening intervals; that spacing helps: Cepeda et al. (2006), from memory."""
    steps = [later - sooner for sooner, later in pairwise(REVIEW_DAYS)]
    assert steps == sorted(steps)
    assert min(steps) > 0


def test_a_failed_review_begins_the_steps_anew() -> None:
    """Passed, failed, passed: it comes back after the first step, not the second."""
    key = "hold-point-nearer"
    checks = [PastPass(key, FIRST_DAY - 9), PastPass(key, FIRST_DAY - 6, False), PastPass(key, FIRST_DAY + 1)]
    assert review_days(checks) == (3,)


def test_what_is_not_due_is_left_alone_and_what_is_overdue_comes_first_day() -> None:
    """A month after the fourth pass, not before; what should have come last week comes at once."""
    key = "hold-point-nearer"
    four = [PastPass(key, FIRST_DAY - 3 - k) for k in range(4)]
    assert review_days(four) == ()
    assert review_days([PastPass(key, FIRST_DAY - 40)]) == (1,)


# --- kept and said


def test_a_plan_survives_as_json() -> None:
    """What the studio keeps comes back equal."""
    plan = week(findings=[findings_with("surface")], past=passes("hold-point-short"))
    assert plan_from_plain(json.loads(json.dumps(to_plain(plan)))) == plan


def test_every_item_says_why_to_every_reader_in_every_language() -> None:
    """And every plan carries the cautions of every sheet."""
    plan = week(findings=[findings_with("pressed")], past=passes("hold-point-short", "hold-point-whole"))
    assert plan.cautions == ON_EVERY_SHEET
    for language in LANGUAGES:
        with speaking(language):
            for remark in (*plan.keep, *plan.change, *(why for item in plan.items for why in item.why)):
                assert all(remark_words(remark, reader) for reader in READERS)
    assert all(item.why for item in plan.items)


@pytest.mark.parametrize(
    ("minor", "reader", "group"),
    [
        (True, "child", "child"),
        (True, "adult", "teen"),
        (False, "adult", "of-age"),
        (False, "child", "of-age"),
    ],
)
def test_an_unknown_age_is_taken_from_what_is_known(minor: bool, reader: str, group: str) -> None:
    """Of age or a minor, and in whose words."""
    assert age_group_of(minor=minor, reader=reader) == group


@pytest.mark.parametrize("size", ["1/4", "1/8", "1/10", "1/16"])
def test_a_child_on_a_small_instrument_gets_the_short_minutes(size: str) -> None:
    """A quarter size and smaller is a small child's (common practice, no source)."""
    assert age_group_of(minor=True, reader="child", size=size) == "small-child"
    assert age_group_of(minor=False, reader="adult", size=size) == "of-age"
    assert age_group_of(minor=True, reader="child", size="1/2") == "child"
