"""What the bridge stands on: the body's modes, as the string feels them and as they sound.

A body is a sum of passive modes seen at the string's notch of the bridge, in the direction of bowing. The
lowest have the frequencies and Qs measured on instruments; above them stand broad statistical modes, drawn
from a seed, whose mean follows the bridge hill. Real bodies have hundreds of them; here one broad mode
stands for several, so that peaks merge above about 1 kHz (modal overlap above 1) as they do on a violin.

The radiated sound is the sum of the modes' velocities, each with its signed weight. The weights are chosen
so that the sawtooth of an ideal string has the peaks and the slope of the violin's long-time spectrum.

Sources of frequencies and Qs: J. Woodhouse, Euphonics 5.3 (violin, viola); cello and double bass as named
at each body; radiated spectrum: J. Pätynen & T. Lokki, Acta Acust. u. Acust. 96, 138-167 (2010).
No published level of the admittance was found. The violin's strongest mode has -21 dB re 1 s/kg (from
memory: about -20 dB), the cello's stands 6 dB above it when scaled by the string's impedance (about
5 dB, Euphonics 9.4), and the mean between them is as low as the measured decay of strings demands
(Percival 2013: the body's share of a string's loss is part of what was measured).
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from colophony.physics.strings import SOUNDING_LENGTH_M, InstrumentName, no_size, sizes_of

#: Modes of every body, signature and statistical together.
MODES = 32
#: From the statistical modes' mean to the top of the bridge hill (Euphonics 5.3: about 20 dB).
_HILL_RISE = 10.0
_HILL_WIDTH_OCTAVES = 0.45
#: Q of statistical modes while they stand apart; measured ones have about 45, but stand closer.
_APART_Q = 30.0
#: Modal overlap (bandwidth over spacing) above `_Kind.merging_hz`.
_OVERLAP = 1.1


@dataclass(frozen=True, slots=True)
class Mode:
    """One resonance at the bridge."""

    frequency_hz: float
    quality: float
    mass_kg: float  #: effective mass at the string's notch
    radiation: float  #: signed weight of its velocity in the radiated sound, no unit

    @property
    def peak_s_kg(self) -> float:
        """Admittance Q / (w m) at resonance in s/kg."""
        return self.quality / (2.0 * math.pi * self.frequency_hz * self.mass_kg)


@dataclass(frozen=True, slots=True)
class Body:
    """The modes of one body, from the lowest to the highest, at most `MODES` of them."""

    name: str
    modes: tuple[Mode, ...]
    source: str


def bridge_admittance(body: Body, frequency_hz: ArrayLike) -> NDArray[np.complex128]:
    """Return the admittance Y (velocity over force) of the bridge in the direction of bowing, s/kg.

    Y(w) = sum over modes of (i w / m) / (w_m^2 - w^2 + i w w_m / Q); shape as ``frequency_hz``.
    """
    return _response(body, frequency_hz, np.ones(len(body.modes)))


def radiated_response(body: Body, frequency_hz: ArrayLike) -> NDArray[np.complex128]:
    """Return radiated sound over force at the bridge, arbitrary unit; shape as ``frequency_hz``."""
    return _response(body, frequency_hz, np.array([mode.radiation for mode in body.modes]))


def _response(body: Body, frequency_hz: ArrayLike, weights: NDArray[np.float64]) -> NDArray[np.complex128]:
    w = 2.0 * np.pi * np.asarray(frequency_hz, dtype=float)[..., None]
    w_m = 2.0 * np.pi * np.array([mode.frequency_hz for mode in body.modes])
    quality = np.array([mode.quality for mode in body.modes])
    mass = np.array([mode.mass_kg for mode in body.modes])
    response: NDArray[np.complex128] = np.sum(
        weights * 1j * w / mass / (w_m**2 - w**2 + 1j * w * w_m / quality), axis=-1
    )
    return response


@dataclass(frozen=True, slots=True)
class _Signature:
    """A mode of a full-size body: its peak admittance, and its part in the sound at resonance.

    ``sound`` is the radiated response at resonance, 1 at the strongest mode.
    """

    name: str
    frequency_hz: float
    quality: float
    peak_s_kg: float
    sound: float

    def mode(self) -> Mode:
        mass = self.quality / (2.0 * math.pi * self.frequency_hz * self.peak_s_kg)
        return Mode(self.frequency_hz, self.quality, mass, self.sound / self.peak_s_kg)


@dataclass(frozen=True, slots=True)
class _Kind:
    """A full-size body: signature modes and what shapes the statistical modes above them."""

    signature: tuple[_Signature, ...]
    statistical_hz: tuple[float, float]  #: lowest and highest of them
    merging_hz: float  #: modes merge above
    mean_s_kg: float  #: mean of the real part of the admittance off the hill
    hill_hz: float
    formants_hz: tuple[float, float]  #: peaks of the radiated spectrum above the signature modes
    source: str


#: Below the air mode the flows of air and wood cancel: A0 sounds against the others.
_KINDS: Mapping[InstrumentName, _Kind] = {
    "violin": _Kind(
        (
            _Signature("A0", 272.0, 16.0, 0.008, -0.55),
            _Signature("CBR", 407.0, 30.0, 0.010, 0.1),
            _Signature("B1-", 462.0, 40.0, 0.055, 0.6),
            _Signature("B1+", 551.0, 36.0, 0.090, 1.0),
        ),
        (660.0, 6600.0),
        1000.0,
        0.0012,
        2300.0,
        (1500.0, 3350.0),
        "modes, Qs and hill: Euphonics 5.3; levels estimated; sound: Pätynen & Lokki (2010)",
    ),
    "viola": _Kind(
        (
            _Signature("A0", 224.0, 16.0, 0.006, -0.55),
            _Signature("B1-", 350.0, 38.0, 0.040, 0.6),
            _Signature("A1", 390.0, 25.0, 0.002, 0.15),
            _Signature("B1+", 450.0, 38.0, 0.055, 1.0),
            _Signature("next", 560.0, 33.0, 0.020, 0.3),
        ),
        (640.0, 5600.0),
        820.0,
        0.0010,
        1900.0,
        (1240.0, 2770.0),
        "modes and hill: Euphonics 5.3; Qs as the violin's; levels and sound estimated",
    ),
    "cello": _Kind(
        (
            _Signature("A0", 92.0, 17.0, 0.004, -0.55),
            _Signature("B1-", 160.0, 36.0, 0.045, 0.8),
            _Signature("CBR", 172.0, 30.0, 0.003, 0.1),
            _Signature("C4", 195.0, 30.0, 0.004, 0.1),
            _Signature("A1", 203.0, 25.0, 0.003, 0.1),
            _Signature("B1+", 219.0, 33.0, 0.010, 1.0),
            _Signature("A3", 277.0, 25.0, 0.004, 0.2),
            _Signature("A2", 302.0, 25.0, 0.004, 0.2),
        ),
        (345.0, 5000.0),
        550.0,
        0.0005,
        1600.0,
        (650.0, 2000.0),
        "frequencies and Qs at second hand; levels from the wolf (Euphonics 9.4); sound estimated",
    ),
    "double bass": _Kind(
        (
            _Signature("A0", 63.0, 16.0, 0.002, -0.55),
            _Signature("T1", 104.0, 30.0, 0.008, 1.0),
            _Signature("upper T", 128.0, 30.0, 0.004, 0.7),
        ),
        (150.0, 3500.0),
        300.0,
        0.0002,
        900.0,
        (400.0, 1200.0),
        "A0 and T1: A. Askenfelt, STL-QPSR (1982); the rest is an estimate",
    ),
}

#: Length of the back in m. Violin: a table of the trade. Viola: sold by the inch. Cello 4/4 and 3/4: a French
#: table of 1903. Sizes not named here are taken in proportion to the sounding length.
BODY_LENGTH_M: Mapping[InstrumentName, Mapping[str, float]] = {
    "violin": {
        "4/4": 0.360,
        "7/8": 0.345,
        "3/4": 0.330,
        "1/2": 0.300,
        "1/4": 0.285,
        "1/8": 0.260,
        "1/10": 0.240,
        "1/16": 0.230,
    },
    "viola": {"4/4": 0.406, "3/4": 0.356, "1/2": 0.330, "1/4": 0.305},
    "cello": {"4/4": 0.770, "3/4": 0.653},
    "double bass": {},
}


def find_body(instrument: str, size: str = "4/4", *, seed: int = 1) -> Body:
    """Return a body of the catalogue.

    A small body's modes are an estimate: frequencies rise as one over the length of the body and masses
    fall with it, so that the admittance of the peaks stays.

    Parameters
    ----------
    instrument, size : as in `strings.find_string`
    seed : of the statistical modes; the same seed gives the same body everywhere

    Raises `InputError` when the instrument or size is unknown.
    """
    sizes = sizes_of(instrument)
    if size not in sizes:
        raise no_size(size, instrument)
    name, kind = next((name, kind) for name, kind in _KINDS.items() if name == instrument)
    modes = [signature.mode() for signature in kind.signature]
    modes += _statistical_modes(kind, MODES - len(modes), random.Random(seed))
    ratio = _body_ratio(name, size)
    source = kind.source if size == "4/4" else f"estimate, scaled from full size: {kind.source}"
    return Body(
        f"{instrument} {size}",
        tuple(
            replace(mode, frequency_hz=mode.frequency_hz / ratio, mass_kg=mode.mass_kg * ratio)
            for mode in sorted(modes, key=lambda mode: mode.frequency_hz)
        ),
        source,
    )


def _body_ratio(instrument: InstrumentName, size: str) -> float:
    """Return length of a body over that of full size."""
    lengths = BODY_LENGTH_M[instrument]
    if size in lengths:
        return lengths[size] / lengths["4/4"]
    strings = SOUNDING_LENGTH_M[instrument]
    return strings[size][0] / strings["4/4"][0]


def _statistical_modes(kind: _Kind, count: int, drawn: random.Random) -> list[Mode]:
    """Return modes spaced evenly in pitch, each drawn in place, level and sign.

    N modes of mass m, spaced by dw, have the mean Re Y = pi / (2 m dw) (E. Skudrzyk's mean-value
    theorem, JASA 67, 1980; from memory).
    """
    low_hz, high_hz = kind.statistical_hz
    step = math.log(high_hz / low_hz) / (count - 1)
    modes = []
    for i in range(count):
        frequency_hz = low_hz * math.exp(step * (i + 0.5 * (drawn.random() - 0.5)))
        quality = _APART_Q if frequency_hz < kind.merging_hz else min(_APART_Q, 1.0 / (_OVERLAP * step))
        spacing = 2.0 * math.pi * frequency_hz * step
        mean_s_kg = _mean_s_kg(kind, frequency_hz)
        level = 0.6 + 0.8 * drawn.random()
        sign = 1.0 if drawn.random() < 0.5 else -1.0
        mass = math.pi / (2.0 * mean_s_kg * level * spacing)
        modes.append(Mode(frequency_hz, quality, mass, sign * _sound(kind, frequency_hz) / mean_s_kg))
    return modes


def _mean_s_kg(kind: _Kind, frequency_hz: float) -> float:
    """Return the mean real part of the admittance: level, with the bridge hill on it."""
    octaves = math.log2(frequency_hz / kind.hill_hz)
    return kind.mean_s_kg * (1.0 + (_HILL_RISE - 1.0) * math.exp(-((octaves / _HILL_WIDTH_OCTAVES) ** 2)))


def _sound(kind: _Kind, frequency_hz: float) -> float:
    """Return the radiated response wanted at a frequency: two formants on a floor.

    With the sawtooth's own 6 dB an octave, the far side of the second formant falls by about 15 dB.
    """
    formants = sum(math.exp(-((math.log2(frequency_hz / hz) / 0.35) ** 2)) for hz in kind.formants_hz)
    return 0.3 * (1.0 + 2.0 * formants)
