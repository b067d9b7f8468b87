"""Computes the figures of the bowed string, writes the tables of ``docs/physics.md`` and its pictures.

``make physics`` takes two to six minutes. The figures are those that the tests judge
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
from colophony.physics.maps import StartMap  # noqa: E402
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
    shipped, fine, patient = (
        p.shipped_ranges(),
        p.machine_ranges(samples=p.FINE),
        p.machine_ranges(periods=400),
    )
    for speed in p.SPEEDS:
        c, error = MEASURED_UPPER_KG_S[speed]
        goal = -0.5 if speed == 0.05 else -1.0
        at = f"{100 * speed:.0f} cm/s"
        for ranges, words in ((shipped, "map as shipped"), (fine, "800 samples")):
            law = p.upper_law(ranges, speed)
            what = f"greatest weight, {at}, {words}: c in F = c v/β, kg/s"
            of_source = verdict(law.constant, c - error, c + error, 3)
            rows.append((what, number(law.constant), f"{c:.2f} ± {error:.2f}", SGA, of_source))
            slope = verdict(law.slope, goal - 0.25, goal + 0.25) + " (± 0.25)"
            here = f"{number(law.slope)} ± {law.error:.2f}"
            rows.append((f"its slope over β, {at}, {words}", here, f"about {number(goal, 1)}", SGA, slope))
    for speed in p.SPEEDS:
        law = p.lower_law(patient, speed)
        at = f"{100 * speed:.0f} cm/s"
        one = 1000 * MEASURED_LOWER_KG_S[speed][0] * speed
        ratio = law.constant / MEASURED_LOWER_N
        within = "inside" if 1 / 3 <= ratio <= 3 else "**outside**"
        rows += [
            (
                f"least weight after 400 periods, {at}: F β² in mN",
                number(1000 * law.constant),
                f"{one:.2f}, mean of four {1000 * MEASURED_LOWER_N:.2f}",
                SGA,
                f"{ratio:.1f} times the mean: {within} (3 times)",
            ),
            (
                f"its slope over β, {at}",
                number(law.slope),
                "−2 (machine), −0.9 to −1.3 (cello)",
                f"{SGA}; {LMC}",
                verdict(law.slope, -2.2, -0.8),
            ),
        ]
    slow, fast = (p.lower_law(patient, speed).constant for speed in (0.05, 0.20))
    much = number(fast / slow)
    rows.append(("least weight, 20 over 5 cm/s", much, "1.03", SGA, verdict(fast / slow, 1 / 1.3, 1.3)))
    for words, maps in (("0.15 to 0.25", p.far_maps), ("0.02 to 0.17", p.shipped_maps)):
        four, one = (p.count(maps(model), "s-motion") for model in (STIFF, p.ONE_HAIR))
        size = sum(p.cells(chart).size for chart in maps(STIFF))
        what = f"cells in S-motion with four hairs and with one, β {words}"
        fewer = "fewer" if four <= one / 3 else "too few to tell" if one < 0.01 * size else "**not fewer**"
        rows.append((what, f"{four} and {one} of {size}", "fewer with width", W97, fewer))
    return rows


def held_starts() -> list[Row]:
    """Guettler's wedge, the kinds of bad starts, the bowing machine's cello."""
    rows: list[Row] = []
    for name, beta in PLACES.items():
        weak, strong = p.wedge(G, beta, 0.4), p.wedge(G, beta, 0.3)
        for words, found in (
            ("map as shipped, flexible", p.clean_edges(as_shipped(beta, FLEXIBLE))),
            ("flexible", p.pooled_edges(G, beta, model=FLEXIBLE)),
            ("stiff", p.pooled_edges(G, beta, model=STIFF)),
        ):
            for k, edge in enumerate(("least", "greatest")):
                what = f"clean starts, {words} violin G, β {name}: {edge} a/F, m/s² per N"
                formula = f"{weak[k]:.2f} (μ 0.8/0.4) to {strong[k]:.2f} (0.8/0.3)"
                judged = verdict(found[k], 0.9 * weak[k], 1.1 * strong[k]) + " (± 10 %)"
                rows.append((what, number(found[k]), formula, G02, judged))
    for name, beta in PLACES.items():
        tip = p.wedge_tip_n(p.starts(G, beta, model=FLEXIBLE, samples=p.FINE))
        what = f"tip of the wedge, flexible violin G, β {name}, N"
        rows.append((what, number(tip), "0", G02, verdict(tip, -0.5, 0.5) + " (± 0.5)"))
        for side, word in (("below", "creak"), ("above", "slip")):
            for words, chart in (("map as shipped, ", as_shipped(beta, STIFF)), ("", p.starts(G, beta))):
                share = 100 * p.share_outside(chart, side)
                what = f"starts well {side} the wedge that {word}, {words}stiff violin G, β {name}, %"
                judged = verdict(share, 90, 100, 0) + " (90)"
                rows.append((what, number(share, 0), "all", f"{G02}; {GA}", judged))
    clean = int((p.cello_starts(1.73).start_kind == p.CLEAN).sum())
    settled = int(np.isfinite(p.cello_starts(0.84).settling_periods).sum())
    what = "cello D, 1.56 m/s², β 0.09, 1.73 N: clean starts of 9 within 4 %"
    rows.append((what, clean, "perfect", GW, verdict(clean, 5, 9, 0) + " (5 or more)"))
    rows.append(("the same, 0.84 N: starts that settle", settled, "never", GW, verdict(settled, 0, 0, 0)))
    return rows


def as_shipped(beta: float, model: Model) -> StartMap:
    """The map of starts of the violin's G when nobody chooses anything."""
    return p.starts(G, beta, model=model, samples=None, weights=p.AS_SHIPPED)


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
    for weight, places in p.SPEAKING.items():
        seen = [reading.centroid_hz for reading in p.over_distance(weight)]
        spread = max(seen) / min(seen)
        what = (
            f"centroid over β {places[0]:g} to {places[-1]:g} at {weight:g} N, 10 cm/s, greatest over least"
        )
        most = 1 + (ratio_at(0.1) - 1) / 6
        judged = verdict(spread, 1, most) + " (a sixth of what weight does)"
        rows.append((what, number(spread), "small beside weight", S09B, judged))
    slow, _, fast = (reading.centroid_hz for reading in p.over_speed())
    what = "centroid at 20 over 5 cm/s, 0.3 N, β 0.1"
    rows.append((what, number(fast / slow), "falls slightly", S09B, verdict(fast / slow, 0.75, 1)))
    return rows


