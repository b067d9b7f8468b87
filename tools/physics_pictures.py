"""The pictures of ``docs/physics.md``, drawn from the figures that the tests judge."""

from __future__ import annotations

import numpy as np
import published as p
from chart import Axis, Panel, chart
from numpy.typing import NDArray
from physics_setting import FLEXIBLE, PLACES, STIFF, G

from colophony.app.look.tokens import INK
from colophony.listening.take import ToneState
from colophony.physics.limits.schoonderwaldt_2008 import (
    MEASURED_LOWER_KG_S,
    MEASURED_LOWER_N,
    MEASURED_UPPER_KG_S,
)
from colophony.physics.regimes import STATES
from colophony.physics.simulation import Model

Array = NDArray[np.float64]
_BLUE, _RED = INK.states[ToneState.HELMHOLTZ], INK.states[ToneState.RAUCOUS]
_STATE = {
    "helmholtz": ("dot", _BLUE, "one slip a period"),
    "multiple-slip": ("bar", INK.states[ToneState.MULTIPLE_SLIP], "several slips"),
    "raucous": ("cross", _RED, "no rhythm"),
    "low-anomalous": ("square", INK.states[ToneState.LOW_ANOMALOUS], "long period"),
    "s-motion": ("ring", INK.ink, "S-motion"),
    "noise": ("speck", INK.quiet, "no slip cycle"),
}
_BETA = Axis("contact distance over length, β", 0.022, 0.18, (0.03, 0.05, 0.08, 0.12, 0.18), log=True)


def limits() -> str:
    """Greatest and least weight over contact distance at four speeds, computed and measured."""
    fine, patient = p.machine_ranges(samples=p.FINE), p.machine_ranges(periods=p.PATIENT)
    panels = []
    for chart_ in p.shipped_maps():
        speed, found = chart_.ranges.speed_m_s, chart_.ranges
        panel = Panel(
            f"{100 * speed:.0f} cm/s",
            _BETA,
            Axis("weight, N", 0.006, 10.0, (0.01, 0.03, 0.1, 0.3, 1, 3, 10), log=True),
        )
        upper, lower = MEASURED_UPPER_KG_S[speed], MEASURED_LOWER_KG_S[speed]
        for c, power in ((upper, 1), (lower, 2)):
            for value, width, dash in ((c[0], 2.0, ""), (c[0] + c[1], 0.8, "4 3"), (c[0] - c[1], 0.8, "4 3")):
                line = [(beta, value * speed / beta**power) for beta in p.SPAN]
                panel.line(line, INK.ink, width=width, dash=dash)
        _, rows = found.rows()
        near, late = p.of_speed(fine, speed), p.of_speed(patient, speed)
        panel.points(_points(found.beta[rows], found.weight_max_n[rows]), "dot", _BLUE)
        panel.points(_points(near.beta, near.weight_max_n), "ring", _BLUE, size=3.2)
        panel.points(_points(found.beta[rows], found.weight_min_n[rows]), "dot", _RED)
        panel.points(_points(late.beta, late.weight_min_n), "ring", _RED, size=3.2)
        panels.append(panel)
    key = [
        ("dot", _BLUE, "greatest weight, map"),
        ("ring", _BLUE, "the same, 800 samples"),
        ("dot", _RED, "least weight, map"),
        ("ring", _RED, "the same, 400 periods"),
        ("line", INK.ink, "measured"),
        ("dashes", INK.ink, "its error"),
    ]
    title = "Greatest and least weight over contact distance: computed, and measured by a bowing machine"
    return chart(panels, key, across=2, title=title)


def _points(x: Array, y: Array) -> list[tuple[float, float]]:
    return [(a, b) for a, b in zip(x.tolist(), y.tolist(), strict=True) if np.isfinite(b)]


def schelleng() -> str:
    """Contact distance and weight at four speeds: the maps as shipped, with the measured limits."""
    panels = []
    for m in p.shipped_maps():
        speed = m.ranges.speed_m_s
        panel = Panel(
            f"{100 * speed:.0f} cm/s",
            _BETA,
            Axis("weight, N", 0.012, 10.0, (0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10), log=True),
        )
        _, rows = m.ranges.rows()
        for state, (shape, colour, _) in _STATE.items():
            places = np.argwhere(
                (m.state[rows] == STATES.index(state))
                & (m.weight_n >= panel.y.low)
                & (m.weight_n <= panel.y.high)
            )
            cells = [(float(m.ranges.beta[rows[i]]), float(m.weight_n[k])) for i, k in places]
            panel.points(cells, shape, colour, size=2.0)
        panel.line([(b, MEASURED_UPPER_KG_S[speed][0] * speed / b) for b in p.SPAN], INK.ink, width=2)
        lower = [(b, MEASURED_LOWER_KG_S[speed][0] * speed / b**2) for b in p.SPAN]
        panel.line(lower, INK.ink, dash="5 3", width=2)
        panels.append(panel)
    key = [
        *_STATE.values(),
        ("line", INK.ink, "measured greatest weight"),
        ("dashes", INK.ink, "measured least weight"),
    ]
    return chart(panels, key, across=2, title="Contact distance and weight at four speeds of the bow")


