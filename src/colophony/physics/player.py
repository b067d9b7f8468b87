"""One string under the bow, or several alike: strokes become stretches of steps, and the kernel plays them.

`Player` is the way in for whoever plays on and on (`live`); `simulation` plays whole strokes with it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import pairwise
from typing import Any, Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from colophony.errors import InputError
from colophony.language import _, figures
from colophony.physics.bodies import Body
from colophony.physics.bows import Ribbon
from colophony.physics.design import Design, design_string
from colophony.physics.friction import LAWS, FrictionLaw, VanWalstijn2026
from colophony.physics.gestures import Course, Curve, Stroke
from colophony.physics.instruments import Instrument
from colophony.physics.kernel.state import Numbers, Played, Segments, Strings
from colophony.physics.kernel.string import StringNumbers
from colophony.physics.strings import BowedString

Target = Literal["cpu", "python", "cuda"]
Precision = Literal["double", "single"]
#: A course over steps: where it bends, increasing, and its values there.
_Knots: TypeAlias = tuple[Sequence[int], Sequence[float]]

#: Below this weight the rosin's heat is reckoned as at this weight, N.
LEAST_WEIGHT_N = 1e-4
#: Steps for which a weight may run straight while the heat law holds it constant.
_WEIGHT_STEPS = 256
#: Steps for which a moving bow or finger stands still.
_PLACE_STEPS = 64
#: Places of the bow that are kept ready.
_SEATS_KEPT = 256
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
            raise InputError(
                _("{points} hair points are out of range: choose 1 to 16").format(points=self.points)
            )
        if not 0.01 <= self.loss <= 5.0:
            raise InputError(
                _("a loss factor of {loss} is out of range: choose {least} to 5").format(
                    loss=figures(f"{self.loss:g}"), least=figures("0.01")
                )
            )


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """Where the hairs lie: one segment's rows of `Segments` from ``nut`` to ``roots``, and beta."""

    columns: tuple[NDArray[Any], ...]
    beta: float


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
        self.numbers = kernel_numbers(self.design, string, self.ribbon, body, model)
        self.strings = Strings(
            self.numbers,
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
        self._seats: dict[tuple[tuple[int, ...], float, float], Place] = {}
        self.beta = math.nan
        if body and max(mode.frequency_hz for mode in body.modes) >= _HIGHEST_MODE * self.design.rate_hz:
            self._warn(_("the body's highest resonances do not fit the sample rate and are left out"))

    def segments(
        self, strokes: Sequence[Stroke], *, steps: int, frequency_hz: Course | None = None
    ) -> Segments:
        """Return the next ``steps`` steps of strokes, one a lane; distance, tilt and note are the first's."""
        first = round(self.time_s * self.design.rate_hz)
        note = self.frequency_hz if frequency_hz is None else frequency_hz
        speeds = [self._in_steps(stroke.speed_m_s, first) for stroke in strokes]
        weights = [self._in_steps(stroke.weight_n, first) for stroke in strokes]
        setting = [
            self._in_steps(course, first) for course in (strokes[0].distance_m, strokes[0].tilt_deg, note)
        ]
        # Speed and weight need their bounds; a bound where the hairs only might have moved goes if none has.
        needed = {0, steps} | _bounds(speeds, steps, steps) | _bounds(weights, steps, _WEIGHT_STEPS)
        edges = sorted(needed | _bounds(setting, steps, _PLACE_STEPS))
        # What stands still in a segment has there the value of its middle.
        middles = [0.5 * (a + b) for a, b in pairwise(edges)]
        places = [self.place(*values) for values in zip(*(_along(c, middles) for c in setting), strict=True)]
        kept = [i for i, place in enumerate(places) if edges[i] in needed or place is not places[i - 1]]
        edges = [*(edges[i] for i in kept), steps]
        nut, tuning, at, torsion_at, torsion_part, shares, roots = (
            column[0] if len(kept) == 1 else np.concatenate(column)
            for column in zip(*(places[i].columns for i in kept), strict=True)
        )
        self.beta = places[-1].beta
        return Segments(
            np.diff(edges),
            nut,
            tuning,
            at,
            torsion_at,
            torsion_part,
            shares,
            roots,
            np.array([_along(course, edges) for course in speeds]).T,
            np.array([_along(course, edges) for course in weights]).T,
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

    def place(self, distance_m: float, tilt_deg: float, frequency_hz: float) -> Place:
        """Return where the hairs lie in one setting: the same object for the same points, tilt and note."""
        count = self.model.points
        length = self.string.wave_speed_m_s / (2 * frequency_hz)
        if distance_m >= 0.95 * length:
            raise InputError(
                _(
                    "the bow lies {distance} mm from the bridge, but this note leaves only {length} mm of "
                    "string: bow nearer to the bridge"
                ).format(distance=f"{1000 * distance_m:.0f}", length=f"{1000 * length:.0f}")
            )
        (offsets, shares), nut = self._lay(tilt_deg), self._nut_at(frequency_hz)[0]
        points_a_metre = 0.5 * self.design.rate_hz / frequency_hz / length
        # Each hair has a point of its own: never two on one, never one beyond the ends.
        spread = max(1.0, (offsets[-1] - offsets[0]) * points_a_metre / (count - 1)) if count > 1 else 0.0
        middle = (distance_m + sum(offsets) / count) * points_a_metre - 0.5 * (1 + self.design.bridge_delay)
        points = tuple([round(middle + (j - (count - 1) / 2) * spread) for j in range(count)])
        if not any(share if 0 <= p < nut else 0.0 for p, share in zip(points, shares, strict=True)):
            raise InputError(
                _("a contact distance of {distance} mm lies on the bridge: bow farther from it").format(
                    distance=figures(f"{1000 * distance_m:.1f}")
                )
            )
        setting = (points, tilt_deg, frequency_hz)
        if setting not in self._seats:
            if len(self._seats) >= _SEATS_KEPT:
                self._seats.clear()
            self._seats[setting] = self._seated(*setting)
        return self._seats[setting]

    def _seated(self, points: tuple[int, ...], tilt_deg: float, frequency_hz: float) -> Place:
        """Return what the kernel needs for hairs at these points of the string; some may lie beyond it."""
        design, count = self.design, self.model.points
        nut, tuning = self._nut_at(frequency_hz)
        shares = self._lay(tilt_deg)[1]
        if min(points) < 0:
            self._warn(_("part of the hair would lie on the bridge: the rest carries the weight"))
        weights = [share if 0 <= point < nut else 0.0 for point, share in zip(points, shares, strict=True)]
        total = sum(weights)
        weights = [weight / total for weight in weights]
        at = [min(max(point, 0), nut - 1) for point in points]
        cell = self._width(tilt_deg) / count
        roots = [math.sqrt(cell / max(weight, 1e-9)) for weight in weights]
        beta = design.beta_at(sum(p * w for p, w in zip(at, weights, strict=True)))
        torsion = design.torsion_point_at(beta)
        whole = math.floor(torsion)
        columns = (nut, tuning, at, whole, torsion - whole, weights, roots)
        return Place(tuple(np.array([value]) for value in columns), frequency_hz / design.frequency_hz * beta)

    def _in_steps(self, course: Course, first: int) -> _Knots:
        """Return a course's knots in whole steps from the next one on, increasing, and its values."""
        if not isinstance(course, Curve):
            return (0,), (float(course),)
        knots = list[int]()
        for time in course.times_s:
            step = round(time * self.design.rate_hz) - first
            knots.append(step if not knots else max(step, knots[-1] + 1))
        return knots, course.values

    def _warn(self, text: str) -> None:
        if text not in self.warnings:
            self.warnings.append(text)


def _along(course: _Knots, steps: Sequence[float]) -> list[float]:
    """Return a course's values at some steps."""
    knots, values = course
    return [values[0]] * len(steps) if len(values) == 1 else np.interp(steps, knots, values).tolist()


def _bounds(courses: Iterable[_Knots], steps: int, longest: int) -> set[int]:
    """Return the steps that part a run so that courses bend only there, and move for ``longest`` at most."""
    bounds = set[int]()
    for knots, values in courses:
        bounds.update(k for k in knots if 0 < k < steps)
        for i, (a, b) in enumerate(pairwise(knots)):
            if values[i] != values[i + 1]:
                bounds.update(range(max(a, 0) // longest * longest + longest, min(b, steps), longest))
    return bounds


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
    """Return A, B, C, w of `mode_step` and C times the part in the sound, [5, modes]; no modes if stiff.

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
                mode.radiation * half / mode.mass_kg / whole,
            )
        )
    return np.array(rows).reshape(-1, 5).T.copy()
