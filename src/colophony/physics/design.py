"""From a string and its note to whole samples and filters: what the kernel needs, worked out once a run.

Time is counted in samples a period, so that the sample rate follows the note. The loop of a transverse
wave is 2 M samples of string, the delay of the losses at both ends, the allpasses that stretch the high
partials, and one allpass that makes up the fraction of a sample.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colophony.errors import InputError
from colophony.language import _
from colophony.physics.bodies import Body, bridge_admittance
from colophony.physics.fitting import least_squares, minimise
from colophony.physics.kernel.string import End
from colophony.physics.strings import BowedString

Floats = NDArray[np.floating[Any]]

LEAST_RATE_HZ = 96_000.0
LEAST_SAMPLES_PER_PERIOD = 200
MOST_SAMPLES_PER_PERIOD = 20_000
#: Partials to which losses and stiffness are fitted.
PARTIALS = np.arange(1.0, 11.0)
_SECTIONS = 4  #: allpasses for stiffness
#: The slow low-pass of `End` turns at this share of the note.
_SLOW_CORNER = 1 / 8
#: At least this part of the measured loss stays with the string where the body seems to take more.
_LEAST_OWN_LOSS = 0.3
#: Q that a finger's flesh allows the fundamental of a stopped string. From memory, low confidence.
_STOPPED_QUALITY = 200.0


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """What the kernel is told of one string at one note."""

    samples_per_period: int
    rate_hz: float
    frequency_hz: float
    bridge: End
    nut: End
    torsion_end: End
    sections: int  #: number of allpasses for stiffness
    dispersion: float  #: their coefficient
    torsion_points: int
    torsion_delay: float  #: of the loss at each end of the torsional lines, samples at their first mode
    bridge_delay: float  #: of the loss at the bridge, samples at the note

    def nut_at(self, frequency_hz: float) -> tuple[int, float]:
        """Return the points from bridge to nut or finger and the tuning allpass's coefficient for a note.

        Raises `InputError` when the note leaves fewer than 8 samples a period to string alone.
        """
        omega = 2 * np.pi * frequency_hz / self.rate_hz
        fixed = sum(phase_delay(end_response(end, omega), omega) for end in (self.bridge, self.nut))
        fixed += self.sections * phase_delay(allpass_response(self.dispersion, omega), omega)
        rest = 2 * np.pi / omega - fixed
        points = math.floor((rest - 0.5) / 2)
        if points < 8:
            raise InputError(
                _(
                    "a note of {frequency} Hz is too high for {rate} samples a second: ask for more samples "
                    "a period"
                ).format(frequency=f"{frequency_hz:.0f}", rate=f"{self.rate_hz:.0f}")
            )
        delay = rest - 2 * points
        return points, math.sin((1 - delay) * omega / 2) / math.sin((1 + delay) * omega / 2)

    def point_at(self, beta: float) -> float:
        """Return the place, in points from the bridge, whose round trip to the bridge is beta of a period."""
        return (beta * self.samples_per_period - 1 - self.bridge_delay) / 2

    def torsion_point_at(self, beta: float) -> float:
        """Return the place in the torsional lines whose round trip to the bridge is beta of their period."""
        period = 2 * (self.torsion_points + self.torsion_delay)
        return min(max((beta * period - 1 - self.torsion_delay) / 2, 0.0), self.torsion_points - 2.0)

    def beta_at(self, point: float) -> float:
        """Return the share of the sounding length at which a point lies; the inverse of `point_at`."""
        return (2 * point + 1 + self.bridge_delay) / self.samples_per_period


@lru_cache(maxsize=256)
def design_string(
    string: BowedString,
    *,
    frequency_hz: float,
    samples_per_period: int | None = None,
    body: Body | None = None,
    stiffness: bool = True,
    loss: float = 1.0,
) -> Design:
    """Return what the kernel needs for a string stopped (or open) at a note.

    Parameters
    ----------
    frequency_hz : fundamental of the free string
    samples_per_period : 40 to 20 000; left out, the fewest that give 96 kHz, at least 200
    body : coupled body; what it takes on average is subtracted from the string's own loss, because the
        strings' losses were measured on instruments
    stiffness : stretch the partials by the string's inharmonicity
    loss : factor on all losses of the string and of torsion, above 0

    Raises `InputError` for a note or number of samples out of range.
    """
    count = samples_per_period
    if count is None:
        count = max(LEAST_SAMPLES_PER_PERIOD, math.ceil(LEAST_RATE_HZ / frequency_hz))
    if not 40 <= count <= MOST_SAMPLES_PER_PERIOD:
        raise InputError(
            _("{count} samples a period are out of range: choose 40 to {most}").format(
                count=count, most=MOST_SAMPLES_PER_PERIOD
            )
        )
    omega = 2 * np.pi / count
    floor, growth = own_decay(string, body)
    per_period = loss * (floor + growth * (PARTIALS * frequency_hz / string.open_frequency_hz) ** 2)
    per_period = per_period / frequency_hz
    if frequency_hz > 1.02 * string.open_frequency_hz:
        per_period = per_period + loss * np.pi * PARTIALS / _STOPPED_QUALITY
    end = fit_end(0.5 * per_period, omega * PARTIALS, slow=omega * _SLOW_CORNER)

    torsion_period = count / string.torsion_speed_ratio
    partials = np.arange(1.0, 13.0)
    torsion_loss = loss * 0.5 * np.pi * partials / string.torsion_quality
    inside = 2 * np.pi * partials / torsion_period < 2.5
    first = 2 * np.pi / torsion_period
    # A string twisted by slowly growing friction must not untwist: the slow low-pass reaches up to half the
    # first torsional mode, or starts come late.
    torsion_end = fit_end(torsion_loss[inside], first * partials[inside], slow=0.5 * first)
    torsion_delay = phase_delay(end_response(torsion_end, first), first)
    torsion_points = max(4, round((torsion_period - 2 * torsion_delay) / 2))

    rate = count * frequency_hz
    bare = Design(
        count,
        rate,
        frequency_hz,
        end,
        end,
        torsion_end,
        0,
        0.0,
        torsion_points,
        torsion_delay,
        phase_delay(end_response(end, omega), omega),
    )
    if not stiffness:
        return bare
    stiff = string.inharmonicity_at(frequency_hz)
    coefficient = minimise(lambda c: _partials_off(bare, c, stiff), -1.0 + 10.0 / count, 0.0)
    return Design(
        count,
        rate,
        frequency_hz,
        end,
        end,
        torsion_end,
        _SECTIONS,
        coefficient,
        torsion_points,
        torsion_delay,
        bare.bridge_delay,
    )


def own_decay(string: BowedString, body: Body | None) -> tuple[float, float]:
    """Return r0 and r2 (1/s) of the string alone: the measured decay less what the body takes.

    A body of admittance Y takes 2 Z0 Re Y of a wave's amplitude at each reflection (J. Woodhouse,
    Euphonics, section 5.1.1). The law r_n = r0 + r2 n^2 is fitted to what is left at the open string's
    partials.
    """
    floor, growth = string.decay_floor_per_s, string.decay_growth_per_s
    if body is None:
        return floor, growth
    measured = floor + growth * PARTIALS**2
    frequencies = string.open_frequency_hz * PARTIALS
    taken = (
        2 * string.impedance_kg_s * np.real(bridge_admittance(body, frequencies)) * string.open_frequency_hz
    )
    left = np.maximum(measured - taken, _LEAST_OWN_LOSS * measured)
    columns = np.stack([1 / left, PARTIALS**2 / left], axis=1)
    r0, r2 = np.linalg.lstsq(columns, np.ones(len(left)), rcond=None)[0]
    return max(float(r0), _LEAST_OWN_LOSS * floor), max(float(r2), _LEAST_OWN_LOSS * growth)


def end_response(end: End, omega: float | Floats) -> NDArray[np.complex128]:
    """Return the complex gain of an end's loss at angular frequencies in radians a sample."""
    z1 = np.exp(-1j * np.asarray(omega))
    return np.asarray(end.gain / (1 - end.pole * z1) + end.slow_gain / (1 - end.slow_pole * z1))


