"""What a map of starts says, in words: command line and picture tell the same."""

from __future__ import annotations

import math

import numpy as np

from colophony.app.range_words import figure
from colophony.app.starts import REACHED_CM_S, Starts, reached_ms
from colophony.teaching import wording
from colophony.teaching.cautions import caution
from colophony.teaching.findings import Reader

_THIN = "\u2009"
#: What is not to be forgotten before the figures are believed.
LIMITS = (
    "Computed for a typical string at rest and a bow that gets faster evenly, with all its weight on: a "
    "guide, no law. What players accept was found on a violin's G string and is carried over by the number "
    "of vibrations. Ears and hand decide."
)


def usual_row(starts: Starts) -> int | None:
    """Return the weight of which the sentence speaks: with accepted starts, and nearest to a usual stroke's.

    None where no start is accepted.
    """
    good = np.flatnonzero(starts.map.accepted.any(axis=1))
    if not len(good):
        return None
    away = np.abs(np.log(starts.map.weight_n[good] / starts.usual_weight_n))
    return int(good[np.argmin(away)])


def headline(starts: Starts, *, reader: Reader) -> str:
    """Return how quickly a stroke may set out under the weight that leaves most room."""
    found, row = starts.map, usual_row(starts)
    if row is None:
        if not found.is_finished:
            return "Stopped before any start was known."
        return "No start that players accept was found here: try another place of the bow."
    weight = float(found.weight_n[row])
    least, greatest = found.bearable.least_m_s2[row], found.bearable.greatest_m_s2[row]
    if math.isnan(least):
        good = found.acceleration_m_s2[found.accepted[row]]
        least, greatest = good.min(), good.max()
    hand = wording.hand_weight(weight)
    quick, slow = reached_ms(float(greatest)), reached_ms(float(least))
    if reader == "child":
        return (
            f"With a bow as heavy as {hand}, set out neither like a snail nor like a rocket: then it speaks."
        )
    span = f"{figure(quick)} to {figure(slow)}{_THIN}ms"
    if reader == "adult":
        return (
            f"With the weight of {hand} the note starts well if the bow takes {span} to get going "
            f"(to {REACHED_CM_S:g}{_THIN}cm/s)."
        )
    return (
        f"With {figure(weight)}{_THIN}N on the string ({hand}) players accept starts of "
        f"{figure(float(least))} to {figure(float(greatest))}{_THIN}m/s²: "
        f"{REACHED_CM_S:g}{_THIN}cm/s within {span}."
    )


def setting(starts: Starts) -> str:
    """Return what was asked."""
    request, found = starts.request, starts.map
    hair = "hair flat" if request.tilt_deg == 0 else f"hair tilted by {request.tilt_deg:g} degrees"
    stopped = "" if starts.is_finished else " Stopped early: what is finished is shown."
    place = f"{1000 * found.distance_m:.3g}{_THIN}mm from the bridge"
    return f"{starts.sounding.describe()}. Bow {place}, {hair}.{stopped}"


def shares(starts: Starts) -> str:
    """Return how many starts were of which kind."""
    from colophony.physics.bowings import START_KINDS

    kinds = starts.map.kind[starts.map.kind >= 0]
    if not len(kinds):
        return ""
    told = [
        f"{100 * float(np.mean(kinds == index)):.0f}{_THIN}% {name}"
        for index, name in enumerate(START_KINDS)
        if name != "unknown"
    ]
    good = 100 * float(starts.map.accepted[starts.map.kind >= 0].mean())
    return f"Of all starts tried {', '.join(told)}; players accept {good:.0f}{_THIN}%."


def picture(starts: Starts, *, reader: Reader) -> str:
    """Return the picture of the map as the text of an SVG file."""
    from colophony.app.look.start_picture import Caption, start_picture

    row = usual_row(starts)
    caption = Caption(
        sentence=headline(starts, reader=reader),
        setting=setting(starts),
        reached_cm_s=REACHED_CM_S,
        weight_n=None if row is None else float(starts.map.weight_n[row]),
        description=f"{headline(starts, reader=reader)} {shares(starts)}",
        notes=[shares(starts), f"{LIMITS} {caution('pain', reader=reader)}"],
    )
    return str(start_picture(starts.map, caption))
