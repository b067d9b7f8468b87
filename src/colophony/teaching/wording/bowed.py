"""What a simulated stroke did, in words, and what the player would change.

The simulation knows the string's state for certain, and two that no recording shows: S-motion, and a string
that is choked by far too much weight. All else is said as of a recorded stroke (`heard`, `cures`).
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from colophony.language import N_, _
from colophony.listening.take import ToneState
from colophony.teaching.faults import FAULTS, ordered_cures
from colophony.teaching.findings import Reader, Say
from colophony.teaching.room import Rooms
from colophony.teaching.wording.cures import cure
from colophony.teaching.wording.heard import STATES

#: Names of the states that only a simulation tells.
S_MOTION, CHOKED = "s-motion", "choked"

_OWN: Mapping[str, tuple[str, Say]] = MappingProxyType(
    {
        S_MOTION: (
            N_("nasal"),
            Say(
                "The string sang through its nose.",
                "The tone was nasal: the string slipped once in every vibration, but swung in a bent shape.",
                "One slip a period in S-motion: one high partial stands out, as near the greatest weight.",
            ),
        ),
        CHOKED: (
            N_("choked"),
            Say(
                "The bow was so heavy that the string could not swing freely.",
                "The string was choked: under so much weight it could not swing freely.",
                "No clean slip: weight far above the greatest for this speed and place.",
            ),
        ),
    }
)

_OF_LIGHT_BOWS = ("multiple-slip", "noise")

#: The fault that a simulated state is, by the names of `colophony.teaching.faults`.
FAULT_OF_SIMULATED: Mapping[str, str] = MappingProxyType(
    {
        S_MOTION: "pressed",
        CHOKED: "groaning",
        "raucous": "pressed",
        "low-anomalous": "groaning",
        "multiple-slip": "surface",
        "noise": "no-tone",
    }
)


def told_state(state: str, *, weight_n: float, greatest_n: float) -> str:
    """Return the state as it is told, under a weight and the greatest that suits place and speed, in N.

    A string under far too much weight trembles too fast for a slip cycle, which can read as no tone or as
    several slips: above the greatest weight that is told as choked, for the cure of a light bow would be
    wrong.
    """
    return CHOKED if weight_n > greatest_n and state in _OF_LIGHT_BOWS else state


def simulated_word(state: str) -> str:
    """Return the word for a simulated state; raises `ValueError` for a name that is none."""
    return _(_words(state)[0])


def simulated_sentence(state: str, *, reader: Reader) -> str:
    """Return what the string did, in the words of a reader; raises as `simulated_word`."""
    return _words(state)[1].to(reader)


def simulated_cure(
    state: str, *, shortened: float = 1.0, rooms: Rooms | None = None, weight_n: float | None = None
) -> Say | None:
    """Return the change that carries a stroke farthest towards a clear tone; None where it is clear.

    Parameters
    ----------
    shortened : open over stopped length of the string, 1 and above
    rooms, weight_n : the stroke's room and its weight in N where they are known; of two cures the one counts
        that then leaves most room
    """
    name = FAULT_OF_SIMULATED.get(state)
    if name is None:
        return None
    cures = ordered_cures(FAULTS[name], shortened=shortened, rooms=rooms)
    change = cures[0][0]
    if rooms is not None and weight_n is not None:
        margins = [(change, rooms.margin_after_db(change, weight_n)) for change, _ in cures]
        known = [(change, margin) for change, margin in margins if margin is not None]
        change = max(known, key=lambda cure: cure[1])[0] if len(known) == len(cures) else change
    return cure(name, *change)


def _words(state: str) -> tuple[str, Say]:
    return _OWN[state] if state in _OWN else STATES[ToneState(state)]