def narrowing() -> str:
    """Playable range in dB over contact distance, and what the measured limits leave."""
    betas = tuple(np.geomspace(0.02, 0.22, 36).tolist())
    panel = Panel(
        "violin D, 10 cm/s",
        Axis(
            "contact distance over length, β",
            0.02,
            0.22,
            (0.02, 0.03, 0.05, 0.08, 0.125, 0.167, 0.2),
            log=True,
        ),
        Axis("playable range, dB", 0, 35, (0, 5, 10, 15, 20, 25, 30, 35)),
        width=480,
        height=280,
    )
    panel.line([(b, 20 * np.log10(0.075 * b / MEASURED_LOWER_N)) for b in p.SPAN], INK.ink, width=2)
    drawn = (
        ("four hairs, 800 samples", _BLUE, Model(), 800, 2.0, ""),
        ("four hairs, 200 as in the map", _RED, Model(), 200, 1.4, "5 3"),
        ("one hair, 800", INK.quiet, Model(points=1), 800, 1.2, "1.5 2.5"),
    )
    for _, colour, model, samples, width, dash in drawn:
        found = p.violin_ranges(betas, model=model, samples=samples)
        _, rows = found.rows()
        line = _points(found.beta[rows], np.nan_to_num(found.range_db[rows], nan=0.0))
        panel.line(line, colour, width=width, dash=dash)
    key = [
        *(
            ("dots" if dash[:1] == "1" else "dashes" if dash else "line", c, words)
            for words, c, *_, dash in drawn
        ),
        ("line", INK.ink, "between the measured limits"),
    ]
    return chart([panel], key, across=1, title="Playable range over contact distance")


def guettler() -> str:
    """Weight and acceleration of starts, with the published wedges."""
    panels = []
    for words, samples, model in (
        ("flexible", 400, FLEXIBLE),
        ("flexible", 200, FLEXIBLE),
        ("stiff", 400, STIFF),
    ):
        for name, beta in PLACES.items():
            m = p.starts(G, beta, model=model, samples=samples, weights=_EVEN)
            top = 14.0 if beta < 0.1 else 20.0
            panel = Panel(
                f"{words} string, β {name}, {samples} samples",
                Axis("weight, N", 0, 3.1, (0, 1, 2, 3)),
                Axis("acceleration, m/s²", 0, top, np.arange(0, top, 4).tolist()),
            )
            n = m.settling_periods
            groups = {
                "slow": n > 5,
                "good": (n > 1.5) & (n <= 5),
                "clean": n <= 1.5,
            }
            a = np.broadcast_to(m.acceleration_m_s2, n.shape)
            f = np.broadcast_to(m.weight_n[:, None], n.shape)
            for group, shape, colour, size in (
                ("slow", "ring", INK.line, 2.0),
                ("good", "ring", _BLUE, 2.2),
                ("clean", "dot", _BLUE, 2.6),
            ):
                there = groups[group] & (a < top)
                panel.points(_points(f[there], a[there]), shape, colour, size=size)
            for mu_d, dash in ((0.3, ""), (0.4, "5 3")):
                for slope in p.wedge(G, m.beta, mu_d):
                    end = min(3.1, top / slope)
                    panel.line([(0, 0), (end, end * slope)], _RED, dash=dash)
            panels.append(panel)
    key = [
        ("dot", _BLUE, "clean: within 1.5 periods"),
        ("ring", _BLUE, "within 5 periods"),
        ("ring", INK.line, "later"),
        ("line", _RED, "Guettler, μ 0.8/0.3"),
        ("dashes", _RED, "Guettler, μ 0.8/0.4"),
    ]
    return chart(panels, key, across=2, title="Starts of a violin's G string: weight and acceleration")


#: Weights in N of the picture of starts, closer than those of the tests.
_EVEN = tuple(np.linspace(0.15, 3.0, 20).tolist())
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
PICTURES = (limits, narrowing, schelleng, guettler, pitch, centroid)
