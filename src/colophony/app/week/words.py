"""The fixed words of the sounding week, for three readers."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from colophony.app.bow import Request
from colophony.app.look.figures import with_unit
from colophony.app.paper.strip import newtons
from colophony.app.week.strokes import Failing, Stroke
from colophony.language import N_, figures
from colophony.teaching.findings import Reader, Say, said
from colophony.teaching.wording import hand_weight

#: What was done wrong in a failure, with the figures of it and of the target.
FAILINGS: Mapping[Failing, Say] = MappingProxyType(
    {
        "too-heavy": Say(
            "Here the arm is too heavy.",
            "Too much weight: about that of {thing}, where about that of {right_thing} is asked for.",
            "Weight {weight} in place of {right_weight}, all else as in the target.",
        ),
        "too-light": Say(
            "Here the arm is too light.",
            "Too little weight: about that of {thing}, where about that of {right_thing} is asked for.",
            "Weight {weight} in place of {right_weight}, all else as in the target.",
        ),
        "too-near": Say(
            "Here the bow slid too near to the bridge.",
            "The bow has wandered to {distance} from the bridge; {right_distance} are asked for.",
            "Distance {distance} in place of {right_distance}, weight and speed kept.",
        ),
        "weight-stays": Say(
            "Here the bow came nearer, but the arm stayed light.",
            "The bow came nearer to the bridge and the weight did not grow along: about that of {thing} in "
            "place of {right_thing}.",
            "Near the bridge still with {weight}; {right_weight} is asked for there.",
        ),
        "place-stays": Say(
            "Here the finger went up, and the bow stayed where it was.",
            "The finger went up and the bow stayed {distance} from the bridge; asked for: {right_distance}.",
            "Distance {distance} in place of {right_distance} on the shorter string; weight {weight}.",
        ),
        "bow-stops": Say(
            "Here the bow nearly stands still.",
            "The bow nearly stands still ({speed}, asked for {right_speed}) and the weight stays.",
            "Speed {speed} in place of {right_speed} under the same weight.",
        ),
        "creeps-in": Say(
            "Here the bow creeps into the note.",
            "The bow creeps into the note: it takes {start} to get going, where {right_start} do.",
            "From rest to full speed in {start} in place of {right_start}; weight {weight}.",
        ),
    }
)

#: The figures of the target, beside those of the failure.
AS_ASKED = Say(
    "Here everything is just right.",
    "As asked for: {distance} from the bridge, about the weight of {thing}, {speed}.",
    "{distance}, {weight}, {speed}, full speed after {start}.",
)
TARGET = N_("The tone to look for")
FAILURE = N_("How it usually goes wrong")


def failing_words(failure: Stroke, target: Stroke) -> Say:
    """Return what was done wrong, with its figures."""
    assert failure.failing is not None
    words, wrong, right = FAILINGS[failure.failing], failure.bowed.request, target.bowed.request

    def say(reader: Reader) -> str:
        asked = {f"right_{name}": text for name, text in _figures(right).items()}
        values = _figures(wrong) | asked
        if values["thing"] == values["right_thing"]:
            # Two weights that one thing stands for: the figures tell them apart.
            values["thing"], values["right_thing"] = values["weight"], values["right_weight"]
        return words.to(reader).format(**values)

    return said(say)


def target_words(target: Stroke) -> Say:
    """Return the figures of the target."""
    return said(lambda reader: AS_ASKED.to(reader).format(**_figures(target.bowed.request)))


def _figures(request: Request) -> dict[str, str]:
    return {
        "thing": hand_weight(request.weight_n or 0.0),
        "weight": newtons(request.weight_n),
        "distance": with_unit(request.distance_mm, "mm"),
        "speed": f"{figures(f'{request.speed_cm_s:.2g}')}\u00a0cm/s",
        "start": with_unit(request.start_ms, "ms"),
    }
