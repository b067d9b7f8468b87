"""The pictures of ``docs/physics.md``, drawn from the figures that the tests judge."""

from __future__ import annotations

import numpy as np
import published as p
from chart import Axis, Panel, chart
from physics_setting import FLEXIBLE, PLACES, STIFF, G

from colophony.app.look.tokens import INK
from colophony.listening.take import ToneState
from colophony.physics.limits.schoonderwaldt_2008 import MEASURED_LOWER_KG_S, MEASURED_UPPER_KG_S

_STATE = {
    "helmholtz": ("dot", INK.states[ToneState.HELMHOLTZ], "one slip a period"),
    "multiple-slip": ("bar", INK.states[ToneState.MULTIPLE_SLIP], "several slips"),
    "raucous": ("cross", INK.states[ToneState.RAUCOUS], "no rhythm"),
    "low-anomalous": ("square", INK.states[ToneState.LOW_ANOMALOUS], "long period"),
    "s-motion": ("ring", INK.ink, "S-motion"),
    "noise": ("speck", INK.quiet, "no slip cycle"),
}
_BETA = Axis("contact distance over length, β", 0.03, 0.18, (0.03, 0.05, 0.08, 0.12, 0.18), log=True)


def schelleng() -> str:
    """Contact distance and weight at four speeds, with the measured limits."""
    m = p.steady_map()
    panels = []
    for k, speed in enumerate(m.speeds):
        panel = Panel(
            f"{100 * speed:.0f} cm/s",
            _BETA,
            Axis("weight, N", 0.012, 5.0, (0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 4), log=True),
        )
        for state, (shape, colour, _) in _STATE.items():
            panel.points(
                [
                    (beta, force)
                    for i, beta in enumerate(m.betas)
                    for force, reading in zip(m.forces[i], m.readings[i][k], strict=True)
                    if reading.state == state
                ],
                shape,
                colour,
            )
        ends = (1 / 30, 1 / 6)
        panel.line([(b, MEASURED_UPPER_KG_S[speed][0] * speed / b) for b in ends], INK.ink, width=2)
        panel.line(
            [(b, MEASURED_LOWER_KG_S[speed][0] * speed / b**2) for b in ends], INK.ink, dash="5 3", width=2
        )
        panels.append(panel)
    key = [
        *_STATE.values(),
        ("line", INK.ink, "measured greatest weight"),
        ("dashes", INK.ink, "measured least weight"),
    ]
    return chart(panels, key, across=2, title="Contact distance and weight at four speeds of the bow")


def guettler() -> str:
    """Weight and acceleration of starts, with the published wedges."""
    panels = []
    for words, model in (("flexible", FLEXIBLE), ("stiff", STIFF)):
        for name, beta in PLACES.items():
            m = p.start_map(p.VIOLIN, G, beta, model=model)
            top = 14.0 if beta < 0.1 else 20.0
            panel = Panel(
                f"{words} string, β {name}",
                Axis("weight, N", 0, 3.1, (0, 1, 2, 3)),
                Axis("acceleration, m/s²", 0, top, np.arange(0, top, 4).tolist()),
            )
            groups: dict[str, list[tuple[float, float]]] = {"clean": [], "good": [], "slow": [], "never": []}
            for force, row in zip(m.forces, m.starts, strict=True):
                for x, s in zip(m.per_force, row, strict=True):
                    n = s.settling_periods
                    group = "never" if n is None else "clean" if n <= 1.5 else "good" if n <= 5 else "slow"
                    if x * force < top:
                        groups[group].append((force, x * force))
            panel.points(groups["never"], "speck", INK.quiet)
            panel.points(groups["slow"], "ring", INK.line, size=2.2)
            panel.points(groups["good"], "ring", INK.states[ToneState.HELMHOLTZ], size=2.2)
            panel.points(groups["clean"], "dot", INK.states[ToneState.HELMHOLTZ])
            for mu_d, dash in ((0.3, ""), (0.4, "5 3")):
                for slope in p.wedge(G, m.beta, mu_d):
                    panel.line(
                        [(0, 0), (min(3.1, top / slope), min(3.1 * slope, top))],
                        INK.states[ToneState.RAUCOUS],
                        dash=dash,
                    )
            panels.append(panel)
    blue = INK.states[ToneState.HELMHOLTZ]
    key = [
        ("dot", blue, "clean: within 1.5 periods"),
        ("ring", blue, "within 5 periods"),
        ("ring", INK.line, "later"),
        ("speck", INK.quiet, "not settled"),
        ("line", INK.states[ToneState.RAUCOUS], "Guettler, μ 0.8/0.3"),
        ("dashes", INK.states[ToneState.RAUCOUS], "Guettler, μ 0.8/0.4"),
    ]
    return chart(panels, key, across=2, title="Starts of a violin's G string: weight and acceleration")


_LINES = (
    (0.05, INK.states[ToneState.MULTIPLE_SLIP], "5 cm/s"),
    (0.1, INK.states[ToneState.HELMHOLTZ], "10 cm/s"),
    (0.2, INK.states[ToneState.RAUCOUS], "20 cm/s"),
)


def pitch() -> str:
    """Pitch over weight, flexible and stiff."""
    panels = []
    for words, stiff in (("flexible string", False), ("stiff string", True)):
        panel = Panel(
            f"{words}, β 0.1",
            Axis("weight over the greatest", 0, 1, (0, 0.25, 0.5, 0.75, 1)),
            Axis("cents from the free string", -45, 12, (-40, -30, -20, -10, 0, 10)),
        )
        panel.points([(0.4, c) for c in np.linspace(-10, -5, 20)], "square", INK.line, size=3)
        for speed, colour, _ in _LINES:
            values = p.flattening(0.1, speed, stiffness=stiff)
            line = [(w / values[-1][0], c) for w, c in values]
            panel.line(line, colour)
            panel.points(line, "dot", colour, size=2.0)
        panels.append(panel)
    key = [
        *(("line", colour, words) for _, colour, words in _LINES),
        ("square", INK.line, "measured at 2.5 times less"),
    ]
    return chart(panels, key, across=2, title="Pitch over weight")


def centroid() -> str:
    """Brightness over weight at three speeds."""
    panel = Panel(
        "stiff D string on a monochord, β 0.1",
        Axis("weight, N", 0.08, 2.5, (0.1, 0.2, 0.5, 1, 2), log=True),
        Axis("centroid, Hz", 800, 2800, (800, 1200, 1600, 2000, 2400, 2800)),
        width=420,
    )
    for speed, colour, _ in _LINES:
        line = [(w, r.centroid_hz) for w, r in p.playable(0.1, speed)]
        panel.line(line, colour)
        panel.points(line, "dot", colour, size=2.0)
    return chart(
        [panel],
        [("line", colour, words) for _, colour, words in _LINES],
        across=1,
        title="Brightness over weight",
    )


#: In the order of the page; a picture's file has its name.
PICTURES = (schelleng, guettler, pitch, centroid)
