"""What a map of starts says, in words: command line and picture tell the same."""

from __future__ import annotations

import math

import numpy as np

from colophony.app.look.figures import percent
from colophony.app.phrases import from_to, hair_words, sentences
from colophony.app.range_words import STOPPED_EARLY, figure
from colophony.app.starts import REACHED_CM_S, Starts, reached_ms
from colophony.language import N_, _, figures
from colophony.teaching import wording
from colophony.teaching.cautions import caution
from colophony.teaching.findings import Reader

_HELD = "\u00a0"
#: Of many starts so many are of a kind.
_KINDS = {"clean": N_("clean"), "creaking": N_("creaking"), "slipping": N_("slipping")}
#: What is not to be forgotten before the figures are believed.
LIMITS = N_(
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
            return _("Stopped before any start was known.")
        return _("No start that players accept was found here: try another place of the bow.")
    weight = float(found.weight_n[row])
    least, greatest = found.bearable.least_m_s2[row], found.bearable.greatest_m_s2[row]
    if math.isnan(least):
        good = found.acceleration_m_s2[found.accepted[row]]
        least, greatest = good.min(), good.max()
    hand = wording.hand_weight(weight)
    quick, slow = reached_ms(float(greatest)), reached_ms(float(least))
    if reader == "child":
        return _(
            "With a bow as heavy as {hand}, set out neither like a snail nor like a rocket: then it speaks."
        ).format(hand=hand)
    span = f"{from_to(figure(quick), figure(slow))}{_HELD}ms"
    reached = f"{REACHED_CM_S:g}{_HELD}cm/s"
    if reader == "adult":
        return _(
            "With the weight of {hand} the note starts well if the bow takes {time} to get going "
            "(to {speed})."
        ).format(hand=hand, time=span, speed=reached)
    return _(
        "With {weight} on the string ({hand}) players accept starts of {accelerations}: {speed} "
        "within {time}."
    ).format(
        weight=f"{figure(weight)}{_HELD}N",
        hand=hand,
        accelerations=f"{from_to(figure(float(least)), figure(float(greatest)))}{_HELD}m/s²",
        speed=reached,
        time=span,
    )


def setting(starts: Starts) -> str:
    """Return what was asked."""
    request, found = starts.request, starts.map
    told = _("{string}. Bow {distance} from the bridge, {hair}.").format(
        string=starts.sounding.describe(),
        distance=figures(f"{1000 * found.distance_m:.3g}{_HELD}mm"),
        hair=hair_words(request.tilt_deg),
    )
    return sentences((told, "" if starts.is_finished else _(STOPPED_EARLY)))


def shares(starts: Starts) -> str:
    """Return how many starts were of which kind."""
    from colophony.physics.bowings import START_KINDS

    kinds = starts.map.kind[starts.map.kind >= 0]
    if not len(kinds):
        return ""
    told = [
        _("{share} {kind}").format(share=percent(float(np.mean(kinds == index))), kind=_(_KINDS[name]))
        for index, name in enumerate(START_KINDS)
        if name != "unknown"
    ]
    good = float(starts.map.accepted[starts.map.kind >= 0].mean())
    line = _("Of all starts tried {kinds}; players accept {share}.")
    return line.format(kinds=", ".join(told), share=percent(good))


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
        notes=[shares(starts), f"{_(LIMITS)} {caution('pain', reader=reader)}"],
    )
    return str(start_picture(starts.map, caption))
