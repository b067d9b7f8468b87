"""Bodies of the string's own step: what happens at its ends, in the body, and in the bow's hair.

Velocity waves run in two lines of whole samples, towards the bridge and towards the nut; a transverse
pair and a torsional pair. M. E. McIntyre, R. T. Schumacher & J. Woodhouse, "On the oscillations of
musical instruments", JASA 74, 1325-1345 (1983).
"""

from __future__ import annotations

from typing import Any, NamedTuple

from colophony.physics.kernel.body import body


class End(NamedTuple):
    """Loss at one end: gain g times a one-pole low-pass, and what keeps a standing force from leaking away.

    The low-pass alone has gain g < 1 at 0 Hz, so that a string held aside by friction would creep back.
    A second, slow low-pass returns 1 - g there: gain 1 at 0 Hz, never above 1 anywhere.
    """

    gain: Any  #: g (1 - pole)
    pole: Any
    slow_gain: Any  #: (1 - g) (1 - slow_pole)
    slow_pole: Any


class StringNumbers(NamedTuple):
    """What one string, ribbon and body give the kernel, in its precision; admittances in s/kg."""

    one: Any
    half: Any
    least_weight: Any  #: N; below it the rosin's heat is reckoned as at this weight
    dt: Any
    z0: Any  #: transverse impedance, kg/s
    y_string: Any  #: 1 / (2 Z0)
    y_torsion: Any  #: 1 / (2 Zt); 0 without torsion
    y_hair: Any  #: of one hair point; 0 for a stiff bow
    hair_spring: Any  #: dt K / m of one hair point
    hair_keep: Any  #: 1 / (1 + dt c / m + dt^2 K / m); 0 for a stiff bow
    per_point: Any  #: 1 / number of hair points
    bridge: End
    nut: End
    torsion_end: End
    body_keep: Any  #: 1 / (1 + Z0 Y0), Y0 = instantaneous admittance of the body; 0 for a stiff bridge
    body_drive: Any  #: 2 Z0 Y0 / (1 + Z0 Y0)
    dispersion: Any  #: coefficient of the allpasses that make high partials sharp


@body
def reflect(x, low, slow, end):  # type: ignore[no-untyped-def]
    """Return the wave that is left at an end of x, and the new memory (low, slow) of `End`."""
    low = end.pole * low + end.gain * x
    slow = end.slow_pole * slow + end.slow_gain * x
    return low + slow, low, slow


@body
def allpass(x, memory, c):  # type: ignore[no-untyped-def]
    """Return y of (c + z^-1) / (1 + c z^-1) and its new memory."""
    y = c * x + memory
    return y, x - c * y


@body
def hair_history(v, q, n):  # type: ignore[no-untyped-def]
    """Return the velocity a hair point would have without friction: a mass on a damped spring, implicit."""
    return (v - n.hair_spring * q) * n.hair_keep


@body
def mode_step(h, s, force, A, B, w):  # type: ignore[no-untyped-def]
    """Advance one mode of the body; return its velocity, and the new (h, s); all three over C.

    The bilinear transform of m v' = f - c v - k q, so that what is passive stays passive: with g = dt/2,
    p = w0 q and w = w0 g,

        v_n = h_n + C f_n,  p_n = s_(n-1) + w v_n,  s_n = p_n + w v_n,  h_(n+1) = A v_n - B p_n + C f_n

    What is kept and returned is v / C, h / C and s / C: one product less.

    The call made with f_n ends sample n and returns what sample n + 1 starts from.
    """
    v = h + force
    p = s + w * v
    return v, A * v + force - B * p, p + w * v
