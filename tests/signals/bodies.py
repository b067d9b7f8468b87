"""What stands between the bridge and the file: body, room, microphone, background noise, clipping."""

from __future__ import annotations

from typing import Literal

import numpy as np
from scipy.signal import fftconvolve

from .strings import Signal

Kind = Literal["violin", "viola", "cello"]

#: Signature modes as (lowest Hz, highest Hz, lowest Q, highest Q, relative level). Violin: *Euphonics* 5.3
#: and G. Bissinger, *JASA* 124, 1764-1773 (2008). Viola and cello: from secondary texts.
SIGNATURE_MODES: dict[Kind, tuple[tuple[float, float, float, float, float], ...]] = {
    "violin": (
        (265, 285, 12, 20, 1.0),
        (390, 420, 25, 45, 0.4),
        (445, 485, 25, 50, 1.0),
        (525, 575, 25, 50, 1.2),
    ),
    "viola": (
        (208, 244, 12, 20, 1.0),
        (335, 365, 25, 50, 1.0),
        (380, 400, 25, 45, 0.5),
        (430, 460, 25, 50, 1.2),
    ),
    "cello": (
        (90, 104, 14, 20, 1.0),
        (144, 168, 23, 37, 1.0),
        (165, 178, 25, 40, 0.5),
        (205, 225, 20, 35, 1.2),
        (270, 305, 20, 40, 0.6),
    ),
}
#: Bridge hill: centre lowest, highest (Hz), about 20 dB above the trend on a good violin (*Euphonics* 5.3).
HILL: dict[Kind, tuple[float, float]] = {"violin": (2000, 3200), "viola": (1600, 2200), "cello": (1000, 2500)}
_SPACING_HZ: dict[Kind, float] = {"violin": 45.0, "viola": 40.0, "cello": 25.0}


def body_response(
    kind: Kind, *, rate: int, seed: int = 0, direction: int = 0, seconds: float = 0.25
) -> Signal:
    """Return a body's impulse response: signature modes, statistical modes of Q 25 to 50, a bridge hill.

    Above 3 kHz the radiated spectrum falls by about 15 dB an octave (J. Patynen & T. Lokki, *Acta Acust. u.
    Acust.* 96, 138-167, 2010, violin), of which the sawtooth itself gives 6. ``direction`` is where the
    listener stands: the same modes, other phases, so other notches.
    """
    rng = np.random.default_rng(seed)
    phases = np.random.default_rng((seed, direction))
    t = np.arange(round(seconds * rate)) / rate
    modes = [
        (rng.uniform(low, high), rng.uniform(q_low, q_high), level * rng.uniform(0.6, 1.4))
        for low, high, q_low, q_high, level in SIGNATURE_MODES[kind]
    ]
    centre = rng.uniform(*HILL[kind])
    height_db = rng.uniform(8, 18)
    f = 1.15 * max(m[0] for m in modes)
    while f < min(10_000, 0.45 * rate):
        hill = 10 ** (height_db / 20 * np.exp(-((np.log2(f / centre) / 0.55) ** 2)))
        fall = (1 + (f / 3500) ** 2) ** -0.75
        modes.append((f, rng.uniform(25, 50), 0.35 * hill * fall * np.exp(0.4 * rng.standard_normal())))
        f += _SPACING_HZ[kind] * rng.uniform(0.5, 1.5)  # modes of one body keep apart
    response = np.zeros_like(t)
    for frequency, q, level in modes:
        rings = round(min(1.0, 7 * q / (np.pi * frequency) / seconds) * len(t))
        u = t[:rings]
        response[:rings] += (
            level * frequency / q * np.exp(-np.pi * frequency * u / q)
            * np.sin(2 * np.pi * frequency * u + phases.uniform(0, 2 * np.pi))
        )  # fmt: skip
    return response / np.sqrt(np.sum(response**2))


def body(signal: Signal, *, rate: int, kind: Kind = "violin", seed: int = 0, direction: int = 0) -> Signal:
    """Sound the bridge force through a random body of that kind, heard from one direction."""
    response = body_response(kind, rate=rate, seed=seed, direction=direction)
    return fftconvolve(signal, response)[: len(signal)]


