"""What can be wrong with a stroke, which changes may cure it, and how much each gives: the table of advice.

Each fault is the breach of one published limit. The limit says which way a change must go and how far a
little of it carries the stroke back (`relief_db`); cures are offered in that order (`ordered_cures`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from colophony.language import N_
from colophony.physics.limits import guettler_2002, schoonderwaldt_2008
from colophony.physics.strings import BOWABLE_SHARE
from colophony.teaching.findings import Turn
from colophony.teaching.own_sound import Against
from colophony.teaching.room import LITTLE, TYPICAL_SPEED_M_S, Change, Rooms
from colophony.teaching.sounding_points import MIDDLE, POINTS

Step = tuple[float, float, float]  # factors of weight, speed, distance

#: A cure that the closed form credits with less is not worth a sentence.
LEAST_RELIEF_DB = 1.0
#: From an octave up on, the player's usual distance has become a place near the middle of the string.
SHORT_STRING_DB = 20.0 * math.log10(2.0)

#: A bow within a fifth of the reference's speed has that speed, octaves.
_SAME_SPEED = math.log2(1.2)

#: The middle of the bowing room, as a share of the sounding length.
TYPICAL_BETA = (MIDDLE - 0.5) / POINTS * BOWABLE_SHARE

#: "A little", as the wording says it: a quarter off, a third more, four counts to three, one sounding point.
_STEPS: Mapping[Change, Step] = MappingProxyType(
    {
        ("weight", "less"): (LITTLE["less"], 1.0, 1.0),
        ("weight", "more"): (LITTLE["more"], 1.0, 1.0),
        ("speed", "less"): (1.0, LITTLE["less"], 1.0),
        ("speed", "more"): (1.0, LITTLE["more"], 1.0),
        ("distance", "nearer"): (1.0, 1.0, (MIDDLE - 1.5) / (MIDDLE - 0.5)),
        ("distance", "farther"): (1.0, 1.0, (MIDDLE + 0.5) / (MIDDLE - 0.5)),
    }
)
#: A groan lies far beyond the limit: half the weight, double the speed.
_GREAT_STEPS: Mapping[Change, Step] = MappingProxyType(
    {("weight", "less"): (1 / 2, 1.0, 1.0), ("speed", "more"): (1.0, 2.0, 1.0)}
)


#: Which end of the range of weight a fault lies beyond: 0 the least, 1 the greatest.
_EDGES: Mapping[str, int] = MappingProxyType({"surface": 0, "pressed": 1, "groaning": 1})


@dataclass(frozen=True, slots=True)
class Fault:
    """What can be wrong with a stroke: the changes that may cure it, and the law behind them in words."""

    name: str
    kind: Literal["tone", "start", "colour"]
    cures: tuple[Change, ...]
    law: str


_TOO_HEAVY: tuple[Change, ...] = (("weight", "less"), ("speed", "more"), ("distance", "nearer"))
_UPPER = N_(
    "The greatest weight grows with speed and shrinks with distance from the bridge (Schelleng 1973; "
    "measured by Schoonderwaldt, Guettler and Askenfelt 2008)."
)

#: Every fault by name. The order of cures counts only where their relief is equal.
FAULTS: Mapping[str, Fault] = MappingProxyType(
    {
        fault.name: fault
        for fault in (
            Fault("pressed", "tone", _TOO_HEAVY, _UPPER),
            Fault("groaning", "tone", _TOO_HEAVY, _UPPER),
            Fault(
                "surface",
                "tone",
                (("distance", "farther"), ("weight", "more"), ("speed", "less")),
                N_(
                    "The least weight falls with the square of the distance from the bridge; Schelleng "
                    "(1973) has it grow with speed, Schoonderwaldt, Guettler and Askenfelt (2008) measured "
                    "no effect of speed."
                ),
            ),
            Fault(
                "no-tone",
                "tone",
                (("weight", "more"), ("speed", "less")),
                N_("The hair takes hold up to a speed that grows with the weight (Guettler 2002)."),
            ),
            Fault(
                "creaking-start",
                "start",
                (("weight", "less"), ("speed", "more")),
                N_(
                    "The acceleration that a clean start needs grows with the weight on the string "
                    "(Guettler 2002)."
                ),
            ),
            Fault(
                "slipping-start",
                "start",
                (("weight", "more"), ("speed", "less")),
                N_(
                    "The acceleration that a clean start bears grows with the weight on the string "
                    "(Guettler 2002)."
                ),
            ),
            Fault(
                "brighter",
                "colour",
                (("weight", "less"), ("weight", "more")),
                N_(
                    "Weight decides brightness more than anything else (Schoonderwaldt 2009), but a string "
                    "that slips twice is bright as well."
                ),
            ),
            Fault(
                "duller",
                "colour",
                (("weight", "more"), ("distance", "nearer")),
                N_(
                    "Weight decides brightness more than anything else; the place acts through the weight it "
                    "bears (Schoonderwaldt 2009)."
                ),
            ),
        )
    }
)


def relief_db(fault: str, change: Change, *, beta: float = TYPICAL_BETA) -> float | None:
    """Return how far a little of one change carries the stroke towards its limit, in dB.

    Positive towards the playable side. ``beta`` is bow-bridge distance over sounding length before the
    change. None where no closed form exists (colour).
    """
    great = _GREAT_STEPS if fault == "groaning" else _STEPS
    weight, speed, distance = great.get(change, _STEPS[change])
    before = _margin(fault, 1.0, TYPICAL_SPEED_M_S, beta)
    after = _margin(fault, weight, speed * TYPICAL_SPEED_M_S, distance * beta)
    if before is None or after is None:
        return None
    return 20.0 * math.log10(after / before)


def computed_relief_db(fault: str, change: Change, rooms: Rooms) -> float | None:
    """Return how far the limit that a fault breaks moves away with a little of one change, dB, as computed.

    None where the string was not asked, for great changes, and for faults that no range of weight describes.
    """
    edge = _EDGES.get(fault)
    here = rooms.here.computed_n
    if edge is None or here is None or (fault == "groaning" and change in _GREAT_STEPS):
        return None
    if change[0] == "weight":
        return 20.0 * math.log10(LITTLE[change[1]]) * (-1.0 if edge else 1.0)
    there = rooms.after[change].computed_n if change in rooms.after else None
    if there is None:
        return None
    return 20.0 * math.log10(there[edge] / here[edge]) * (1.0 if edge else -1.0)


def is_way_back(fault: Fault, change: Change) -> bool:
    """Return whether a change takes the bow back to the open string's share of a shortened string.

    Its relief is that whole way; what one sounding point gives is another question.
    """
    return change == ("distance", "nearer") and fault.kind == "tone"


def ordered_cures(
    fault: Fault, *, shortened: float = 1.0, rooms: Rooms | None = None
) -> list[tuple[Change, float | None]]:
    """Return the two best cures with their relief in dB, the greater first.

    A cure is offered if the published law credits it; where the string was computed as well, the lesser of
    both reliefs counts. Nearer to the bridge raises the greatest weight but closes the range from below twice
    as fast, so it is offered against pressing only where the stopped string is so short that the place is
    likely at fault; its published relief is then the way back to the open string's share.

    Parameters
    ----------
    shortened : open over stopped length of the string, 1 and above
    rooms : of the stroke, as far as they are known
    """
    rated: list[tuple[Change, float | None]] = []
    for change in fault.cures:
        relief = relief_db(fault.name, change)
        least = LEAST_RELIEF_DB
        back = is_way_back(fault, change)
        if back:
            relief, least = 20.0 * math.log10(shortened), SHORT_STRING_DB - 0.1
        if relief is None:
            rated.append((change, None))
        elif relief >= least:
            computed = None if rooms is None or back else computed_relief_db(fault.name, change, rooms)
            rated.append((change, relief if computed is None else min(relief, computed)))
    rated.sort(key=lambda cure: -round(cure[1] or 0.0, 1))
    return rated[:2]


#: Cures that are offered only where the player's own strokes at marked places name the cause.
BY_REFERENCE: Mapping[str, tuple[Change, ...]] = MappingProxyType(
    {
        "brighter": (("speed", "more"), ("distance", "farther")),
        "duller": (("speed", "less"),),
    }
)
_UNDO: Mapping[Turn, Turn] = MappingProxyType(
    {"more": "less", "less": "more", "nearer": "farther", "farther": "nearer"}
)


def cures_by_reference(
    fault: Fault, cures: list[tuple[Change, float | None]], difference: Against
) -> list[tuple[Change, float | None]]:
    """Return the cures that fit how the stroke differs from the player's own at a marked place.

    Where one change stands out and undoing it cures the fault, that is the cure, and no test is needed.
    Where the speed is known to be the reference's, it is not the cause and another cure stands alone.
    """
    if difference.named is not None:
        variable, turn = difference.named
        undo: Change = (variable, _UNDO[turn])
        if _is_credited(fault, undo) or undo in BY_REFERENCE.get(fault.name, ()):
            return [next((cure for cure in cures if cure[0] == undo), (undo, None))]
    speed = difference.speed
    if "time" in difference.known and speed is not None and abs(math.log2(speed.value)) < _SAME_SPEED:
        return [cure for cure in cures if cure[0][0] != "speed"] or cures
    return cures


def _is_credited(fault: Fault, change: Change) -> bool:
    relief = relief_db(fault.name, change)
    return change in fault.cures and (relief is None or relief >= LEAST_RELIEF_DB)


def _margin(fault: str, weight: float, speed: float, beta: float) -> float | None:
    """Return limit over value, above 1 inside it; only ratios count, so any string's Z0 and pitch will do.

    For a start the speed stands for its acceleration.
    """
    Z0, f0 = schoonderwaldt_2008.MEASURED_Z0_KG_S, 293.66
    mu_s, mu_d = schoonderwaldt_2008.MU_S, schoonderwaldt_2008.MU_D
    if fault in ("pressed", "groaning"):
        return schoonderwaldt_2008.measured_weight_max_n(Z0=Z0, vb=speed, beta=beta) / weight
    if fault == "surface":
        return weight / schoonderwaldt_2008.measured_weight_min_n(Z0=Z0, beta=beta)
    if fault == "no-tone":
        return guettler_2002.speed_window_m_s(F=weight, Z0=Z0, beta=beta, dmu=mu_s - mu_d)[1] / speed
    if fault in ("creaking-start", "slipping-start"):
        least, greatest = guettler_2002.acceleration_window_m_s2(
            F=weight, Z0=Z0, f0=f0, beta=beta, mu_s=mu_s, mu_d=mu_d
        )
        return speed / least if fault == "creaking-start" else greatest / speed
    return None
