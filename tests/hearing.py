"""From a computed bridge force to what listening says of its recording."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from colophony.listening.listen import listen
from colophony.listening.take import Stroke, Take, ToneState
from signals import join, recorded, silence
from signals.phone import DEGRADATIONS, Degradation, degrade
from signals.stickslip import Run, bow
from signals.strings import Signal

RATE = 44_100
#: Silence before and after each force; times in a take are this much later than in the force.
LEAD_S = 0.4
FAULTS = tuple(s for s in ToneState if s not in (ToneState.STEADY, ToneState.HELMHOLTZ, ToneState.UNSURE))
CONFIDENT = 0.5


def heard_file(samples: Signal, rate: int, **how: Any) -> Take:
    """Write samples as a 24-bit file and hear it."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "take.wav"
        soundfile.write(path, np.clip(samples, -1, 1), rate, subtype="PCM_24")
        return listen(path, **how)


def surroundings(seed: int) -> tuple[str, float, float]:
    """Draw an instrument, a room of 0 to 0.8 s and a noise 20 to 50 dB below the tone."""
    rng = np.random.default_rng((seed, 17))
    return (
        str(rng.choice(["violin", "viola", "cello"])),
        float(rng.choice([0.0, 0.2, 0.4, 0.8])),
        float(rng.uniform(20, 50)),
    )


def recording(
    force: Signal,
    seed: int,
    *,
    kind: str | None = None,
    room_s: float | None = None,
    snr_db: float | None = None,
) -> Signal:
    """Record a force through a random body, room and microphone, silence around it.

    What is not given is drawn from ``seed``: see `surroundings`.
    """
    drawn_kind, drawn_room_s, drawn_snr_db = surroundings(seed)
    rest = silence(LEAD_S, rate=RATE)
    return recorded(
        join([rest, force, rest], rate=RATE).signal,
        rate=RATE,
        kind=kind or drawn_kind,  # type: ignore[arg-type]
        room_s=drawn_room_s if room_s is None else room_s,
        snr_db=drawn_snr_db if snr_db is None else snr_db,
        seed=seed,
    )


def phone_of(seed: int) -> Degradation | None:
    """Return what a recording goes through: every second one nothing, the others a codec or 16 kHz."""
    return None if seed % 2 == 0 else DEGRADATIONS[seed // 2 % 3]


def heard(
    force: Signal,
    seed: int,
    *,
    kind: str | None = None,
    room_s: float | None = None,
    snr_db: float | None = None,
    phone: Degradation | None = None,
    **how: Any,
) -> Take:
    """Record a force and hear the recording; ``how`` goes to `listen`."""
    sound, rate = recording(force, seed, kind=kind, room_s=room_s, snr_db=snr_db), RATE
    if phone is not None:
        sound, rate = degrade(sound, rate, phone)
    return heard_file(sound, rate, **how)


def share(take: Take, start_s: float, end_s: float, *states: ToneState, confident: float = 0.0) -> float:
    """Return the share of the time between two moments of the force that was given to these states."""
    a, b = start_s + LEAD_S, end_s + LEAD_S
    spans = [s for stroke in take.strokes for s in stroke.spans]
    inside = [
        max(0.0, min(s.end_s, b) - max(s.start_s, a))
        for s in spans
        if s.state in states and s.confidence >= confident
    ]
    return sum(inside) / (b - a)


def accused(take: Take, *faults: ToneState) -> bool:
    """Whether a stroke, or a stretch of one, is confidently given to a fault (any, if none is named)."""
    return any(
        x.state in (faults or FAULTS) and x.confidence >= CONFIDENT
        for stroke in take.strokes
        for x in (stroke, *stroke.spans)
    )


def longest(take: Take) -> Stroke:
    """Return the longest stroke."""
    return max(take.strokes, key=lambda s: s.end_s - s.start_s)


def brief(take: Take) -> list[str]:
    """Return one short line a stroke, for the message of a failed test."""
    return [
        f"{s.start_s:.2f}-{s.end_s:.2f} {s.note} {s.state}@{s.confidence:.2f} "
        + " ".join(f"{p.state}:{p.start_s:.2f}-{p.end_s:.2f}@{p.confidence:.2f}" for p in s.spans)
        for s in take.strokes
    ]


@dataclass(frozen=True, slots=True)
class Simulated:
    """A stroke of the simulated bow, heard; ``run`` holds what the slips at the bow say."""

    seed: int
    frequency_hz: float
    run: Run
    take: Take

    def slipping(self, truth: str) -> list[tuple[float, Take, float, float]]:
        """Return (seconds, take, start, end) of the inner time of each stretch with this truth, in the take.

        A tenth of a second at both ends is left out, and so are stretches of less than 0.3 s (there a window
        of listening holds two motions) and those with less than one slip in five periods (hardly a sound).
        """
        found = []
        for span in self.run.spans:
            a, b = span.start_s + 0.1, span.end_s - 0.1
            slips = int(((self.run.slips_s > a) & (self.run.slips_s < b)).sum())
            if span.state == truth and b - a >= 0.1 and slips >= self.frequency_hz * (b - a) / 5:
                found.append((b - a, self.take, a + LEAD_S, b + LEAD_S))
        return found


@cache
def simulated(seed: int, least: float, most: float) -> Simulated:
    """Bow a string with ``least`` to ``most`` times the weight of Schelleng's upper limit, record, hear.

    Note (C2 to C6), speed (0.05 to 0.5 m/s), place (0.05 to 0.16), attack, vibrato, body, room, noise and
    phone are drawn from the seed. F_max = 2 Z0 vb / (beta (mu_s - mu_d)): J. C. Schelleng, JASA 53 (1973).
    """
    rng = np.random.default_rng(seed)
    frequency = float(np.exp(rng.uniform(np.log(65.4), np.log(1046.5))))
    kind = "cello" if frequency < 196 else "violin"
    impedance = 0.7 if kind == "cello" else 0.25
    speed, beta = float(np.exp(rng.uniform(np.log(0.05), np.log(0.5)))), float(rng.uniform(0.05, 0.16))
    highest = 2 * impedance * speed / (beta * 0.45)
    weight = highest * float(np.exp(rng.uniform(np.log(least), np.log(most))))
    seconds = 1.1
    t = np.arange(round(seconds * RATE) * 4) / (4 * RATE)
    ramp = np.minimum(1, t / float(rng.uniform(0.02, 0.2))) * np.minimum(1, (seconds - t) / 0.1)
    run = bow(
        frequency, seconds, rate=RATE, speed=speed * ramp + 1e-4, weight=weight, beta=beta,
        impedance=impedance, seed=seed,
    )  # fmt: skip
    vibrato = float(rng.uniform(5, 30)) if rng.random() < 0.5 else 0.0
    take = heard(swayed(run.force, cents=vibrato), seed, kind=kind, phone=phone_of(seed))
    return Simulated(seed, frequency, run, take)


def swayed(force: Signal, *, cents: float, rate_hz: float = 5.5) -> Signal:
    """Stretch and squeeze time so that the pitch sways by ``cents`` to either side."""
    t = np.arange(len(force)) / RATE
    depth = (2 ** (cents / 1200) - 1) / (2 * np.pi * rate_hz)
    return np.interp(t + depth * np.sin(2 * np.pi * rate_hz * t), t, force)
