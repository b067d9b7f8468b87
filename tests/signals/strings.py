"""Bridge forces of a bowed or plucked string, from published formulas.

Every maker returns a new mono array, float64, at ``rate`` samples a second. Speeds are m/s, impedances
kg/s, forces newton, so that a jump can be checked by hand. A ``Curve`` is a number, or an array of points
spread evenly over the duration and joined by straight lines. Randomness comes from ``seed`` alone.

The wave itself: J. Woodhouse, *Euphonics*, 9.3.1 and 9.4.2 (euphonics.org): in Helmholtz motion the
bridge force is a sawtooth, ``a_n = (-1)^(n+1) 2 Z0 vb / (n pi beta)``, with one flyback of
``2 Z0 vb / beta`` a period. Bowing the other way changes the sign of ``vb``, hence of every harmonic.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, resample_poly, sosfilt

Signal = NDArray[np.float64]
Curve = float | Sequence[float] | NDArray[np.float64]

#: Wave impedances in kg/s at the middle of each string's published range: T. Rossing (ed.), *The Science
#: of String Instruments* (2010), table 16.1, tensions and masses; Z0 = sqrt(T m').
IMPEDANCE = {
    "violin": {"G": 0.35, "D": 0.25, "A": 0.20, "E": 0.18},
    "viola": {"C": 0.55, "G": 0.37, "D": 0.25, "A": 0.24},
    "cello": {"C": 1.41, "G": 0.94, "D": 0.66, "A": 0.52},
}
_TABLE = 16384


def points(curve: Curve, count: int) -> Signal:
    """Spread a number or an array of points over ``count`` samples."""
    values = np.atleast_1d(np.asarray(curve, dtype=float))
    if values.size == 1:
        return np.full(count, values[0])
    if values.size == count:
        return values
    return np.interp(np.linspace(0, 1, count), np.linspace(0, 1, values.size), values)


def smooth_random(count: int, rate: int, cutoff_hz: float, rng: np.random.Generator) -> Signal:
    """Return a slow random curve of mean 0 and standard deviation 1."""
    knots = max(4, int(count / rate * 2 * cutoff_hz) + 4)
    curve = np.interp(np.linspace(0, knots - 1, count), np.arange(knots), rng.standard_normal(knots))
    return (curve - curve.mean()) / (curve.std() + 1e-12)


def phase(
    frequency_hz: Curve,
    seconds: float,
    *,
    rate: int,
    vibrato_hz: float = 0.0,
    vibrato_cents: float = 0.0,
    jitter: float = 0.0,
    seed: int = 0,
) -> tuple[Signal, float]:
    """Return the running phase in periods and the highest frequency in Hz.

    ``vibrato_cents`` is the extent to either side. ``jitter`` is the standard deviation of the length
    of a period, relative: below 0.004 on a well bowed string (E. Bavu, J. Smith & J. Wolfe, *Acustica*
    91, 241-246, 2005).
    """
    count = round(seconds * rate)
    rng = np.random.default_rng(seed)
    frequency = points(frequency_hz, count)
    if vibrato_cents:
        swing = np.sin(2 * np.pi * vibrato_hz * np.arange(count) / rate + rng.uniform(0, 2 * np.pi))
        frequency = frequency * 2 ** (vibrato_cents * swing / 1200)
    if jitter:
        # A new deviation each period: white noise up to half the frequency.
        frequency = frequency * (1 + jitter * smooth_random(count, rate, float(frequency.mean()) / 2, rng))
    running = np.cumsum(frequency) / rate
    return running + rng.uniform(), float(frequency.max())


def _table(amplitudes: Signal) -> Signal:
    """Return one period, ``sum a_n sin(2 pi n x)``, with its first value repeated at the end."""
    spectrum = np.zeros(_TABLE // 2 + 1, dtype=complex)
    spectrum[1 : len(amplitudes) + 1] = -0.5j * amplitudes * _TABLE
    period = np.fft.irfft(spectrum, _TABLE)
    return np.append(period, period[0])


def _read(table: Signal, running: Signal) -> Signal:
    return np.interp((running % 1.0) * _TABLE, np.arange(_TABLE + 1), table)


def saw_amplitudes(
    highest_hz: float, *, rate: int, beta: float = 0.1, rounding_hz: float = 8000.0, node_depth: float = 0.0
) -> Signal:
    """Return ``a_n / (Z0 vb)`` for every harmonic below 0.45 of the rate.

    ``rounding_hz`` rounds the corner (each harmonic times ``exp(-f / rounding_hz)``; 0 leaves it sharp).
    ``node_depth`` from 0 to 1 weakens the harmonics with a node at the bow, n = k / beta.
    """
    n = np.arange(1, max(2, int(0.45 * rate / highest_hz) + 1))
    n = n[n < _TABLE // 4]
    amplitudes = -((-1.0) ** n) * 2 / (n * np.pi * beta)
    if rounding_hz:
        amplitudes = amplitudes * np.exp(-n * highest_hz / rounding_hz)
    if node_depth:
        amplitudes = amplitudes * (1 - node_depth * np.exp(-((np.sin(np.pi * n * beta) / 0.25) ** 2)))
    return amplitudes


def helmholtz(
    frequency_hz: Curve,
    seconds: float,
    *,
    rate: int,
    speed: Curve = 0.2,
    beta: float = 0.1,
    impedance: float = 0.35,
    vibrato_hz: float = 5.5,
    vibrato_cents: float = 0.0,
    jitter: float = 0.001,
    rounding_hz: float = 8000.0,
    node_depth: float = 0.0,
    seed: int = 0,
) -> Signal:
    """One slip a period (*Euphonics* 9.4.2). A negative speed is the other direction of the bow."""
    running, highest = phase(
        frequency_hz, seconds, rate=rate, vibrato_hz=vibrato_hz, vibrato_cents=vibrato_cents, jitter=jitter,
        seed=seed,
    )  # fmt: skip
    amplitudes = saw_amplitudes(highest, rate=rate, beta=beta, rounding_hz=rounding_hz, node_depth=node_depth)
    return impedance * points(speed, len(running)) * _read(_table(amplitudes), running)


def multiple_slip(
    frequency_hz: Curve,
    seconds: float,
    *,
    rate: int,
    slips: int = 2,
    shares: Sequence[float] | None = None,
    drift_hz: float = 0.4,
    speed: Curve = 0.2,
    beta: float = 0.1,
    impedance: float = 0.35,
    vibrato_hz: float = 5.5,
    vibrato_cents: float = 0.0,
    jitter: float = 0.001,
    rounding_hz: float = 8000.0,
    seed: int = 0,
) -> Signal:
    """Several flybacks a period, unequal, the extra ones wandering about their place.

    E. Schoonderwaldt, *JASA* 126, 2709-2720 (2009); R. Bader & R. Mores, arXiv:1804.05695. A sum of
    sawtooths that share the jump of one (``shares``, which sum to 1). ``drift_hz`` 0 locks them.
    """
    rng = np.random.default_rng(seed + 7919)
    weights = np.asarray(shares if shares is not None else rng.uniform(0.7, 1.3, slips), dtype=float)
    weights = weights / weights.sum()
    running, highest = phase(
        frequency_hz, seconds, rate=rate, vibrato_hz=vibrato_hz, vibrato_cents=vibrato_cents, jitter=jitter,
        seed=seed,
    )  # fmt: skip
    table = _table(saw_amplitudes(highest, rate=rate, beta=beta, rounding_hz=rounding_hz))
    force = weights[0] * _read(table, running)
    for k in range(1, slips):
        place = k / slips + rng.uniform(-0.08, 0.08)
        wander = 0.06 * smooth_random(len(running), rate, drift_hz, rng) if drift_hz else 0.0
        force = force + weights[k] * _read(table, running + place + wander)
    return impedance * points(speed, len(running)) * force


def irregular_slips(
    intervals_s: Signal, count: int, *, rate: int, frequency_hz: float, beta: float, rng: np.random.Generator
) -> Signal:
    """Return force / (Z0 vb) of a string that sticks for each interval in turn, then slips.

    Sticking, the force rises as in Helmholtz motion, by ``2 / beta`` a period; a slip lets go of 75 to
    110 % of what was built up. Made at eight times the rate, then reduced.
    """
    over = 8
    slope = 2 * frequency_hz / beta
    times = np.cumsum(intervals_s)
    steps = np.full(count * over, slope / (rate * over))
    built, last = 0.0, 0.0
    for time, share in zip(times, rng.uniform(0.75, 1.1, len(times)), strict=True):
        index = int(time * rate * over)
        if index >= len(steps):
            break
        built += slope * (time - last)
        steps[index] -= share * built
        built, last = built * (1 - share), time
    force = np.asarray(resample_poly(np.cumsum(steps), 1, over)[:count])
    return force - np.median(force)


def raucous(
    frequency_hz: float,
    seconds: float,
    *,
    rate: int,
    spread: float = 0.35,
    long_stick: float = 0.25,
    speed: Curve = 0.2,
    beta: float = 0.1,
    impedance: float = 0.35,
    seed: int = 0,
) -> Signal:
    """Slips without a period: too much weight for the speed, above F_max.

    J. C. Schelleng, *JASA* 53, 26-41 (1973), "raucous"; *Euphonics* 9.3 and 9.5. Intervals scatter
    about the period by ``spread`` (log-normal); a share ``long_stick`` of them lasts 1.5 to 3 periods.
    """
    rng = np.random.default_rng(seed)
    count = round(seconds * rate)
    period = 1.0 / frequency_hz
    number = int(seconds / period * 1.6) + 8
    intervals = period * np.exp(spread * rng.standard_normal(number))
    long = rng.uniform(size=number) < long_stick
    intervals[long] = period * rng.uniform(1.5, 3.0, int(long.sum()))
    intervals = np.maximum(intervals, 0.2 * period)
    force = irregular_slips(intervals, count, rate=rate, frequency_hz=frequency_hz, beta=beta, rng=rng)
    sos = butter(2, [0.4 * frequency_hz, min(9000.0, 0.45 * rate)], "band", fs=rate, output="sos")
    return impedance * points(speed, count) * sosfilt(sos, force)


def low_anomalous(
    frequency_hz: float,
    seconds: float,
    *,
    rate: int,
    ratio: float | None = None,
    speed: Curve = 0.05,
    beta: float = 0.1,
    impedance: float = 0.35,
    jitter: float = 0.002,
    seed: int = 0,
) -> Signal:
    """Periodic, but the period is ``ratio`` times the note's (default 1 + (1 - beta), about 1.9).

    R. J. Hanson, A. J. Schneider & F. W. Halgedahl, *CASJ* 2(6) (1994); M. Kimura, *J. New Music Res.*
    28, 178 (1999): pitches a third to more than an octave below the note. The corner still crosses
    the string in each of the note's periods: a small step there that lets nothing slip.
    """
    longer = ratio if ratio is not None else 2.0 - beta
    running, highest = phase(frequency_hz / longer, seconds, rate=rate, jitter=jitter, seed=seed)
    table = _table(saw_amplitudes(highest, rate=rate, beta=beta))
    force = 0.8 * _read(table, running) + 0.2 * _read(table, running - 1.0 / longer)
    return impedance * points(speed, len(running)) * force


def plucked(
    frequency_hz: float,
    seconds: float,
    *,
    rate: int,
    point: float = 0.2,
    inharmonicity: float = 2.5e-4,
    quality: float = 600.0,
    pull_n: float = 1.0,
    seed: int = 0,
) -> Signal:
    """A plucked string: partials ``n f sqrt(1 + B n^2)`` that die away, none with a node at ``point``.

    B and Q as G. Percival measured them on ten instruments (PhD, Glasgow 2013): B 4e-5 to 6e-4, Q of the
    first mode 250 to 1500, falling with n.
    """
    rng = np.random.default_rng(seed)
    t = np.arange(round(seconds * rate)) / rate
    force = np.zeros_like(t)
    for n in range(1, 41):
        partial_hz = n * frequency_hz * np.sqrt(1 + inharmonicity * n * n)
        if partial_hz > 0.45 * rate:
            break
        q = quality * rng.uniform(0.6, 1.2) / (1 + 0.06 * n)
        amplitude = 2 * pull_n * np.sin(n * np.pi * point) / (n * np.pi)
        force += amplitude * np.exp(-np.pi * partial_hz * t / q) * np.sin(2 * np.pi * partial_hz * t)
    return force * np.minimum(1.0, t / 0.002)


def hair_noise(
    seconds: float,
    *,
    rate: int,
    low_hz: float = 800.0,
    high_hz: float = 6000.0,
    level: float = 0.3,
    seed: int = 0,
) -> Signal:
    """Hair that brushes over the string without catching it: filtered noise, no tone (no source)."""
    count = round(seconds * rate)
    rng = np.random.default_rng(seed)
    sos = butter(2, [low_hz, min(high_hz, 0.45 * rate)], "band", fs=rate, output="sos")
    noise = sosfilt(sos, rng.standard_normal(count))
    slow = np.clip(1 + 0.25 * smooth_random(count, rate, 6.0, rng), 0.3, 2.0)
    return level * slow * noise / noise.std()


def ponticello(
    frequency_hz: Curve, seconds: float, *, rate: int, weaken_db: float = 18.0, **how: object
) -> Signal:
    """A tone close to the bridge: harmonics 1 to 3 weakened, still one slip a period (common practice)."""
    running, highest = phase(frequency_hz, seconds, rate=rate, jitter=0.001, seed=int(how.pop("seed", 0)))  # type: ignore[call-overload]
    amplitudes = saw_amplitudes(highest, rate=rate, beta=0.03, rounding_hz=12000.0)
    n = np.arange(1, len(amplitudes) + 1)
    amplitudes = amplitudes * 10 ** (-weaken_db / 20 * np.clip(1.25 - n / 4, 0, 1))
    return 0.35 * points(0.1, len(running)) * _read(_table(amplitudes), running)


def flageolet(
    frequency_hz: float, seconds: float, *, rate: int, order: int = 2, seed: int = 0, **how: float
) -> Signal:
    """A natural harmonic: only every ``order``-th harmonic of the string sounds (a node at 1/order)."""
    return helmholtz(order * frequency_hz, seconds, rate=rate, rounding_hz=4000.0, seed=seed, **how)
