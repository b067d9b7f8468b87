"""Signs: each is the motion that defines its state."""

from __future__ import annotations

from itertools import combinations, pairwise
from xml.etree import ElementTree

import numpy as np
import pytest

from colophony.app.look.signs import SIGNS, sign_path, sign_svg
from colophony.app.look.stylesheet import stylesheet
from colophony.app.look.tokens import LIGHT
from colophony.listening.take import ToneState
from colophony.teaching.wording import state_word

PERIOD = 2.0  # length of a period of the note in a sign


def slips(state: ToneState) -> list[float]:
    """Depth of each fast fall in one repetition of a motion: at least twice as steep as any rise."""
    (line,) = SIGNS[state].motion.lines
    steps = [(x1 - x0, y1 - y0) for (x0, y0), (x1, y1) in pairwise(line)]
    steepest_rise = max(dy / dx for dx, dy in steps if dy > 0)
    return [-dy for dx, dy in steps if dy < 0 and -dy / dx > 2 * steepest_rise]


@pytest.mark.parametrize("state", ToneState)
def test_every_state_has_sign_word_and_colour(state: ToneState) -> None:
    """Sign, word and colour stand together for each of the tone states."""
    assert SIGNS[state].word == state_word(state) != ""
    assert sign_path(state).startswith("M")
    assert f".state-{state.value} {{" in stylesheet(fonts="/fonts")
    assert LIGHT.states[state] in sign_svg(state, theme=LIGHT)


def test_the_clear_sign_slips_once_a_period() -> None:
    """Helmholtz (1862): one slip in each period, the string carried along the rest of the time."""
    assert SIGNS[ToneState.HELMHOLTZ].motion.length == PERIOD
    assert len(slips(ToneState.HELMHOLTZ)) == 1


def test_the_surface_sign_slips_twice_and_unevenly() -> None:
    """Multiple slip: more than one slip a period, of unequal size (Woodhouse and Galluzzo 2004)."""
    one, other = slips(ToneState.MULTIPLE_SLIP)
    assert abs(one - other) > 0.1


def test_the_groaning_sign_slips_once_in_two_periods() -> None:
    """Anomalous low frequencies have a period that is a multiple of the note's (Hanson et al. 1994)."""
    assert SIGNS[ToneState.LOW_ANOMALOUS].motion.length == 2 * PERIOD
    assert len(slips(ToneState.LOW_ANOMALOUS)) == 1


def test_the_pressed_sign_repeats_at_no_shift() -> None:
    """Raucous motion is aperiodic: its drawing resembles no shifted copy of itself."""
    (line,) = SIGNS[ToneState.RAUCOUS].drawing
    x, y = np.array(line).T
    wave = np.interp(np.linspace(0, 8, 400), x, y)
    wave -= wave.mean()
    for shift in range(20, 200):
        assert np.corrcoef(wave[:-shift], wave[shift:])[0, 1] < 0.75


def test_the_steady_sign_leaves_out_the_falls() -> None:
    """Where a slip would show nothing is drawn, because this take cannot tell how many there are."""
    (line,) = SIGNS[ToneState.STEADY].motion.lines
    falls = sum(max(0.0, y0 - y1) for (_, y0), (_, y1) in pairwise(line))
    assert falls < 0.2
    assert line[-1][0] < SIGNS[ToneState.STEADY].motion.length


def test_the_plucked_sign_dies_away() -> None:
    """A plucked string rings down: its second half reaches less than half as high as its first."""
    (line,) = SIGNS[ToneState.PLUCKED].drawing
    first = max(abs(y) for x, y in line if x < 4)
    second = max(abs(y) for x, y in line if x >= 4)
    assert second < first / 2


def test_no_two_signs_are_alike_without_colour() -> None:
    """Readable without colour: drawn in one ink, two signs share at most 60 % of what they cover."""
    covered = {state: cells(state) for state in ToneState}
    for one, other in combinations(ToneState, 2):
        shared = len(covered[one] & covered[other]) / len(covered[one] | covered[other])
        assert shared < 0.6, f"{one} and {other}: {shared:.2f}"


def cells(state: ToneState) -> set[tuple[int, int]]:
    """The squares of a grid of 64 by 16 that a sign passes through."""
    passed = set()
    for line in SIGNS[state].drawing:
        for (x0, y0), (x1, y1) in pairwise(line if len(line) > 1 else (line[0], line[0])):
            for share in np.linspace(0, 1, 40):
                x, y = x0 + share * (x1 - x0), y0 + share * (y1 - y0)
                passed.add((int(x * 8), int((y + 1) * 7.9)))
    return passed


def test_a_sign_with_a_title_is_an_image_and_one_without_is_silent() -> None:
    """WAI-ARIA: an image needs a name; beside its word the sign is decoration. Titles are escaped."""
    named = ElementTree.fromstring(sign_svg(ToneState.RAUCOUS, title='a "b" <c>'))
    assert named.get("role") == "img"
    assert named.get("aria-label") == 'a "b" <c>'
    assert ElementTree.fromstring(sign_svg(ToneState.RAUCOUS)).get("aria-hidden") == "true"
