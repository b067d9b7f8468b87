"""What does a room hear and see? Ready demonstrations: the strokes to play, and the words around them.

May import the rest of `teaching`, `physics` and `language`. Nothing here is played: a stroke says what the
string should show and which weights to try (`Stroke`), the use case finds the one that does.

=================  =================================================================
`motion`           the corner; stick and slip
`weight`           too much; too little; the map
`hand`             near the bridge and far from it; tilt; starts
`instruments`      the size of the instrument; violin, viola and cello
=================  =================================================================
"""

from collections.abc import Mapping
from types import MappingProxyType

from colophony.errors import InputError
from colophony.language import _
from colophony.teaching.demonstrations.hand import NEAR_AND_FAR, STARTS, TILT
from colophony.teaching.demonstrations.instruments import FAMILY, SIZE
from colophony.teaching.demonstrations.kinds import AUDIENCES, Audience, Demonstration, Notes, Stroke
from colophony.teaching.demonstrations.motion import CORNER, STICK_AND_SLIP
from colophony.teaching.demonstrations.weight import MAP, TOO_LITTLE, TOO_MUCH

__all__ = [
    "AUDIENCES",
    "DEMONSTRATIONS",
    "Audience",
    "Demonstration",
    "Notes",
    "Stroke",
    "find_demonstration",
]

#: Every demonstration by its key, in the order in which a talk that nobody arranged shows them.
DEMONSTRATIONS: Mapping[str, Demonstration] = MappingProxyType(
    {
        one.key: one
        for one in (
            CORNER,
            STICK_AND_SLIP,
            TOO_MUCH,
            TOO_LITTLE,
            MAP,
            NEAR_AND_FAR,
            TILT,
            STARTS,
            SIZE,
            FAMILY,
        )
    }
)


def find_demonstration(key: str) -> Demonstration:
    """Return a demonstration by its key; raises `InputError` naming the choices when there is none."""
    if key not in DEMONSTRATIONS:
        raise InputError(
            _("{key} is no demonstration: choose from {choices}.").format(
                key=repr(key[:30]), choices=", ".join(DEMONSTRATIONS)
            )
        )
    return DEMONSTRATIONS[key]
