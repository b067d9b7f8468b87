"""Colours: contrast by WCAG 2.2, hues by Okabe and Ito (2008), colour vision by Machado et al. (2009)."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from colour_science import MACHADO_2009, contrast, difference, hue_degrees

from colophony.app.look.tokens import DARK, HUE, INK, LIGHT, OKABE_ITO_2008, Theme, colour
from colophony.listening.take import ToneState

THEMES = pytest.mark.parametrize("theme", [LIGHT, DARK, INK], ids=lambda theme: theme.name)
VISIONS = ("usual", *MACHADO_2009)


def test_the_contrast_formula_gives_the_standards_extremes() -> None:
    """WCAG 2.2: ratios range from 1 to 21; black on white is 21, and #767676 is the lightest AA grey."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#ffffff", "#ffffff") == pytest.approx(1.0)
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


def test_the_colour_vision_matrices_keep_white_white() -> None:
    """Machado et al. (2009) normalise so that white stays white: every row sums to 1."""
    for matrix in MACHADO_2009.values():
        assert np.asarray(matrix).sum(axis=1) == pytest.approx(1.0, abs=2e-6)


@THEMES
def test_every_word_reads_on_every_ground(theme: Theme) -> None:
    """WCAG 2.2, 1.4.3 (AA): text against its ground at least 4.5 to 1, state words included."""
    for name in ("ink", "quiet", *ToneState):
        for ground in theme.grounds:
            ratio = contrast(colour(theme, str(name)), ground)
            assert ratio >= 4.5, f"{name} on {ground} in {theme.name}: {ratio:.2f}"


@THEMES
def test_lines_that_mean_something_are_seen_on_every_ground(theme: Theme) -> None:
    """WCAG 2.2, 1.4.11 (AA): edges of controls and graphical marks at least 3 to 1."""
    for name in ("edge", "rosin", "board"):
        for ground in theme.grounds:
            ratio = contrast(colour(theme, name), ground)
            assert ratio >= 3.0, f"{name} on {ground} in {theme.name}: {ratio:.2f}"


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda theme: theme.name)
def test_state_hues_are_the_published_ones(theme: Theme) -> None:
    """Okabe and Ito (2008): the hue is theirs within 14 degrees of CIELAB, only lightness was moved."""
    for state, name in HUE.items():
        if name is None:
            continue
        turn = abs(hue_degrees(theme.states[state]) - hue_degrees(OKABE_ITO_2008[name]))
        assert min(turn, 360 - turn) < 14, f"{state} in {theme.name}"


@pytest.mark.parametrize("vision", VISIONS)
@THEMES
def test_states_that_ask_for_opposite_changes_differ_in_colour_too(theme: Theme, vision: str) -> None:
    """Clear, surface and pressed are told apart by colour under every vision: five just noticeable steps.

    A just noticeable difference is about 2.3 in CIELAB (Mahy et al. 1994); Machado et al. (2009) simulate.
    """
    chosen = (ToneState.HELMHOLTZ, ToneState.MULTIPLE_SLIP, ToneState.RAUCOUS)
    for one, other in combinations(chosen, 2):
        apart = difference(theme.states[one], theme.states[other], vision)
        assert apart >= 5 * 2.3, f"{one} and {other} in {theme.name}, {vision}: {apart:.1f}"
