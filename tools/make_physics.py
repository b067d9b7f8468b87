"""Computes the figures of the bowed string, writes the tables of ``docs/physics.md`` and its pictures.

``python tools/make_physics.py`` takes two to four minutes. The figures are those that the tests judge
(``tests/physics/published.py``). Look at the pictures before you commit them.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parent.parent
sys.path[:0] = [str(ROOT / "tests/physics"), str(ROOT / "tools")]

import published as p  # noqa: E402
from physics_pictures import PICTURES as DRAWN  # noqa: E402
from physics_setting import BODY, FLEXIBLE, PLACES, STIFF, G  # noqa: E402

from colophony.physics.friction import McIntyre1979, Smith2000, VanWalstijn2026  # noqa: E402
from colophony.physics.limits.schoonderwaldt_2008 import (  # noqa: E402
    MEASURED_LOWER_KG_S,
    MEASURED_LOWER_N,
    MEASURED_UPPER_KG_S,
)
from colophony.physics.simulation import Model  # noqa: E402

PAGE = ROOT / "docs/physics.md"
PICTURES = ROOT / "docs/images/physics"

SGA = "Schoonderwaldt, Guettler & Askenfelt 2008"
LMC = "Lampis, Mayer & Chatziioannou"
S09 = "Schoonderwaldt 2009a"
S09B = "Schoonderwaldt 2009b"
GA = "Guettler & Askenfelt 1997"
OWN = "our own demand"
W97 = "Woodhouse, *Euphonics*, 9.7"
G02 = "Guettler 2002"
GW = "Galluzzo 2004; Woodhouse & Galluzzo 2025"


# --- writing


def table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """A table in Markdown."""
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    lines += ["| " + " | ".join(str(cell) for cell in row) + " |" for row in rows]
    return "\n".join(lines)


def number(value: float, digits: int = 2) -> str:
    """A figure with a true minus, or "none"."""
    return "none" if np.isnan(value) else f"{value:.{digits}f}".replace("-", "\u2212")


def verdict(value: float, low: float, high: float, digits: int = 2) -> str:
    """Inside a range, or by how much outside it."""
    if low <= value <= high:
        return "inside"
    off = low - value if value < low else value - high
    return f"**{number(off, digits)} too {'low' if value < low else 'high'}**"


# --- the table of what it was held against


Row = tuple[object, ...]
HEAD = ("what", "here", "published", "source", "verdict")


def held() -> str:
    """Every figure beside the published one."""
    return table(HEAD, [*held_weights(), *held_starts(), *held_pitch(), *held_colour(), *held_classifiers()])


def held_weights() -> list[Row]:
    """Greatest and least weight."""
    rows: list[Row] = []
    upper, lower = p.steady_map(), p.lower_map()
    for speed in p.SPEEDS:
        c, error = MEASURED_UPPER_KG_S[speed]
        law = p.upper_law(upper, speed)
        goal = -0.5 if speed == 0.05 else -1.0
        at = f"{100 * speed:.0f} cm/s"
        what = f"greatest weight, {at}: c in F = c v/β, kg/s"
        of_source = verdict(law.constant, c - error, c + error)
        rows.append((what, number(law.constant), f"{c:.2f} ± {error:.2f}", SGA, of_source))
        slope = verdict(law.slope, goal - 0.25, goal + 0.25) + " (± 0.25)"
        rows.append((f"its slope over β, {at}", number(law.slope), f"about {number(goal, 1)}", SGA, slope))
    for speed in p.SPEEDS:
        law = p.lower_law(lower, speed)
        at = f"{100 * speed:.0f} cm/s"
        measured = (
            f"{1000 * MEASURED_LOWER_KG_S[speed][0] * speed:.2f}, mean of four {1000 * MEASURED_LOWER_N:.2f}"
        )
        ratio = law.constant / MEASURED_LOWER_N
        within = "inside" if 1 / 3 <= ratio <= 3 else "**outside**"
        what = f"least weight after 400 periods, {at}: F β² in mN"
        rows.append(
            (
                what,
                number(1000 * law.constant),
                measured,
                SGA,
                f"{ratio:.1f} times the mean: {within} (3 times)",
            )
        )
        slopes = "−2 (machine), −0.9 to −1.3 (cello)"
        rows.append(
            (
                f"its slope over β, {at}",
                number(law.slope),
                slopes,
                f"{SGA}; {LMC}",
                verdict(law.slope, -2.2, -0.8),
            )
        )
    slow, fast = (p.lower_law(lower, speed).constant for speed in (0.05, 0.20))
    rows.append(
        ("least weight, 20 over 5 cm/s", number(fast / slow), "1.03", SGA, verdict(fast / slow, 1 / 1.3, 1.3))
    )
    one, four = (m.share("s-motion") * m.helmholtz().size for m in (p.steady_map(p.ONE_HAIR), upper))
    what = "cells in S-motion with four hairs and with one"
    fewer = "fewer" if four < one else "**not fewer**"
    rows.append(
        (what, f"{four:.0f} and {one:.0f} of {upper.helmholtz().size}", "fewer with width", W97, fewer)
    )
    return rows


def held_starts() -> list[Row]:
    """Guettler's wedge, the kinds of bad starts, the bowing machine's cello."""
    rows: list[Row] = []
    for name, beta in PLACES.items():
        for words, model in (("flexible", FLEXIBLE), ("stiff", STIFF)):
            edges = p.pooled_edges(G, beta, model=model)
            weak, strong = p.wedge(G, beta, 0.4), p.wedge(G, beta, 0.3)
            for k, edge in enumerate(("least", "greatest")):
                value = edges[k]
                what = f"clean starts, {words} violin G, β {name}: {edge} a/F, m/s² per N"
                formula = f"{weak[k]:.2f} (μ 0.8/0.4) to {strong[k]:.2f} (0.8/0.3)"
                judged = verdict(value, 0.9 * weak[k], 1.1 * strong[k]) + " (± 10 %)"
                rows.append((what, number(value), formula, G02, judged))
    for name, beta in PLACES.items():
        tip = p.wedge_tip_n(p.start_map(p.VIOLIN, G, beta, model=FLEXIBLE, samples=p.FINE))
        what = f"tip of the wedge, flexible violin G, β {name}, N"
        rows.append((what, number(tip), "0", G02, verdict(tip, -0.5, 0.5) + " (± 0.5)"))
        kinds = p.kinds_outside(p.start_map(p.VIOLIN, G, beta))
        for side, word, k in (("below", "creak", 0), ("above", "slip", 1)):
            share = 100 * kinds[side][k] / sum(kinds[side])
            what = f"starts well {side} the wedge that {word}, stiff violin G, β {name}, %"
            rows.append((what, number(share, 0), "all", f"{G02}; {GA}", verdict(share, 90, 100, 0) + " (90)"))
    clean = sum(start.kind == "clean" for start in p.cello_starts(1.73))
    settled = sum(start.settling_s is not None for start in p.cello_starts(0.84))
    what = "cello D, 1.56 m/s², β 0.09, 1.73 N: clean starts of 9 within 4 %"
    rows.append((what, clean, "perfect", GW, verdict(clean, 5, 9, 0) + " (5 or more)"))
    rows.append(("the same, 0.84 N: starts that settle", settled, "never", GW, verdict(settled, 0, 0, 0)))
    return rows


def held_pitch() -> list[Row]:
    """What weight does to the pitch."""
    rows: list[Row] = []
    for beta, speed in p.PITCHED:
        flat = -p.flat_at(beta, speed, 2.5, stiffness=False)
        what = f"flattening at F_max/2.5, β {beta:g}, {100 * speed:.0f} cm/s, flexible D, cents"
        rows.append((what, number(flat, 1), "5 to 10", S09, verdict(flat, 5, 10, 1)))
    for speed, most in ((0.05, 26), (0.20, 77)):
        flat = -min(cents for _, cents in p.flattening(0.1, speed, stiffness=False))
        what = f"most flattening, β 0.1, {100 * speed:.0f} cm/s, flexible D, cents"
        rows.append((what, number(flat, 0), f"up to {most}", S09, verdict(flat, 0, most, 0)))
    sharp = max(cents for _, cents in p.flattening(0.1, 0.1))
    rows.append(
        (
            "bowed lightly over ringing, stiff D, cents",
            number(sharp, 1),
            "about 6",
            S09,
            verdict(sharp, 3, 9, 1) + " (± 3)",
        )
    )
    return rows


def held_colour() -> list[Row]:
    """What weight, distance and speed do to the centroid of the bridge force."""
    rows: list[Row] = []
    for speed in (0.05, 0.1, 0.2):
        played = [reading.centroid_hz for _, reading in p.playable(0.1, speed)]
        ratio = played[-1] / played[0]
        what = f"centroid over the playable weights, β 0.1, {100 * speed:.0f} cm/s, Hz"
        here = f"{played[0]:.0f} to {played[-1]:.0f}, {ratio:.2f} times"
        rows.append(
            (what, here, "800 to 3000 over all bowing", S09B, verdict(ratio, 1.5, 9) + " (1.5 times or more)")
        )
    places = [p.bowed(beta, 0.1, 0.24).centroid_hz for beta in (0.06, 0.08, 0.1, 0.125, 0.15)]
    spread = max(places) / min(places)
    what = "centroid over β 0.06 to 0.15 at 0.24 N, 10 cm/s, greatest over least"
    rows.append(
        (what, number(spread), "small beside weight", S09B, verdict(spread, 1, 1 + (ratio_at(0.1) - 1) / 6))
    )
    slow, fast = (p.bowed(0.1, speed, 0.3).centroid_hz for speed in (0.05, 0.2))
    what = "centroid at 20 over 5 cm/s, 0.3 N, β 0.1"
    rows.append((what, number(fast / slow), "falls slightly", S09B, verdict(fast / slow, 0.75, 1)))
    return rows


def ratio_at(speed: float) -> float:
    """How much weight brightens the tone at one speed."""
    played = [reading.centroid_hz for _, reading in p.playable(0.1, speed)]
    return played[-1] / played[0]


def held_classifiers() -> list[Row]:
    """How far the two ways of judging agree, and how ragged the map is."""
    chart_ = p.steady_map()
    same = 100 * float((chart_.helmholtz() == chart_.helmholtz_by_force()).mean())
    ragged = 100 * p.ragged_share(chart_)
    return [
        (
            "cells judged alike by velocity and by bridge force, %",
            number(same, 0),
            "90",
            OWN,
            verdict(same, 90, 100),
        ),
        (
            "cells on the wrong side of the edges over the band, %",
            number(ragged, 1),
            "at most 4",
            OWN,
            verdict(ragged, 0, 4, 1),
        ),
    ]


# --- variants side by side


def variants() -> str:
    """The greatest weight by string, bridge and samples a period."""
    rows = []
    for words, model, samples in (
        ("monochord, stiff string (the map above)", STIFF, p.FINE),
        ("monochord, stiff string", STIFF, p.COARSE),
        ("monochord, stiff string", STIFF, 200),
        ("monochord, flexible string", FLEXIBLE, p.FINE),
        ("monochord, flexible string", FLEXIBLE, p.COARSE),
        ("on a violin's body, stiff string", BODY, p.COARSE),
    ):
        m = p.steady_map(model, samples=samples)
        laws = [p.upper_law(m, speed) for speed in p.SPEEDS]
        rows.append(
            (
                words,
                samples,
                " ".join(number(x.constant) for x in laws),
                " ".join(number(x.slope) for x in laws),
                f"{100 * m.share('helmholtz'):.0f} %",
                f"{100 * p.ragged_share(m):.1f} %",
            )
        )
    head = (
        "string and bridge",
        "samples",
        "c at 5, 10, 15, 20 cm/s, kg/s",
        "slopes",
        "good tone",
        "wrong side",
    )
    return table(head, rows)


def least() -> str:
    """The least weight by patience, string and bridge."""
    rows = []
    for words, model, periods in (
        ("monochord, stiff string", STIFF, 100),
        ("monochord, stiff string", STIFF, 400),
        ("monochord, flexible string", FLEXIBLE, 400),
        ("on a violin's body, stiff string", BODY, 400),
    ):
        m = p.lower_map(model, periods=periods)
        laws = [p.lower_law(m, speed) for speed in p.SPEEDS]
        rows.append(
            (
                words,
                periods,
                " ".join(number(1000 * x.constant) for x in laws),
                " ".join(number(x.slope) for x in laws),
            )
        )
    return table(("string and bridge", "periods", "F_min β² at 5, 10, 15, 20 cm/s, mN", "slopes"), rows)


def ingredients() -> str:
    """What width of hair and torsion do."""
    rows = []
    for points in (1, 2, 4):
        for torsion in (False, True):
            model = Model(body=False, points=points, torsion=torsion)
            m = p.steady_map(model, betas=p.FEW_BETAS, speeds=p.FEW_SPEEDS, samples=p.COARSE)
            flexible = replace(model, stiffness=False)
            starts = [
                int(p.start_map(p.VIOLIN, G, beta, model=flexible).settled(1.5).sum())
                for beta in PLACES.values()
            ]
            cells = m.helmholtz().size
            rows.append(
                (
                    points,
                    "yes" if torsion else "no",
                    f"{100 * m.share('helmholtz'):.0f} %",
                    f"{round(m.share('s-motion') * cells)} of {cells}",
                    *(f"{n} of 640" for n in starts),
                )
            )
    return table(
        ("hairs", "torsion", "steady: good tone", "S-motion", "clean starts β 1/11", "clean starts β 1/8"),
        rows,
    )


def laws() -> str:
    """The three laws of friction side by side."""
    rows = []
    for words, law in (
        ("warm rosin (default), van Walstijn et al. 2026", VanWalstijn2026()),
        ("hyperbola 0.8/0.4/0.2, McIntyre & Woodhouse 1979", McIntyre1979()),
        ("steady fit, Smith & Woodhouse 2000", Smith2000()),
    ):
        model = replace(STIFF, friction=law)
        m = p.steady_map(model, samples=p.COARSE)
        up = [p.upper_law(m, speed) for speed in p.SPEEDS]
        starts = [
            int(p.start_map(p.VIOLIN, G, beta, model=replace(FLEXIBLE, friction=law)).settled(1.5).sum())
            for beta in PLACES.values()
        ]
        rows.append(
            (
                words,
                " ".join(number(x.constant) for x in up),
                " ".join(number(x.slope) for x in up),
                f"{100 * m.share('helmholtz'):.0f} %",
                f"{100 * p.ragged_share(m):.0f} %",
                " and ".join(map(str, starts)),
            )
        )
    rows.append(("*published*", "1.00 0.73 0.75 0.75", "−0.5 … −1", "", "", ""))
    return table(
        (
            "friction law",
            "c at 5, 10, 15, 20 cm/s",
            "slopes",
            "good tone",
            "wrong side",
            "clean starts of 640, β 1/11 and 1/8",
        ),
        rows,
    )


def stiffness() -> str:
    """Clean starts by bending stiffness."""
    rows = []
    for words, string, model, samples in (
        ("none", G, FLEXIBLE, 400),
        ("none, 800 samples a period", G, FLEXIBLE, 800),
        ("a quarter of it, 6e-5", replace(G, inharmonicity=G.inharmonicity / 4), STIFF, 400),
        ("the catalogue's B = 2.5e-4", G, STIFF, 400),
        ("the same, 800 samples", G, STIFF, 800),
        ("the same, with body", G, BODY, 400),
    ):
        cells: list[str] = []
        for beta in PLACES.values():
            m = p.start_map(p.VIOLIN, string, beta, model=model, samples=samples)
            low, high = p.middle_edges(m)
            cells += [str(int(m.settled(1.5).sum())), f"{number(low)} to {number(high)}"]
        rows.append((words, *cells))
    return table(
        ("bending stiffness of violin G", "clean of 640, β 1/11", "a/F", "clean of 640, β 1/8", "a/F"), rows
    )


def fill(page: str, name: str, text: str) -> str:
    """Return the page with the text between a block's two marks."""
    pattern = re.compile(rf"(<!-- computed: {name} -->\n).*?(<!-- end -->)", re.DOTALL)
    assert pattern.search(page), f"docs/physics.md has no block {name}"
    return pattern.sub(lambda m: f"{m[1]}{text}\n{m[2]}", page)


if __name__ == "__main__":
    PICTURES.mkdir(parents=True, exist_ok=True)
    for draw in DRAWN:
        (PICTURES / f"{draw.__name__}.svg").write_text(draw(), encoding="utf-8")
    tables = {block.__name__: block() for block in (held, variants, least, ingredients, laws, stiffness)}
    page = PAGE.read_text(encoding="utf-8")
    for name, text in tables.items():
        page = fill(page, name, text)
    PAGE.write_text(page, encoding="utf-8")