def room(
    signal: Signal,
    *,
    rate: int,
    seconds: float = 0.4,
    direct_db: float = 3.0,
    other: Signal | None = None,
    seed: int = 0,
) -> Signal:
    """Add a diffuse reverberation of ``seconds`` (to -60 dB), its energy ``direct_db`` below the direct.

    Exponentially decaying noise, duller as it dies: M. R. Schroeder, *JASA* 37, 409-412 (1965), for the
    decay; the loss of high frequencies is common practice. ``other`` is what the body radiates into the
    room, away from the listener; by default the same as to the listener.
    """
    rng = np.random.default_rng(seed)
    t = np.arange(round(1.2 * seconds * rate)) / rate
    noise = rng.standard_normal(len(t))
    dull = np.convolve(noise, np.ones(5) / 5, "same")
    mix = np.exp(-t / (0.3 * seconds))
    tail = (mix * noise + (1 - mix) * 2 * dull) * 10 ** (-3 * t / seconds)
    tail[: round(0.004 * rate)] = 0
    tail *= 10 ** (-direct_db / 20) / np.sqrt(np.sum(tail**2))
    return signal + fftconvolve(signal if other is None else other, tail)[: len(signal)]


def microphone(signal: Signal, *, rate: int, seed: int = 0, tilt_db: float = 6.0) -> Signal:
    """Colour the sound gently: a random smooth response within +-``tilt_db``, weak below 80 Hz."""
    rng = np.random.default_rng(seed)
    frequencies = np.fft.rfftfreq(len(signal), 1 / rate)
    octaves = np.log2(np.maximum(frequencies, 20) / 20)
    curve_db = np.interp(octaves, np.arange(11), np.clip(rng.normal(0, tilt_db / 2, 11), -tilt_db, tilt_db))
    low = (frequencies / 80) ** 2 / (1 + (frequencies / 80) ** 2)
    return np.fft.irfft(np.fft.rfft(signal) * low * 10 ** (curve_db / 20), len(signal))


def add_noise(
    signal: Signal,
    *,
    rate: int,
    snr_db: float,
    kind: Literal["white", "pink", "hum50", "hum60"] = "pink",
    seed: int = 0,
) -> Signal:
    """Add background noise ``snr_db`` below the level of the sounding part (its loudest half)."""
    rng = np.random.default_rng(seed)
    if kind == "white":
        noise = rng.standard_normal(len(signal))
    elif kind == "pink":
        spectrum = np.fft.rfft(rng.standard_normal(len(signal)))
        spectrum /= np.sqrt(np.maximum(np.fft.rfftfreq(len(signal), 1 / rate), 20.0))
        noise = np.fft.irfft(spectrum, len(signal))
    else:
        t = np.arange(len(signal)) / rate
        mains = 50.0 if kind == "hum50" else 60.0
        noise = sum(np.sin(2 * np.pi * mains * n * t + n) / n for n in (1, 2, 3, 5, 7))  # type: ignore[assignment]
    blocks = signal[: len(signal) // 1024 * 1024].reshape(-1, 1024)
    power = np.sort(np.mean(blocks**2, axis=1))[len(blocks) // 2 :].mean()
    return signal + noise * np.sqrt(power / np.mean(noise**2)) * 10 ** (-snr_db / 20)


def normalise(signal: Signal, *, peak: float = 0.5) -> Signal:
    """Scale so that the largest sample is ``peak`` of full scale."""
    return signal * (peak / max(np.abs(signal).max(), 1e-12))


def clip(signal: Signal, *, over_db: float = 12.0) -> Signal:
    """Overload the input by ``over_db``: samples beyond full scale are cut off."""
    return np.clip(normalise(signal, peak=10 ** (over_db / 20)), -1.0, 1.0)


def recorded(
    signal: Signal,
    *,
    rate: int,
    kind: Kind = "violin",
    room_s: float = 0.4,
    snr_db: float = 45.0,
    seed: int = 0,
    peak: float = 0.5,
) -> Signal:
    """Bridge force to recording: body, room, microphone and noise in one step."""
    sound = body(signal, rate=rate, kind=kind, seed=seed)
    if room_s:
        other = body(signal, rate=rate, kind=kind, seed=seed, direction=1)
        sound = room(sound, rate=rate, seconds=room_s, other=other, seed=seed + 1)
    sound = microphone(sound, rate=rate, seed=seed + 2)
    return normalise(add_noise(sound, rate=rate, snr_db=snr_db, seed=seed + 3), peak=peak)
