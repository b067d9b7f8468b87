"""The picture of a simulated stroke, drawn from the ideal motion whose every place is known."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest

from colophony.app.look.bowed_signs import bowed_colour, bowed_sign_path
from colophony.app.look.signs import sign_path
from colophony.app.look.stroke_picture import Caption, stroke_picture
from colophony.app.look.tokens import INK, LIGHT
from colophony.listening.take import ToneState
from colophony.physics.helmholtz import ideal_motion
from colophony.physics.motion import Motion
from colophony.physics.regimes import STATES
from colophony.teaching.wording.bowed import CHOKED

SVG = "{http://www.w3.org/2000/svg}"
LEFT, RIGHT = 96.0, 940.0


def motion(vb: float = 0.2, frames: int = 240) -> Motion:
    return ideal_motion(vb=vb, beta=0.1, f0=440.0, Z0=0.2, samples_per_period=220, frames=frames)


def caption(**values: object) -> Caption:
    usual = {
        "state": "helmholtz",
        "word": "clear",
        "sentence": "One slip a period: clear tone.",
        "setting": "Violin <4/4> & bow.",
        "figures": [("Pitch", "440.0\u00a0Hz"), ("Slips", "1")],
        "distance_m": 0.0325,
        "ribbon_m": 0.010,
        "hair": ((-0.00375, -0.00125, 0.00125, 0.00375), (0.25, 0.25, 0.25, 0.25)),
        "sounding_length_m": 0.325,
    }
    return Caption(**(usual | values))  # type: ignore[arg-type]


def texts(picture: str) -> list[str]:
    return [text.text or "" for text in ElementTree.fromstring(picture).iter(f"{SVG}text")]


def test_three_slips_are_shaded_for_three_periods() -> None:
    """Helmholtz motion slips for the share beta of each period: the shades cover a tenth of the axis."""
    picture = stroke_picture(motion(), caption())
    widths = [
        float(rect.get("width", "0"))
        for rect in ElementTree.fromstring(picture).iter(f"{SVG}rect")
        if rect.get("fill") == bowed_colour("helmholtz", INK)
    ]
    assert len(widths) in (3, 4)  # the first may be cut in two by the edges
    assert sum(widths) / (RIGHT - LEFT) == pytest.approx(0.1, abs=0.015)


@pytest.mark.parametrize("vb", [0.2, -0.2])
def test_the_corner_lies_on_the_envelope_and_runs_towards_the_bridge(vb: float) -> None:
    """On the side the bow pulls to, the corner comes from the nut (Helmholtz 1863); up is down-bow."""
    picture = stroke_picture(motion(vb), caption())
    (circle,) = ElementTree.fromstring(picture).iter(f"{SVG}circle")
    x = (float(circle.get("cx", "0")) - LEFT) / (RIGHT - LEFT)
    height = (286.0 - float(circle.get("cy", "0"))) / 84.0
    assert x == pytest.approx(0.66, abs=0.03)
    assert height == pytest.approx(4 * x * (1 - x), abs=0.05)
    assert ("bow, down" if vb > 0 else "bow, up") in texts(picture)


def test_a_motion_of_several_corners_marks_none() -> None:
    """Only where theory knows one corner is one marked."""
    picture = stroke_picture(motion(), caption(state="multiple-slip", word="surface"))
    assert "<circle" not in picture


def test_every_mark_stays_inside() -> None:
    """No line leaves the drawing, however small or large the motion."""
    for vb in (1e-4, 0.2, 3.0):
        picture = stroke_picture(motion(vb), caption())
        root = ElementTree.fromstring(picture)
        width, height = (float(value) for value in root.get("viewBox", "").split()[2:])
        for path in root.iter(f"{SVG}path"):
            for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path.get("d", "")):
                assert 0 <= float(x) <= width
                assert 0 <= float(y) <= height


def test_words_are_escaped_and_long_ones_broken() -> None:
    """A sentence of two lines moves the rest down instead of running over it."""
    sentence = "The tone was clear, and it went on for a very long time, " * 2
    short, long = stroke_picture(motion(), caption()), stroke_picture(motion(), caption(sentence=sentence))
    assert "Violin &lt;4/4&gt; &amp; bow." in short
    heights = [float(ElementTree.fromstring(svg).get("height", "0")) for svg in (short, long)]
    assert heights[1] == heights[0] + 30


def test_without_shapes_the_rest_is_still_drawn() -> None:
    """A run that kept no shapes says so."""
    picture = stroke_picture(motion(frames=0), caption())
    assert "The shape of the string was not kept." in texts(picture)
    assert "Force on the bridge, N" in texts(picture)


def test_a_string_at_rest_is_drawn() -> None:
    """A bow that never moved the string: flat lines, no slip, no division by nothing."""
    still = motion()
    zeros = {
        name: np.zeros_like(getattr(still, name)) for name in ("velocity_m_s", "bridge_force_n", "shapes_m")
    }
    picture = stroke_picture(replace(still, **zeros), caption(state=CHOKED, word="choked"))
    assert "slips" not in texts(picture)
    assert "nan" not in picture


def test_tilted_hair_is_drawn_stronger_at_the_fingerboard_edge() -> None:
    """The weight that leans on the edge towards the fingerboard shows in the ribbon."""
    hair = ((0.001, 0.002, 0.003, 0.004), (0.1, 0.2, 0.3, 0.4))
    picture = stroke_picture(motion(), caption(hair=hair))
    opacities = [
        float(value) for value in re.findall(r'stroke-width="0.7" stroke-opacity="([\d.]+)"', picture)
    ]
    assert opacities[0] == min(opacities) < 0.2
    assert max(opacities) > 0.65
    assert opacities.index(max(opacities)) > len(opacities) // 2


@pytest.mark.parametrize("state", [*STATES, CHOKED])
def test_every_state_has_its_own_sign(state: str) -> None:
    """Those a take shows too look as there; each is told from all others by its line alone."""
    others = {bowed_sign_path(other) for other in (*STATES, CHOKED) if other != state}
    assert bowed_sign_path(state) not in others
    if state in list(ToneState):
        assert bowed_sign_path(state) == sign_path(ToneState(state))
    assert bowed_colour(state, LIGHT).startswith("#")
