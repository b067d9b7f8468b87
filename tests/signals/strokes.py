"""Strokes and sequences made of the string's motions: changes of bow, starts, short strokes, scales."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .strings import (
    Curve,
    Signal,
    _read,
    _table,
    helmholtz,
    irregular_slips,
    multiple_slip,
    phase,
    points,
    saw_amplitudes,
)


@dataclass(frozen=True)
class Parts:
    """A signal and the second at which each of its parts begins."""

    signal: Signal
    starts_s: tuple[float, ...]


def silence(seconds: float, *, rate: int) -> Signal:
    return np.zeros(round(seconds * rate))


def fade(signal: Signal, *, rate: int, attack_s: float = 0.03, release_s: float = 0.06) -> Signal:
    """Raise the level from nothing and let it fall, so that no part begins with a click."""
    out = signal.copy()
    a, r = min(len(out), round(attack_s * rate)), min(len(out), round(release_s * rate))
    out[:a] *= np.sin(np.linspace(0, np.pi / 2, a)) ** 2
    out[len(out) - r :] *= np.cos(np.linspace(0, np.pi / 2, r)) ** 2
    return out


def join(parts: Sequence[Signal], *, rate: int, crossfade_s: float = 0.0) -> Parts:
    """Set parts one after the other; ``crossfade_s`` lets each overlap the next (a slur: 30 ms)."""
    overlap = round(crossfade_s * rate)
    ramp = np.sin(np.linspace(0, np.pi / 2, overlap)) ** 2
    out = np.zeros(sum(map(len, parts)) - overlap * (len(parts) - 1))
    starts, at = [], 0
    for i, part in enumerate(parts):
        piece = part.copy()
        if overlap and i:
            piece[:overlap] *= ramp
        if overlap and i < len(parts) - 1:
            piece[len(piece) - overlap :] *= ramp[::-1]
        out[at : at + len(piece)] += piece
        starts.append((at + (overlap / 2 if i else 0)) / rate)
        at += len(piece) - overlap
    return Parts(out, tuple(starts))


def bow_changes(
    frequency_hz: Curve,
    seconds: float,
    *,
    rate: int,
    at_s: Sequence[float],
    dip_s: float = 0.08,
    speed: float = 0.2,
    beta: float = 0.1,
    impedance: float = 0.35,
    vibrato_hz: float = 5.5,
    vibrato_cents: float = 0.0,
    jitter: float = 0.001,
    seed: int = 0,
) -> Signal:
    """One note over several bows: the speed passes through zero at each of ``at_s`` within ``dip_s``.

    Past the zero every harmonic is turned by pi (the sign of vb in *Euphonics* 9.4.2); the corner
    starts anew, so the phase jumps by a random part of a period at the zero.
    """
    rng = np.random.default_rng(seed + 104729)
    running, highest = phase(
        frequency_hz, seconds, rate=rate, vibrato_hz=vibrato_hz, vibrato_cents=vibrato_cents, jitter=jitter,
        seed=seed,
    )  # fmt: skip
    t = np.arange(len(running)) / rate
    signed = np.full(len(t), speed)
    for turn in at_s:
        signed *= np.tanh((t - turn) / (dip_s / 4)) * -1
        running = running + np.where(t >= turn, rng.uniform(), 0.0)
    table = _table(saw_amplitudes(highest, rate=rate, beta=beta))
    return impedance * signed * _read(table, running)


def tremolo(
    frequency_hz: float,
    seconds: float,
    *,
    rate: int,
    strokes_per_s: float = 10.0,
    speed: float = 0.3,
    seed: int = 0,
) -> Signal:
    """Fast reversals, 8 to 12 strokes a second (common practice, no source), slightly uneven."""
    rng = np.random.default_rng(seed)
    gaps = rng.normal(1.0, 0.06, int(seconds * strokes_per_s) + 2) / strokes_per_s
    turns = np.cumsum(gaps)
    return bow_changes(
        frequency_hz,
        seconds,
        rate=rate,
        at_s=turns[turns < seconds].tolist(),
        dip_s=0.03,
        speed=speed,
        seed=seed,
    )


def short_strokes(
    frequencies_hz: Sequence[float],
    *,
    rate: int,
    stroke_s: float = 0.35,
    gap_s: float = 0.05,
    release_s: float = 0.03,
    speed: float = 0.25,
    seed: int = 0,
) -> Parts:
    """Separate strokes, alternately down and up: detache (gap_s near 0), spiccato (0.1 s, gap 0.1 s)."""
    parts = []
    for i, frequency in enumerate(frequencies_hz):
        way = speed if i % 2 == 0 else -speed
        tone = helmholtz(frequency, stroke_s, rate=rate, speed=way, seed=seed + i)
        parts.append(fade(tone, rate=rate, attack_s=0.015, release_s=release_s))
        parts.append(silence(gap_s, rate=rate))
    whole = join(parts, rate=rate)
    return Parts(whole.signal, whole.starts_s[::2])


def scale(
    frequencies_hz: Sequence[float],
    *,
    rate: int,
    note_s: float = 0.5,
    crossfade_s: float = 0.03,
    seed: int = 0,
    **how: float,
) -> Parts:
    """Slurred notes in one bow, each overlapping the next by ``crossfade_s``."""
    parts = [
        helmholtz(f, note_s + crossfade_s, rate=rate, seed=seed + i, **how)
        for i, f in enumerate(frequencies_hz)
    ]
    whole = join(parts, rate=rate, crossfade_s=crossfade_s)
    return Parts(fade(whole.signal, rate=rate), whole.starts_s)


def double_stop(
    low_hz: float,
    high_hz: float,
    seconds: float,
    *,
    rate: int,
    balance: float = 1.0,
    seed: int = 0,
    **how: float,
) -> Signal:
    """Two strings at once, each with its own period."""
    return helmholtz(low_hz, seconds, rate=rate, seed=seed, **how) + balance * helmholtz(
        high_hz, seconds, rate=rate, seed=seed + 1, impedance=0.25, **how
    )


def creaking_start(
    frequency_hz: float,
    seconds: float,
    *,
    rate: int,
    periods: int = 15,
    speed: float = 0.2,
    beta: float = 0.1,
    impedance: float = 0.35,
    seed: int = 0,
) -> Signal:
    """Too much weight for the acceleration: prolonged intervals for ``periods`` of the note, then Helmholtz.

    K. Guettler & A. Askenfelt, *JASA* 101, 2903-2913 (1997): prolonged periods, accepted up to 50 ms
    (10 periods) on the violin's G.
    """
    rng = np.random.default_rng(seed)
    before = periods / frequency_hz
    intervals = rng.uniform(1.3, 2.6, periods) / frequency_hz
    count = round(before * rate)
    start = irregular_slips(intervals, count, rate=rate, frequency_hz=frequency_hz, beta=beta, rng=rng)
    start *= impedance * speed
    tone = helmholtz(
        frequency_hz, seconds - before, rate=rate, speed=speed, beta=beta, impedance=impedance, seed=seed
    )
    return fade(join([start, tone], rate=rate).signal, rate=rate, attack_s=0.005)


def slipping_start(
    frequency_hz: float,
    seconds: float,
    *,
    rate: int,
    periods: int = 25,
    speed: float = 0.2,
    beta: float = 0.1,
    impedance: float = 0.35,
    seed: int = 0,
) -> Signal:
    """Too little weight: ``periods`` with two or three flybacks each, then Helmholtz.

    K. Guettler & A. Askenfelt, *JASA* 101, 2903-2913 (1997): accepted up to 90 ms (18 periods).
    """
    before = periods / frequency_hz
    how = {"rate": rate, "speed": speed, "beta": beta, "impedance": impedance, "seed": seed}
    start = multiple_slip(frequency_hz, before + 0.005, slips=3, drift_hz=8.0, **how)  # type: ignore[arg-type]
    tone = helmholtz(frequency_hz, seconds - before, **how)  # type: ignore[arg-type]
    return fade(join([start, tone], rate=rate, crossfade_s=0.005).signal, rate=rate, attack_s=0.02)


def clean_start(
    frequency_hz: float, seconds: float, *, rate: int, rise_s: float = 0.03, **how: float
) -> Signal:
    """Helmholtz from the first slip, the level rising with the bow's speed."""
    count = round(seconds * rate)
    t = np.arange(count) / rate
    speed = points(how.pop("speed", 0.2), count) * (1 - np.exp(-t / rise_s))
    return fade(helmholtz(frequency_hz, seconds, rate=rate, speed=speed, **how), rate=rate, attack_s=0.003)
