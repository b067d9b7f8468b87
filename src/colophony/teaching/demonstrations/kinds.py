"""What a demonstration is made of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from colophony.language import N_
from colophony.physics.regimes import StartKind
from colophony.teaching.sounding_points import MIDDLE

Audience = Literal["parents", "players", "physicists"]
Picture = Literal["string", "speed", "start", "map"]
Which = Literal["own", "full", "small"]

#: Who sits in the room, by the name of a field of `Notes`.
AUDIENCES: Mapping[Audience, str] = MappingProxyType(
    {"parents": N_("For parents"), "players": N_("For players"), "physicists": N_("For physics students")}
)

#: Shares of the greatest weight (Schoonderwaldt, Guettler and Askenfelt 2008) under which a bow in the
#: middle of its room is tried, the likeliest first. Chosen from the simulation.
IN_THE_MIDDLE = (0.4, 0.5, 0.3, 0.6, 0.25, 0.2)
#: States as they are told (`teaching.wording.bowed`): one slip a period; and what too much weight makes of
#: it.
CLEAR = ("helmholtz",)
PRESSED = ("raucous", "low-anomalous", "choked")


@dataclass(frozen=True, slots=True)
class Notes:
    """What the speaker says beyond the slide, for whoever sits there. Messages of the catalogue."""

    parents: str
    players: str
    physicists: str


@dataclass(frozen=True, slots=True)
class Stroke:
    """One stroke that a demonstration plays.

    The weight, and how the bow sets out, are found by trying: the first of ``shares`` and ``ramps`` under
    which the string shows what the words say. So a demonstration speaks of this string, not of an average.
    """

    label: str  #: a message: what the bow does
    shows: tuple[str, ...] = CLEAR  #: states as they are told, any of which is meant
    point: float = MIDDLE  #: sounding point, 1 at the bridge to 5
    speed_cm_s: float = 20.0
    shares: tuple[float, ...] = IN_THE_MIDDLE  #: of the greatest weight at this place and speed
    tilt_deg: float = 0.0  #: from flat hair
    start: StartKind | None = None  #: how it must begin, where that is the point
    #: Time from rest to full speed, as multiples of what suits the weight (Guettler 2002: `app.bow`).
    ramps: tuple[float, ...] = (1.2,)
    which: Which = "own"  #: the size that was chosen, full size, or one small enough to tell apart
    instrument: str | None = None  #: another instrument than the chosen one: its lowest string, full size
    is_held: bool = False  #: place, speed and weight are those of the stroke before


@dataclass(frozen=True, slots=True)
class Demonstration:
    """One slide: a sentence, strokes that prove it, and what the speaker needs. Messages of the catalogue."""

    key: str  #: stands in addresses
    title: str
    sentence: str
    hear: str
    see: str
    ask: str
    notes: Notes
    picture: Picture
    strokes: tuple[Stroke, ...]
    rooms: str | None = None  #: label of a last picture without sound: how much weight each place bears