def allpass_response(coefficient: float, omega: float | Floats) -> NDArray[np.complex128]:
    """Return the complex gain of a first-order allpass (c + z^-1) / (1 + c z^-1)."""
    z1 = np.exp(-1j * np.asarray(omega))
    return np.asarray((coefficient + z1) / (1 + coefficient * z1))


def phase_delay(response: NDArray[np.complex128], omega: float) -> float:
    """Return the phase delay in samples of a response at one low frequency."""
    return float(-np.angle(response) / omega)


def fit_end(losses: Floats, omegas: Floats, *, slow: float) -> End:
    """Return the end whose loss -ln|H| comes nearest to the given ones, in ratio.

    Parameters
    ----------
    losses : [n] nepers at each reflection, above 0
    omegas : [n] radians a sample, below pi
    slow : corner of the slow low-pass, radians a sample
    """
    slow_pole = math.exp(-slow)

    def end_of(logs: Floats) -> End:
        lost = 1 - math.exp(-math.exp(float(logs[0])))
        bend = math.exp(float(logs[1]))
        pole = 1 + 2 / bend - math.sqrt((1 + 2 / bend) ** 2 - 1)
        return End((1 - lost) * (1 - pole), pole, lost * (1 - slow_pole), slow_pole)

    def off(logs: Floats) -> Floats:
        loss = -np.log(np.abs(end_response(end_of(logs), omegas)))
        return np.asarray(np.log(np.maximum(loss, 1e-12) / losses))

    rise = max(2 * float(losses[-1] - losses[0]), 1e-9)
    start = np.log([max(float(losses[0]), 1e-9), rise / float(np.sin(omegas[-1] / 2) ** 2)])
    return end_of(least_squares(off, start))


def stiff_partials(frequency_hz: float, inharmonicity: float, partials: Floats) -> Floats:
    """Return the frequencies in Hz of a stiff string's partials, f_n = n f sqrt((1 + B n^2) / (1 + B)).

    H. Fletcher, "Normal vibration frequencies of a stiff piano string", JASA 36, 203-209 (1964).
    """
    return np.asarray(
        partials * frequency_hz * np.sqrt((1 + inharmonicity * partials**2) / (1 + inharmonicity))
    )


def _partials_off(bare: Design, coefficient: float, inharmonicity: float) -> float:
    """Return how far, in rms cents, the partials lie from the stiff string's with these allpasses."""
    omegas = 2 * np.pi * stiff_partials(bare.frequency_hz, inharmonicity, PARTIALS) / bare.rate_hz
    phase = np.zeros(len(omegas))
    for response, times in (
        (end_response(bare.bridge, omegas), 2),
        (allpass_response(coefficient, omegas), _SECTIONS),
    ):
        phase += times * -np.unwrap(np.angle(response))
    # The whole samples of string make the first partial exact and add a straight line.
    string = (2 * np.pi - phase[0]) / omegas[0]
    off = (phase + string * omegas) / (2 * np.pi * PARTIALS) - 1
    return float(np.sqrt(np.mean((1200 / math.log(2) * off) ** 2)))