def ratio_at(speed: float) -> float:
    """How much weight brightens the tone at one speed."""
    played = [reading.centroid_hz for _, reading in p.playable(0.1, speed)]
    return played[-1] / played[0]


def held_classifiers() -> list[Row]:
    """How far the two ways of judging agree, and how ragged the map is."""
    by_velocity, by_force = p.judged_both_ways()
    same = 100 * float((by_velocity == by_force).mean())
    ragged = 100 * p.ragged_share(p.shipped_maps())
    return [
        (
            "cells judged alike by velocity and by bridge force, %",
            number(same, 0),
            "90",
            OWN,
            verdict(same, 90, 100),
        ),
        (
            "map as shipped: cells on the wrong side of the edges over the band, %",
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
    for words, samples, ranges in (
        ("monochord, stiff string: map as shipped", 200, p.shipped_ranges()),
        ("the same at the machine's distances", 200, p.machine_ranges()),
        ("the same", 400, p.machine_ranges(samples=400)),
        ("the same", 800, p.machine_ranges(samples=800)),
        ("monochord, flexible string", 200, p.machine_ranges(FLEXIBLE)),
        ("monochord, flexible string", 800, p.machine_ranges(FLEXIBLE, samples=800)),
        ("on a violin's body, stiff string", 400, p.machine_ranges(BODY, samples=400)),
    ):
        upper = [p.upper_law(ranges, speed) for speed in p.SPEEDS]
        rows.append((words, samples, *constants(upper), f"{p.mean_range_db(ranges):.1f}"))
    head = ("string and bridge", "samples", "c at 5, 10, 15, 20 cm/s, kg/s", "slopes", "mean range, dB")
    return table(head, rows)


def constants(found: Sequence[p.Law], scale: float = 1.0) -> tuple[str, str]:
    """Constants and slopes at the four speeds."""
    return " ".join(number(scale * x.constant) for x in found), " ".join(number(x.slope) for x in found)


def least() -> str:
    """The least weight by patience, string and bridge."""
    rows = []
    for words, model, periods in (
        ("monochord, stiff string", STIFF, 100),
        ("monochord, stiff string", STIFF, 400),
        ("monochord, flexible string", FLEXIBLE, 400),
        ("on a violin's body, stiff string", BODY, 400),
    ):
        ranges = p.machine_ranges(model, periods=periods)
        lower = [p.lower_law(ranges, speed) for speed in p.SPEEDS]
        rows.append((words, periods, *constants(lower, 1000), f"{p.mean_range_db(ranges):.1f}"))
    head = ("string and bridge", "periods", "F_min β² at 5, 10, 15, 20 cm/s, mN", "slopes", "mean range, dB")
    return table(head, rows)


def narrowing() -> str:
    """How the playable range narrows towards the bridge, by hairs and samples a period."""
    places = (0.03, 0.04, 0.05, 0.06, 0.08, 0.1, 0.115, 0.125, 0.135, 0.15, 0.16, 0.17, 0.185, 0.2, 0.21)
    rows = []
    for words, model, samples in (
        ("full model", BODY, 200),
        ("full model", BODY, 400),
        ("full model", BODY, 800),
        ("full model, flexible string", replace(BODY, stiffness=False), 400),
        ("full model, one hair", replace(BODY, points=1), 400),
    ):
        found = p.violin_ranges(places, model=model, samples=samples).range_db
        rows.append((words, samples, *("none" if np.isnan(x) else f"{x:.0f}" for x in found)))
    return table(("violin D, 10 cm/s", "samples", *(f"β {x:g}" for x in places)), rows)


def ingredients() -> str:
    """What width of hair and torsion do."""
    rows = []
    for points in (1, 2, 4):
        for torsion in (False, True):
            model = Model(body=False, points=points, torsion=torsion)
            maps, far = p.shipped_maps(model, (0.1, 0.2)), p.far_maps(model)
            flexible = replace(model, stiffness=False)
            charts = [p.starts(G, beta, model=flexible) for beta in PLACES.values()]
            rows.append(
                (
                    points,
                    "yes" if torsion else "no",
                    f"{100 * p.share(maps, 'helmholtz'):.0f} %",
                    f"{100 * p.share(far, 's-motion'):.1f} %",
                    *(f"{p.clean_count(chart)} of {chart.kind.size}" for chart in charts),
                )
            )
    return table(
        (
            "hairs",
            "torsion",
            "steady: good tone",
            "S-motion, β 0.15 to 0.25",
            "clean starts β 1/11",
            "clean starts β 1/8",
        ),
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
        maps, ranges = p.shipped_maps(model), p.shipped_ranges(model)
        upper = [p.upper_law(ranges, speed) for speed in p.SPEEDS]
        starts = [
            p.clean_count(p.starts(G, beta, model=replace(FLEXIBLE, friction=law)))
            for beta in PLACES.values()
        ]
        good, ragged = 100 * p.share(maps, "helmholtz"), 100 * p.ragged_share(maps)
        clean = " and ".join(map(str, starts))
        rows.append((words, *constants(upper), f"{good:.0f} %", f"{ragged:.0f} %", clean))
    rows.append(("*published*", "1.00 0.73 0.75 0.75", "−0.5 … −1", "", "", ""))
    head = ("friction law", "c at 5, 10, 15, 20 cm/s", "slopes", "good tone", "wrong side")
    return table((*head, "clean starts of 480, β 1/11 and 1/8"), rows)


def stiffness() -> str:
    """Clean starts by bending stiffness."""
    rows = []
    for words, string, model, samples in (
        ("none, 200 samples a period", G, FLEXIBLE, 200),
        ("none", G, FLEXIBLE, 400),
        ("none, 800 samples a period", G, FLEXIBLE, 800),
        ("a quarter of it, 6e-5", replace(G, inharmonicity=G.inharmonicity / 4), STIFF, 400),
        ("the catalogue's B = 2.5e-4", G, STIFF, 400),
        ("the same, 800 samples", G, STIFF, 800),
        ("the same, with body", G, BODY, 400),
    ):
        found: list[str] = []
        for beta in PLACES.values():
            chart = p.starts(string, beta, model=model, samples=samples)
            low, high = p.clean_edges(chart)
            found += [
                str(p.clean_count(chart)),
                "none" if np.isnan(low) else f"{number(low)} to {number(high)}",
            ]
        rows.append((words, *found))
    return table(
        ("bending stiffness of violin G", "clean of 480, β 1/11", "a/F", "clean of 480, β 1/8", "a/F"), rows
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
    tables = {
        block.__name__: block() for block in (held, variants, least, narrowing, ingredients, laws, stiffness)
    }
    page = PAGE.read_text(encoding="utf-8")
    for name, text in tables.items():
        page = fill(page, name, text)
    PAGE.write_text(page, encoding="utf-8")
