"""The hair of a bow where it meets the string, and how far it lies down when the bow is tilted.

Stiffness, mass and damping of the hair per width of ribbon: R. Pitteroff & J. Woodhouse, "Mechanics of the
contact area between a violin bow and a string", Acta Acust. u. Acust. 84 (1998), as used by van Walstijn,
Chatziioannou, Lampis & Matusiak, Acta Acustica 10, 47 (2026).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from colophony.errors import InputError
from colophony.language import _, figures
from colophony.physics.strings import InstrumentName, no_size, sizes_of

STIFFNESS_PER_WIDTH_N_M2 = 11e6
MASS_PER_WIDTH_KG_M = 0.62
DAMPING_PER_WIDTH_KG_S_M = 1000.0

#: The tilt at which the edge of the hair towards the bridge bears nothing. Up to here all of the ribbon
#: touches the string, beyond it less and less. Chosen: no measurement of it was found.
EDGE_TILT_DEG = 20.0
#: The steepest tilt, and the share of the ribbon that still touches the string there. Chosen.
STEEPEST_TILT_DEG = 60.0
NARROWEST_SHARE = 0.25


@dataclass(frozen=True, slots=True)
class Ribbon:
    """The band of hair: ``points`` places of contact over its width, all figures for the whole band.

    Attributes
    ----------
    width_m : width across the string's length, m
    points : number of places where the hair touches the string, 1 or more
    stiffness_n_m, mass_kg, damping_kg_s : of the hair along the bow, lying flat
    """

    width_m: float
    points: int
    stiffness_n_m: float
    mass_kg: float
    damping_kg_s: float

    def lay(self, tilt_deg: float) -> tuple[tuple[float, ...], tuple[float, ...]]:
        """Return where the points lie and what share of the weight each bears.

        Flat hair bears evenly. A tilt lets the weight grow linearly from the edge towards the bridge to the
        edge towards the fingerboard, from nothing to twice the mean at `EDGE_TILT_DEG` (Woodhouse,
        Euphonics 9.7); beyond it the band that touches narrows towards the fingerboard's edge. The points
        are the centres of equal cells of the band that touches.

        Parameters
        ----------
        tilt_deg : 0 is flat, positive leans the weight on the edge towards the fingerboard; -60 to 60

        Returns
        -------
        offsets_m : distance of each point from the flat ribbon's centre in m, negative towards the bridge
        shares : share of the weight on each point, sum 1

        Raises `InputError` for a steeper tilt.
        """
        touching = self.contact_width_m(tilt_deg) / self.width_m
        lean = min(1.0, abs(tilt_deg) / EDGE_TILT_DEG)
        cell = touching / self.points
        places = [1.0 - touching + (i + 0.5) * cell for i in range(self.points)]
        shares = [(1.0 + lean * ((2 * i + 1) / self.points - 1.0)) / self.points for i in range(self.points)]
        offsets = [self.width_m * (place - 0.5) for place in places]
        if tilt_deg < 0.0:
            offsets, shares = [-offset for offset in reversed(offsets)], shares[::-1]
        return tuple(offsets), tuple(shares)

    def contact_width_m(self, tilt_deg: float) -> float:
        """Return the width in m that touches the string; raises as `lay`."""
        if not abs(tilt_deg) <= STEEPEST_TILT_DEG:
            raise InputError(
                _("a tilt of {tilt} degrees is out of range: give -{most} to {most}, 0 is flat hair").format(
                    tilt=figures(f"{tilt_deg:g}"), most=f"{STEEPEST_TILT_DEG:g}"
                )
            )
        beyond = max(0.0, abs(tilt_deg) - EDGE_TILT_DEG) / (STEEPEST_TILT_DEG - EDGE_TILT_DEG)
        return self.width_m * (1.0 - (1.0 - NARROWEST_SHARE) * beyond)


@dataclass(frozen=True, slots=True)
class Bow:
    """A bow of a size: how long a stroke it allows and what it weighs."""

    hair_length_m: float  #: playable length of hair, m
    mass_kg: float
    source: str


#: Width of the flat ribbon in m. Violin: about 10 mm (Woodhouse, Euphonics 9.7). The others from memory.
#: Small bows differ from full-size ones in little but their length, so a size keeps the width.
RIBBON_WIDTH_M: Mapping[InstrumentName, float] = {
    "violin": 0.010,
    "viola": 0.011,
    "cello": 0.012,
    "double bass": 0.014,
}

_MEMORY = "from memory"
_ESTIMATE = "length from memory; mass an estimate, in proportion to length"

#: Bows by instrument and size. Masses of full-size bows are those makers give: violin 55 to 65 g, viola
#: about 70 g, cello about 80 g.
BOWS: Mapping[InstrumentName, Mapping[str, Bow]] = {
    "violin": {
        "4/4": Bow(0.65, 0.060, "mass: statements of makers; length of hair: from memory"),
        "7/8": Bow(0.62, 0.058, _ESTIMATE),
        "3/4": Bow(0.59, 0.055, _ESTIMATE),
        "1/2": Bow(0.53, 0.050, _ESTIMATE),
        "1/4": Bow(0.47, 0.046, _ESTIMATE),
        "1/8": Bow(0.41, 0.041, _ESTIMATE),
        "1/10": Bow(0.37, 0.038, _ESTIMATE),
        "1/16": Bow(0.34, 0.035, _ESTIMATE),
    },
    "viola": {
        "4/4": Bow(0.645, 0.070, "mass: statements of makers; length of hair: from memory"),
        "3/4": Bow(0.62, 0.062, _ESTIMATE),
        "1/2": Bow(0.59, 0.057, _ESTIMATE),
        "1/4": Bow(0.53, 0.051, _ESTIMATE),
    },
    "cello": {
        "4/4": Bow(0.60, 0.080, "mass: statements of makers; length of hair: from memory"),
        "3/4": Bow(0.57, 0.076, _ESTIMATE),
        "1/2": Bow(0.52, 0.070, _ESTIMATE),
        "1/4": Bow(0.47, 0.063, _ESTIMATE),
        "1/8": Bow(0.42, 0.056, _ESTIMATE),
    },
    "double bass": {
        "4/4": Bow(0.55, 0.135, _MEMORY),
        "3/4": Bow(0.55, 0.135, _MEMORY),
        "1/2": Bow(0.50, 0.120, _ESTIMATE),
        "1/4": Bow(0.46, 0.110, _ESTIMATE),
    },
}


def find_ribbon(instrument: str, size: str = "4/4", *, points: int = 4) -> Ribbon:
    """Return the hair of an instrument's bow.

    Parameters
    ----------
    instrument, size : as in `strings.find_string`
    points : number of places of contact, 1 or more; 4 suffice (van Walstijn et al. 2026)

    Raises `InputError` when the instrument or size is unknown or there is no point.
    """
    find_bow(instrument, size)
    if points < 1:
        raise InputError(
            _("a ribbon of {points} points touches nothing: give 1 or more").format(points=points)
        )
    width_m = next(width for name, width in RIBBON_WIDTH_M.items() if name == instrument)
    return Ribbon(
        width_m,
        points,
        STIFFNESS_PER_WIDTH_N_M2 * width_m,
        MASS_PER_WIDTH_KG_M * width_m,
        DAMPING_PER_WIDTH_KG_S_M * width_m,
    )


def find_bow(instrument: str, size: str = "4/4") -> Bow:
    """Return the length and mass of a bow; raises `InputError` when the instrument or size is unknown."""
    sizes = sizes_of(instrument)
    if size not in sizes:
        raise no_size(size, instrument)
    return next(bows[size] for name, bows in BOWS.items() if name == instrument)
