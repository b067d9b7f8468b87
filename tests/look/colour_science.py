"""Contrast and colour vision, written from the published formulas, apart from the project's own code."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

#: Machado, Oliveira and Fernandes (2009), "A physiologically-based model for simulation of color vision
#: deficiency", IEEE TVCG 15(6), severity 1.0, for linear RGB. Figures from memory; each row sums to 1, as
#: the paper's normalisation to white demands, which a test checks.
MACHADO_2009 = {
    "protanopia": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deuteranopia": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritanopia": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}

Vector = NDArray[np.float64]


def linear_rgb(colour: str) -> Vector:
    """Linear sRGB of ``#rrggbb``: IEC 61966-2-1, with the threshold 0.04045."""
    channels = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2, definition "relative luminance"."""
    return float(linear_rgb(colour) @ np.array([0.2126, 0.7152, 0.0722]))


def contrast(one: str, other: str) -> float:
    """Contrast ratio, WCAG 2.2, definition "contrast ratio"."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def as_seen(colour: str, vision: str) -> Vector:
    """Linear RGB of a colour as seen with a kind of colour vision; ``"usual"`` leaves it."""
    rgb = linear_rgb(colour)
    return rgb if vision == "usual" else (np.array(MACHADO_2009[vision]) @ rgb).clip(0, 1)


def lab(rgb: Vector) -> Vector:
    """CIE 1976 L*a*b* of linear sRGB, white D65 (CIE 15:2004; sRGB primaries of IEC 61966-2-1)."""
    to_xyz = np.array(
        [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]], dtype=np.float64
    )
    ratio = to_xyz @ rgb / np.array([0.9505, 1.0, 1.089])
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def difference(one: str, other: str, vision: str = "usual") -> float:
    """CIE 1976 colour difference; about 2.3 is just noticeable (Mahy et al. 1994)."""
    return float(np.linalg.norm(lab(as_seen(one, vision)) - lab(as_seen(other, vision))))


def hue_degrees(colour: str) -> float:
    """CIELAB hue angle."""
    _, a, b = lab(linear_rgb(colour))
    return math.degrees(math.atan2(b, a)) % 360
