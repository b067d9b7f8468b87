"""Measure how often the change between a take and the player's own reference is named right.

    python tools/measure_own_sound.py [SEED]

Prints the tables of docs/reference-takes.md: every open string of violin, viola and cello bowed by the
program's own string, and five bowed by the small string of the tests, which shares no code with it. The
references are four whole bows each at sounding points 2, 3 and 4; then takes of two bows have one thing
changed. It takes some minutes.
"""

from __future__ import annotations

import math
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))

from colophony.listening.take import Stroke  # noqa: E402
from colophony.physics.instruments import find_instrument  # noqa: E402
from colophony.teaching.own_sound import Against, Comparison, OwnSound, against, find_own_sound  # noqa: E402
from colophony.teaching.reference import marked_strokes  # noqa: E402
from marked_takes import CHANGES, Player  # noqa: E402

SITUATIONS = {
    "whole bows, microphone stayed": (True, True),
    "whole bows, microphone moved": (True, False),
    "any bows, microphone stayed": (False, True),
    "any bows, microphone moved": (False, False),
}
TWINS = (("violin", "G"), ("violin", "D"), ("violin", "A"), ("cello", "G"), ("viola", "C"))
#: A change, the truth in octaves (speed, distance, weight), the stroke, the point asked for.
Case = tuple[str, tuple[float, float, float], Stroke, float, OwnSound]


def main(seed: int) -> None:
    """Print a table for each string model and situation."""
    own = [(i, s.name) for i in ("violin", "viola", "cello") for s in find_instrument(i).strings]
    for title, strings, twin in (("The program's string", own, False), ("The tests' string", TWINS, True)):
        cases = [
            case
            for instrument, string in strings
            for case in _cases(Player(instrument, "4/4", string, seed, twin=twin))  # type: ignore[arg-type]
        ]
        for situation, (whole_bows, same_microphone) in SITUATIONS.items():
            print(f"\n### {title}: {situation}\n")
            _table(cases, whole_bows=whole_bows, same_microphone=same_microphone)


def _cases(player: Player) -> Iterator[Case]:
    marked = []
    for point in (3.0, 2.0, 4.0):
        take = player.take(player.bows(point, 4))
        marked += marked_strokes(player.mark(point), take.strokes)
    own = find_own_sound(marked)
    print(player.instrument, player.string, f"{len(marked)} of 12 reference strokes fit", file=sys.stderr)
    for point in (2.0, 3.0, 4.0):
        for name, (speed, weight, moved, _) in CHANGES.items():
            at = point + moved
            if 1.5 <= at <= 4.6:
                take = player.take(player.bows(point, 2, speed=speed, weight=weight, at=at))
                truth = (math.log2(speed), math.log2((at - 0.5) / (point - 0.5)), math.log2(weight))
                for stroke in take.strokes:
                    yield name, truth, stroke, point, own


def _table(cases: list[Case], *, whole_bows: bool, same_microphone: bool) -> None:
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    inside: dict[str, list[bool]] = defaultdict(list)
    for name, truth, stroke, point, own in cases:
        found = against(stroke, Comparison(own, point, whole_bows, same_microphone))
        counts[name][_verdict(found, CHANGES[name][3])] += 1
        if found is not None:
            told = (("speed", found.speed), ("distance", found.distance), ("weight", found.weight))
            for (variable, ratio), value in zip(told, truth, strict=True):
                if ratio is not None:
                    inside[variable].append(ratio.low <= 2.0**value <= ratio.high)
    print(
        "| changed | strokes | named right | nothing named | another named | not compared |\n"
        "|---|---|---|---|---|---|"
    )
    for name, count in counts.items():
        cells = [count[key] for key in ("right", "nothing", "wrong", "none")]
        print(f"| {name} | {count.total()} | " + " | ".join(map(str, cells)) + " |")
    compared = sum(count.total() - count["none"] for count in counts.values())
    for variable, hits in inside.items():
        print(
            f"{variable}: told for {len(hits)} of {compared}, inside its bounds {np.mean(hits):.0%}", end="; "
        )
    print()


def _verdict(found: Against | None, truth: tuple[str, str] | None) -> str:
    if found is None:
        return "none"
    if found.named == truth:
        return "right" if truth else "nothing"
    return "nothing" if found.named is None else "wrong"


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 31)
