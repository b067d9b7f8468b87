"""How fast does a bow move for a written dynamic, and how far from the bridge? Published durations as speeds.

Seconds that a whole bow lasts: pp 12 (to 15), p 6 (to 12), mf 3 (to 6), f 1 (in practice 2.5 to 4.5),
ff 0.5 (in practice 1.5 to 3), on the cello and bass six tenths of that. Sevsay p. 10, Widor p. 163, Forsyth
p. 343, Askenfelt (1986) p. 1011, Flesch p. 64, Schoonderwaldt (2009) p. 2715, as a secondary survey quotes
them.

They are for a full-size bow. What the string answers to is speed, so speed is kept on a smaller bow, which
then lasts the shorter.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

from colophony.physics.bows import find_bow
from colophony.teaching.score.piece import DYNAMICS, Dynamic


@dataclass(frozen=True, slots=True)
class WholeBow:
    """Seconds that a whole bow of a violin or viola lasts at a dynamic."""

    shortest_s: float
    usual_s: float
    longest_s: float


#: The survey's figures. The shortest of a soft dynamic is the usual of the next louder one in the survey; the
#: usual of f and ff lies at the quick end of what is done in practice. mp is the geometric middle of its
#: neighbours; ppp and fff are chosen, beyond the survey.
WHOLE_BOW: Mapping[Dynamic, WholeBow] = MappingProxyType(
    {
        "ppp": WholeBow(10.0, 14.0, 18.0),
        "pp": WholeBow(6.0, 12.0, 15.0),
        "p": WholeBow(3.0, 6.0, 12.0),
        "mp": WholeBow(1.8, 4.2, 8.5),
        "mf": WholeBow(1.0, 3.0, 6.0),
        "f": WholeBow(1.0, 2.5, 4.5),
        "ff": WholeBow(0.5, 1.5, 3.0),
        "fff": WholeBow(0.5, 1.2, 2.5),
    }
)
#: A whole bow of cello or bass lasts six tenths as long (the same survey).
_LOW_INSTRUMENTS, _LOW_SHARE = ("cello", "double bass"), 0.6

#: Where a dynamic is usually bowed, as a sounding point: soft near the fingerboard, loud near the bridge
#: (common practice, no source; the figures are chosen).
USUAL_POINT: Mapping[Dynamic, float] = MappingProxyType(
    {"ppp": 4.4, "pp": 4.1, "p": 3.7, "mp": 3.3, "mf": 3.0, "f": 2.6, "ff": 2.2, "fff": 2.0}
)
NEAREST_POINT, FARTHEST_POINT = 1.2, 5.0

#: Tilt of the hair, degrees, at the nearest and the farthest point: flat at the bridge, on its edge at the
#: fingerboard (common practice, no source; the figures are chosen).
TILT_DEG = (0.0, 30.0)


@dataclass(frozen=True, slots=True)
class Speeds:
    """Speed of the bow at a dynamic, mm/s: the slowest, the usual and the fastest."""

    slowest: float
    usual: float
    fastest: float


@lru_cache(maxsize=4096)
def speeds(degree: float, instrument: str) -> Speeds:
    """Return the speeds of a dynamic on an instrument.

    Parameters
    ----------
    degree : place in `DYNAMICS` from 0 (ppp) to 7 (fff); between two of them durations go in ratio
    """
    share = _LOW_SHARE if instrument in _LOW_INSTRUMENTS else 1.0
    hair_mm = 1000.0 * find_bow(instrument, "4/4").hair_length_m

    def at(name: str) -> float:
        return _between(degree, [math.log(getattr(WHOLE_BOW[mark], name)) for mark in DYNAMICS])

    return Speeds(
        *(hair_mm / (share * math.exp(at(name))) for name in ("longest_s", "usual_s", "shortest_s"))
    )


def usual_point(degree: float) -> float:
    """Return the sounding point at which a dynamic (`speeds`) is usually bowed."""
    return _between(degree, [USUAL_POINT[mark] for mark in DYNAMICS])


def point_for(degree: float, speed_mm_s: float, instrument: str) -> float:
    """Return the sounding point at which a speed gives a dynamic's level, unbounded.

    The motion of the string grows as speed over contact distance, v_b / beta (Helmholtz motion). A bow that
    is slower than usual gives the same level nearer to the bridge, a faster one farther from it.
    """
    usual = speeds(degree, instrument).usual
    return 0.5 + (usual_point(degree) - 0.5) * speed_mm_s / usual


def level_db(speed_mm_s: float, point: float) -> float:
    """Return the level of v_b / beta, dB against 1 mm/s at the middle of point 1; differences count."""
    return 20.0 * math.log10(speed_mm_s * 0.5 / (point - 0.5))


def tilt_deg(point: float) -> float:
    """Return the tilt of the hair at a sounding point, degrees from flat."""
    share = (point - NEAREST_POINT) / (FARTHEST_POINT - NEAREST_POINT)
    return TILT_DEG[0] + (TILT_DEG[1] - TILT_DEG[0]) * min(1.0, max(0.0, share))


def degree_of(mark: Dynamic) -> float:
    """Return a dynamic's place in `DYNAMICS`."""
    return float(DYNAMICS.index(mark))


def nearest_mark(degree: float) -> Dynamic:
    """Return the dynamic nearest to a degree."""
    return DYNAMICS[min(len(DYNAMICS) - 1, max(0, round(degree)))]


def _between(degree: float, values: list[float]) -> float:
    low = min(len(values) - 2, max(0, math.floor(degree)))
    share = min(1.0, max(0.0, degree - low))
    return values[low] + share * (values[low + 1] - values[low])
