"""The strips that a week's plan needs: strings and high notes beside the string, beats along the bow."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from colophony.app import bow
from colophony.app.paper.strip import MOST_STRIPS
from colophony.app.paper.strip_beats import BeatStrip, find_beats
from colophony.app.paper.strip_points import USUAL_SPEED_CM_S, PointStrip, find_strip
from colophony.physics.strings import strings_of
from colophony.teaching.plans import Plan

if TYPE_CHECKING:
    from colophony.app.kept_maps import KeptMaps

_MOST_BOWS = 2


def strips_of_plan(
    plan: Plan, *, kept: KeptMaps | None = None
) -> tuple[tuple[PointStrip, ...], tuple[BeatStrip, ...]]:
    """Return the strips for a week: up to four beside the string, up to two for the bow.

    The open strings that are played most, lowest first, then high notes; the speed is the one most asked for.
    """
    targets = [target for item in plan.items for target in item.targets]
    open_notes = {string.name: string.note for string in strings_of(plan.instrument, plan.size)}
    strings = Counter(target.string for target in targets)
    high = list(
        dict.fromkeys(
            (target.string, target.note) for target in targets if target.note != open_notes[target.string]
        )
    )[: MOST_STRIPS - 1]
    common = [name for name, _ in strings.most_common(MOST_STRIPS - len(high))]
    wanted = [(name, None) for name in open_notes if name in common] + high
    speeds = Counter(round(target.speed_cm_s, 1) for target in targets)
    speed = speeds.most_common(1)[0][0] if speeds else USUAL_SPEED_CM_S
    points = tuple(
        find_strip(
            bow.Request(instrument=plan.instrument, size=plan.size, string=name, note=note),
            speed_cm_s=min(max(speed, 1.0), 200.0),
            kept=kept,
        )
        for name, note in wanted
    )
    return points, _bows(plan)


def _bows(plan: Plan) -> tuple[BeatStrip, ...]:
    """Return the bows of whole beats over all of the hair, the most asked for first."""
    bows = Counter(
        (int(target.beats), target.tempo)
        for item in plan.items
        for target in item.targets
        if target.part == "whole" and target.beats == int(target.beats) and 1 <= target.beats <= 16
    )
    return tuple(
        find_beats(plan.instrument, plan.size, beats=beats, tempo=tempo)
        for (beats, tempo), _ in bows.most_common(_MOST_BOWS)
        if 20.0 <= tempo <= 240.0
    )
