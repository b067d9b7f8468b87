"""The picture of a map, drawn from a plane whose every cell is known."""

from __future__ import annotations

import re
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from colophony.app.look.map_cells import cells_of, clean_stretches
from colophony.app.look.map_picture import Caption, Cross, Panel, map_picture
from colophony.app.look.start_picture import start_sign_path
from colophony.app.look.tokens import DARK, INK
from colophony.physics.bowings import START_KINDS, Answers, Bowings
from colophony.physics.instruments import find_instrument
from colophony.physics.maps import SteadyMap, closed_form_ranges, steady_map
from colophony.physics.regimes import STATES

SVG = "{http://www.w3.org/2000/svg}"
STRING = find_instrument("violin").string("D")
DISTANCES = np.linspace(0.008, 0.054, 10)


def plane(*, hole: bool = False) -> SteadyMap:
    """Clear from 0.2 to 1 N at every distance; with a hole of one cell at 0.45 N."""

    def ask(bowings: Bowings) -> Answers:
        weight = np.asarray(bowings.weight_n)
        state = np.where(weight < 0.2, STATES.index("multiple-slip"), STATES.index("raucous"))
        clear = (weight > 0.2) & (weight < 1.0)
        if hole:
            clear &= ~(
                (np.abs(weight - 0.45) < 0.024) & (np.abs(np.asarray(bowings.distance_m) - 0.0284) < 2e-3)
            )
        state = np.where(clear, STATES.index("helmholtz"), state)
        beta = np.asarray(bowings.distance_m) / STRING.sounding_length_m
        nothing = np.full(len(weight), np.nan, np.float32)
        return Answers(
            state.astype(np.int8), beta.astype(np.float32), *(nothing for _ in range(6)),
            np.full(len(weight), START_KINDS.index("unknown"), np.int8),
        )  # fmt: skip

    return steady_map(
        STRING, ask, speed_m_s=0.1, distances_m=DISTANCES, weights_n=np.geomspace(0.05, 4.0, 40)
    )


def panel(steady: SteadyMap, **values: Any) -> Panel:
    closed = closed_form_ranges(STRING, speed_m_s=0.1, distances_m=DISTANCES)
    return Panel(steady, closed, **values)


def caption(**values: Any) -> Caption:
    usual = {
        "sentence": "The middle bears 0.2 to 1 N & more.",
        "setting": "Violin <4/4>.",
        "points_m": [0.0055, 0.0165, 0.0275, 0.0385, 0.0495],
        "bowable_m": 0.055,
    }
    return Caption(**(usual | values))


def place_of(root: ElementTree.Element, words: str, *, bold: bool = False) -> tuple[float, float]:
    (found,) = (
        text
        for text in root.iter(f"{SVG}text")
        if text.text == words and bold == (text.get("font-weight") == "700")
    )
    return float(found.get("x", "0")), float(found.get("y", "0"))


@pytest.mark.parametrize("turned", [False, True])
def test_the_bridge_lies_below_and_for_a_cello_above(turned: bool) -> None:
    """As the player sees it: sounding points count away from the bridge, in true proportion."""
    root = ElementTree.fromstring(map_picture([panel(plane())], caption(is_turned=turned)))
    heights = [place_of(root, str(point), bold=True)[1] for point in range(1, 6)]
    bridge = place_of(root, "bridge")[1]
    steps = np.diff(heights)
    assert np.allclose(steps, steps[0], atol=0.2)
    assert (steps[0] > 0) == turned
    assert abs(bridge - heights[0]) < abs(bridge - heights[4])


def test_the_clear_tone_is_drawn_where_it_is() -> None:
    """Both edges upright at 0.2 and 1 N on an axis of equal ratios, to 4 units of the drawing, half
    the width of a letter."""
    text = map_picture([panel(plane())], caption())
    root = ElementTree.fromstring(text)
    ticks = {words: place_of(root, words)[0] for words in ("0.2", "0.5", "1")}
    ratio = np.log(0.5 / 0.2) / np.log(1 / 0.2)
    middle = ticks["0.2"] + ratio * (ticks["1"] - ticks["0.2"])
    assert ticks["0.5"] == pytest.approx(middle, abs=0.2)
    colour = INK.states[next(state for state in INK.states if state.value == "helmholtz")]
    edges = [
        path.get("d", "")
        for path in root.iter(f"{SVG}path")
        if path.get("stroke") == colour and path.get("stroke-width") == "2.4"
    ]
    assert len(edges) == 2
    for data, tick in zip(edges, ("0.2", "1"), strict=True):
        xs = [float(x) for x in re.findall(r"([\d.]+) [\d.]+", data)]
        assert np.allclose(xs, ticks[tick], atol=4.0)  # the edge is found within 2 % of the weight


def test_a_hole_in_the_clear_tone_is_shown() -> None:
    """A single cell that failed is no edge; it stays visible."""
    closed = closed_form_ranges(STRING, speed_m_s=0.1, distances_m=DISTANCES)
    cells = cells_of(plane(hole=True), closed)
    assert [list(rows) for rows in clean_stretches(cells)] == [list(range(10))]
    assert cells.hole.sum() == 1
    assert not np.any(cells.over)


def test_every_mark_stays_inside_and_says_itself() -> None:
    """Nothing leaves the drawing; title, description and all words survive their signs (&, <)."""
    cross = Cross(0.0275, 0.45, (0.2, 1.0), (0.008, 0.054))
    readings = [("0.2 to 1 N", "14 dB, 46 mm")] * 5
    text = map_picture([panel(plane(), cross=cross, readings=readings)], caption(), theme=DARK)
    root = ElementTree.fromstring(text)
    width, height = (float(root.get(name, "0")) for name in ("width", "height"))
    for element in root.iter(f"{SVG}text"):
        assert 0 <= float(element.get("x", "0")) <= width
        assert 0 <= float(element.get("y", "0")) <= height
    words = {element.text for element in root.iter(f"{SVG}text")}
    assert {"clear", "surface", "pressed", "46 mm", "14 dB", "0.2 to 1 N"} <= words
    assert "Violin <4/4>." in (root.findtext(f"{SVG}title") or "")


def test_a_family_shares_its_scales() -> None:
    """Four maps: three in a row and one below; the same weight at the same place in each column's width."""
    panels = [panel(plane(), title=f"{speed} cm/s") for speed in (5, 10, 20, 40)]
    root = ElementTree.fromstring(map_picture(panels, caption()))
    places = [place_of(root, f"{speed} cm/s", bold=True) for speed in (5, 10, 20, 40)]
    assert places[0][1] == places[1][1] == places[2][1] < places[3][1]
    assert places[0][0] == places[3][0]


def test_a_page_lends_its_colours() -> None:
    """Without a theme there is no colour and no typeface inside."""
    text = map_picture([panel(plane())], caption(), theme=None)
    assert "var(--ink)" in text
    assert not re.search(r"#[0-9a-f]{6}", text)
    assert "font-face" not in text


def test_each_kind_of_start_has_a_sign_of_its_own() -> None:
    """What goes before differs, what follows is the same tooth."""
    paths = [start_sign_path(kind) for kind in START_KINDS]
    assert len(set(paths)) == len(paths)
    assert paths[1].split()[-4:] == paths[2].split()[-4:]
