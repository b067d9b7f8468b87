"""What the bow does over time: speed, weight, contact distance and tilt as numbers or curves.

A `Stroke` is the four of them; the functions below make the gestures of practice.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from colophony.errors import InputError
from colophony.language import N_, _, figures


@dataclass(frozen=True, slots=True)
class Curve:
    """A value over time: straight between its knots, held before the first and after the last."""

    times_s: tuple[float, ...]
    values: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse knots that do not fit together with `InputError`."""
        if len(self.times_s) != len(self.values) or not self.times_s:
            raise InputError(
                _(
                    "a curve needs one value for each time, at least one: got {times} times and {values} "
                    "values"
                ).format(times=len(self.times_s), values=len(self.values))
            )
        if not all(map(math.isfinite, self.times_s + self.values)):
            raise InputError(_("a curve has a time or value that is no finite number: leave that knot out"))
        if any(later <= earlier for earlier, later in pairwise(self.times_s)):
            raise InputError(_("the times of a curve must increase: sort its knots"))

    def at(self, time_s: ArrayLike) -> NDArray[np.float64]:
        """Return the value at times in s, any shape."""
        times = np.asarray(time_s, float)
        if len(self.values) == 1:
            return np.full(times.shape, self.values[0])
        return np.asarray(np.interp(times, self.times_s, self.values))


#: A number is a curve that never changes.
Course: TypeAlias = float | Curve


#: What to say of a variable that is out of range, and the factor from SI to the unit said.
_OUT_OF_RANGE: Mapping[str, tuple[str, float]] = MappingProxyType(
    {
        "speed": (N_("a speed of {value} cm/s is out of range: choose {least} to {most} cm/s"), 100.0),
        "weight": (N_("a weight of {value} N is out of range: choose {least} to {most} N"), 1.0),
        "distance": (
            N_("a contact distance of {value} mm is out of range: choose {least} to {most} mm"),
            1000.0,
        ),
        "tilt": (N_("a tilt of {value} degrees is out of range: choose {least} to {most} degrees"), 1.0),
        "acceleration": (
            N_("an acceleration of {value} m/s^2 is out of range: choose {least} to {most} m/s^2"),
            1.0,
        ),
    }
)


def out_of_range(name: str, value: float, least: float, most: float) -> InputError:
    """Return the refusal of a variable of the bow: its name as in `Stroke` without unit, values in SI."""
    message, factor = _OUT_OF_RANGE[name]
    said = {"value": value, "least": least, "most": most}
    return InputError(_(message).format(**{key: figures(f"{si * factor:g}") for key, si in said.items()}))


def as_curve(course: Course) -> Curve:
    """Return a number or curve as a curve."""
    return course if isinstance(course, Curve) else Curve((0.0,), (float(course),))


@dataclass(frozen=True, slots=True)
class Stroke:
    """One movement of the bow. Each variable is a number or a `Curve` over the time since it touched."""

    speed_m_s: Course  #: positive down bow, negative up bow; -5 to 5 m/s
    weight_n: Course  #: normal force of bow on string, 0 (lifted) to 20 N
    distance_m: Course  #: bow to bridge along the string, above 0 and less than the sounding length
    tilt_deg: Course = 0.0  #: from flat hair towards the fingerboard, -60 to 60 degrees

    def __post_init__(self) -> None:
        """Refuse values no arm or hall has ever seen with `InputError`."""
        limits = (
            ("speed", self.speed_m_s, -5.0, 5.0),
            ("weight", self.weight_n, 0.0, 20.0),
            ("distance", self.distance_m, 0.0005, 1.0),
            ("tilt", self.tilt_deg, -60.0, 60.0),
        )
        for name, course, low, high in limits:
            for value in as_curve(course).values:
                if not low <= value <= high:
                    raise out_of_range(name, value, low, high)


def steady(
    speed_m_s: float, weight_n: float, distance_m: float, *, tilt_deg: float = 0.0, ramp_s: float = 0.02
) -> Stroke:
    """Return a stroke that reaches its speed in a straight ramp, all else constant from the start.

    Parameters
    ----------
    ramp_s : time from rest to full speed in s; 0 starts at full speed
    """
    if not ramp_s >= 0.0:
        raise InputError(
            _("a ramp of {seconds} s is out of range: give 0 (full speed at once) or more").format(
                seconds=figures(f"{ramp_s:g}")
            )
        )
    speed = Curve((0.0, ramp_s), (0.0, speed_m_s)) if ramp_s > 0 else speed_m_s
    return Stroke(speed, weight_n, distance_m, tilt_deg)


def accelerate(
    acceleration_m_s2: float, weight_n: float, distance_m: float, *, seconds: float, tilt_deg: float = 0.0
) -> Stroke:
    """Return a start from rest at constant acceleration (K. Guettler, Acta Acust. u. Acust. 88 (2002))."""
    return Stroke(Curve((0.0, seconds), (0.0, acceleration_m_s2 * seconds)), weight_n, distance_m, tilt_deg)


def bow_change(
    speed_m_s: float,
    weight_n: float,
    distance_m: float,
    *,
    at_s: float,
    turn_s: float = 0.06,
    tilt_deg: float = 0.0,
    ramp_s: float = 0.02,
) -> Stroke:
    """Return a stroke whose bow turns at a time: down bow, then up bow at the same speed.

    Parameters
    ----------
    at_s : time at which the bow stands still, s; more than ``ramp_s + turn_s / 2``
    turn_s : time from full speed one way to full speed the other, s, above 0
    """
    if at_s - turn_s / 2 <= ramp_s:
        raise InputError(
            _("the bow turns at {turn} s, before it has reached its speed: turn later than {least} s").format(
                turn=figures(f"{at_s:g}"), least=figures(f"{ramp_s + turn_s / 2:g}")
            )
        )
    speed = Curve(
        (0.0, max(ramp_s, 1e-6), at_s - turn_s / 2, at_s + turn_s / 2),
        (0.0, speed_m_s, speed_m_s, -speed_m_s),
    )
    return Stroke(speed, weight_n, distance_m, tilt_deg)


def swell(
    speed_m_s: tuple[float, float],
    weight_n: tuple[float, float],
    distance_m: tuple[float, float],
    *,
    seconds: float,
    ramp_s: float = 0.02,
) -> Stroke:
    """Return a crescendo or diminuendo: speed, weight and distance each run from one value to another."""
    return Stroke(
        Curve((0.0, ramp_s, seconds), (0.0, *speed_m_s)),
        Curve((ramp_s, seconds), weight_n),
        Curve((ramp_s, seconds), distance_m),
    )


def wander(
    speed_m_s: float,
    weight_n: float,
    distances_m: Sequence[float],
    *,
    seconds: float,
    tilt_deg: float = 0.0,
    ramp_s: float = 0.02,
) -> Stroke:
    """Return a stroke whose contact distance visits the given ones at equal times, in straight lines."""
    times = np.linspace(0.0, seconds, len(distances_m))
    return Stroke(
        Curve((0.0, ramp_s), (0.0, speed_m_s)),
        weight_n,
        Curve(tuple(times.tolist()), tuple(float(d) for d in distances_m)),
        tilt_deg,
    )
