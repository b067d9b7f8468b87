"""One string under the bow, or several alike: strokes become stretches of steps, and the kernel plays them.

`Player` is the way in for whoever plays on and on (`live`); `simulation` plays whole strokes with it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import pairwise
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from colophony.errors import InputError
from colophony.physics.bodies import Body
from colophony.physics.bows import Ribbon
from colophony.physics.design import Design, design_string
from colophony.physics.friction import LAWS, FrictionLaw, VanWalstijn2026
from colophony.physics.gestures import Course, Stroke, as_curve
from colophony.physics.instruments import Instrument
from colophony.physics.kernel.state import Numbers, Played, Segments, Strings
from colophony.physics.kernel.string import StringNumbers
from colophony.physics.strings import BowedString

Target = Literal["cpu", "python", "cuda"]
Precision = Literal["double", "single"]

#: Below this weight the rosin's heat is reckoned as at this weight, N.
LEAST_WEIGHT_N = 1e-4
#: Steps for which a weight may run straight while the heat law holds it constant.
_WEIGHT_STEPS = 256
#: Steps for which a moving bow or finger stands still.
_PLACE_STEPS = 64
#: Modes of the body above this share of the sample rate are left out.
_HIGHEST_MODE = 0.45


@dataclass(frozen=True, slots=True)
class Model:
    """What is simulated; everything is on by default."""

    friction: FrictionLaw = field(default_factory=VanWalstijn2026)
    points: int = 4  #: hair contact points over the ribbon's width, 1 to 16
    compliant_hair: bool = True  #: the hair gives along the bow
    torsion: bool = True  #: the string also twists
    stiffness: bool = True  #: high partials are sharp
    body: bool = True  #: the bridge moves with the body's modes, and sounds
    loss: float = 1.0  #: factor on the string's losses, 0.01 to 5; 0.1 is ten times the measured Q

    def __post_init__(self) -> None:
        """Refuse what cannot be simulated with `InputError`."""
        if not 1 <= self.points <= 16:
            raise InputError(f"{self.points} hair points are out of range: choose 1 to 16")
        if not 0.01 <= self.loss <= 5.0:
            raise InputError(f"a loss factor of {self.loss:g} is out of range: choose 0.01 to 5")


class Player:
    """One string under the bow, or several alike: turns strokes into segments and plays them in order."""

    def __init__(
        self,
        instrument: Instrument,
        string: BowedString,
        *,
        frequency_hz: float,
        model: Model,
        lanes: int = 1,
        lowest_hz: float | None = None,
        samples_per_period: int | None = None,
        precision: Precision = "double",
        target: Target = "cpu",
    ) -> None:
        """Hold the string at rest, stopped at a note; it will never be asked for one below ``lowest_hz``."""
        self.string, self.model, self.ribbon, self.frequency_hz = (
            string,
            model,
            replace(instrument.ribbon, points=model.points),
            frequency_hz,
        )
        body = instrument.body if model.body else None
        self.design = design_string(
            string,
            frequency_hz=frequency_hz,
            samples_per_period=samples_per_period,
            body=body,
            stiffness=model.stiffness,
            loss=model.loss,
        )
        self.nut = self.design.nut_at(lowest_hz or frequency_hz)[0]
        self.strings = Strings(
            kernel_numbers(self.design, string, self.ribbon, body, model),
            lanes=lanes,
            points=self.nut,
            torsion_points=self.design.torsion_points,
            hairs=model.points,
            real=np.float64 if precision == "double" else np.float32,
            target=target,
        )
        self.time_s = 0.0
        self.warnings: list[str] = []
        self._nut_at = lru_cache(maxsize=256)(self.design.nut_at)
        self._lay = lru_cache(maxsize=64)(self.ribbon.lay)
        self._width = lru_cache(maxsize=64)(self.ribbon.contact_width_m)
        self.beta = math.nan
        if body and max(mode.frequency_hz for mode in body.modes) >= _HIGHEST_MODE * self.design.rate_hz:
            self._warn("the body's highest resonances do not fit the sample rate and are left out")

    def segments(
        self, strokes: Sequence[Stroke], *, steps: int, frequency_hz: Course | None = None
    ) -> Segments:
        """Return the next ``steps`` steps of strokes, one a lane; distance, tilt and note are the first's."""
        rate = self.design.rate_hz
        first = round(self.time_s * rate)
        note = as_curve(self.frequency_hz if frequency_hz is None else frequency_hz)
        speeds = [self._in_steps(stroke.speed_m_s, first) for stroke in strokes]
        weights = [self._in_steps(stroke.weight_n, first) for stroke in strokes]
        distance = self._in_steps(strokes[0].distance_m, first)
        tilt, pitch = self._in_steps(strokes[0].tilt_deg, first), self._in_steps(note, first)
        bounds = {0, steps}
        for curves, longest in (
            (speeds, steps),
            (weights, _WEIGHT_STEPS),
            ((distance, tilt, pitch), _PLACE_STEPS),
        ):
            for knots, values in curves:
                bounds.update(k for k in knots if 0 < k < steps)
                for i, (a, b) in enumerate(pairwise(knots)):
                    if values[i] != values[i + 1]:
                        bounds.update(range(max(a, 0) // longest * longest + longest, min(b, steps), longest))
        edges = np.array(sorted(bounds))
        middles = 0.5 * (edges[1:] + edges[:-1])
        # What stands still in a segment has there the value of its middle.
        places = [
            self._place(d, a, f)
            for d, a, f in zip(
                *(np.interp(middles, *course) for course in (distance, tilt, pitch)), strict=True
            )
        ]
        of_period = float(np.interp(middles[-1], *pitch)) / self.design.frequency_hz
        self.beta = of_period * self.design.beta_at(float(np.dot(places[-1][2], places[-1][5])))
        nut, tuning, at, torsion_at, torsion_part, shares, roots = map(np.array, zip(*places, strict=True))
        return Segments(
            np.diff(edges),
            nut,
            tuning,
            at,
            torsion_at,
            torsion_part,
            shares,
            roots,
            np.stack([np.interp(edges, *course) for course in speeds], axis=1),
            np.stack([np.interp(edges, *course) for course in weights], axis=1),
        )

    def play(
        self,
        strokes: Sequence[Stroke],
        *,
        steps: int,
        keep: int | None = None,
        frequency_hz: Course | None = None,
    ) -> Played:
        """Play the next steps of strokes whose time began when this player was made."""
        played = self.strings.play(self.segments(strokes, steps=steps, frequency_hz=frequency_hz), keep=keep)
        self.time_s += steps / self.design.rate_hz
        return played

    def positions_m(self) -> NDArray[np.float64]:
        """Return the distances from the bridge at which `shape_m` is given, bridge and nut included, in m."""
        step = self.string.wave_speed_m_s / self.design.rate_hz
        length = self.string.wave_speed_m_s / (2 * self.frequency_hz)
        return np.concatenate([[0.0], (np.arange(self.nut) + 0.5) * step, [length]])

    def shape_m(self, lane: int = 0) -> NDArray[np.float64]:
        """Return the string's displacement from rest at `positions_m`, in m.

        The slope is what the two waves differ by, over the wave's speed; summed from the bridge, which
        counts as still. What little of the string lies in the end's filters is drawn straight to the nut.
        """
        to_nut, to_bridge = self.strings.shape(lane, self.nut)
        steps = (to_bridge - to_nut) / self.design.rate_hz
        return np.concatenate([[0.0], np.cumsum(steps), [0.0]])

    def _place(self, distance_m: float, tilt_deg: float, frequency_hz: float) -> tuple[Any, ...]:
        """Return nut, tuning, hairs, torsion point, shares and roots for one setting."""
        design, count = self.design, self.model.points
        nut, tuning = self._nut_at(frequency_hz)
        length = self.string.wave_speed_m_s / (2 * frequency_hz)
        if distance_m >= 0.95 * length:
            raise InputError(
                f"the bow lies {1000 * distance_m:.0f} mm from the bridge, but this note leaves only "
                f"{1000 * length:.0f} mm of string: bow nearer to the bridge"
            )
        offsets, shares = self._lay(tilt_deg)
        period = design.rate_hz / frequency_hz
        wanted = [
            ((distance_m + offset) / length * period - 1 - design.bridge_delay) / 2 for offset in offsets
        ]
        # Each hair has a point of its own: never two on one, never one beyond the ends.
        spread = max(1.0, (wanted[-1] - wanted[0]) / (count - 1)) if count > 1 else 0.0
        middle = sum(wanted) / count
        places = [round(middle + (j - (count - 1) / 2) * spread) for j in range(count)]
        weights = [
            0.0 if place < 0 or place >= nut else share for place, share in zip(places, shares, strict=True)
        ]
        if min(places) < 0:
            self._warn("part of the hair would lie on the bridge: the rest carries the weight")
        if not any(weights):
            raise InputError(
                f"a contact distance of {1000 * distance_m:.1f} mm lies on the bridge: bow farther from it"
            )
        total = sum(weights)
        weights = [weight / total for weight in weights]
        places = [min(max(place, 0), nut - 1) for place in places]
        cell = self._width(tilt_deg) / count
        roots = [math.sqrt(cell / max(weight, 1e-9)) for weight in weights]
        centre = sum(p * w for p, w in zip(places, weights, strict=True))
        torsion = design.torsion_point_at(design.beta_at(centre))
        whole = math.floor(torsion)
        return nut, tuning, places, whole, torsion - whole, weights, roots

    def _in_steps(self, course: Course, first: int) -> tuple[list[int], tuple[float, ...]]:
        """Return a course's knots in whole steps from the next one on, increasing, and its values."""
        curve, knots = as_curve(course), list[int]()
        for time in curve.times_s:
            step = round(time * self.design.rate_hz) - first
            knots.append(step if not knots else max(step, knots[-1] + 1))
        return knots, curve.values

    def _warn(self, text: str) -> None:
        if text not in self.warnings:
            self.warnings.append(text)


def kernel_numbers(
    design: Design, string: BowedString, ribbon: Ribbon, body: Body | None, model: Model
) -> Numbers:
    """Return everything constant that the kernel needs, in double precision."""
    dt, z0 = 1.0 / design.rate_hz, string.impedance_kg_s
    modes = body_numbers(body, dt)
    y0 = float(modes[2].sum())
    mass, stiffness, damping = (
        whole / model.points for whole in (ribbon.mass_kg, ribbon.stiffness_n_m, ribbon.damping_kg_s)
    )
    keep = 1.0 / (1.0 + dt * damping / mass + dt * dt * stiffness / mass) if model.compliant_hair else 0.0
    numbers = StringNumbers(
        one=1.0,
        half=0.5,
        least_weight=LEAST_WEIGHT_N,
        dt=dt,
        z0=z0,
        y_string=0.5 / z0,
        y_torsion=0.5 / (z0 * string.torsion_impedance_ratio) if model.torsion else 0.0,
        y_hair=dt / mass * keep,
        hair_spring=dt * stiffness / mass,
        hair_keep=keep,
        per_point=1.0 / model.points,
        bridge=design.bridge,
        nut=design.nut,
        torsion_end=design.torsion_end,
        body_keep=1.0 / (1.0 + z0 * y0) if body else 0.0,
        body_drive=2.0 * z0 * y0 / (1.0 + z0 * y0),
        dispersion=design.dispersion,
    )
    names = list(LAWS)
    chosen = next(i for i, name in enumerate(names) if isinstance(model.friction, LAWS[name]))
    laws = tuple(
        (model.friction if i == chosen else LAWS[name]()).numbers(float, dt) for i, name in enumerate(names)
    )
    return Numbers(numbers, laws, chosen, design.sections, modes)


def body_numbers(body: Body | None, dt: float) -> NDArray[np.float64]:
    """Return A, B, C, w of `mode_step` and the part in the sound, [5, modes]; no modes for a stiff bridge.

    Bilinear transform; each mode's frequency is warped beforehand so that it comes out right. Modes too high
    for the rate are left out.
    """
    if body is None:
        return np.zeros((5, 0))
    half = dt / 2
    rows = []
    for mode in body.modes:
        if mode.frequency_hz * dt >= _HIGHEST_MODE:
            continue
        omega = math.tan(2 * math.pi * mode.frequency_hz * half) / half
        damping = omega / mode.quality * half  # c / m times dt / 2
        spring = (omega * half) ** 2
        whole = 1 + damping + spring
        rows.append(
            (
                (1 - damping - spring) / whole,
                2 * omega * half / whole,
                half / mode.mass_kg / whole,
                omega * half,
                mode.radiation,
            )
        )
    if len(rows) % 2:
        rows.append((0.0, 0.0, 0.0, 0.0, 0.0))  # the lanes take modes in pairs
    return np.array(rows).reshape(-1, 5).T.copy()
