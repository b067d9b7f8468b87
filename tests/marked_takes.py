"""Simulated takes whose speed, weight and place are known, for the player's own sound.

A player is an instrument (its body drawn by a seed), a hand that strays from stroke to stroke and within a
stroke, a room and a microphone that stays. The strings are the program's own; `twin_take` bows the small
string of `signals.stickslip`, which shares no code with it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from colophony.listening.take import Instrument, Take
from colophony.physics.gestures import Curve, Stroke
from colophony.physics.instruments import find_instrument
from colophony.physics.limits.schoonderwaldt_2008 import measured_weight_max_n
from colophony.physics.simulation import simulate
from colophony.physics.sound import Room, add_room, render_sound
from colophony.physics.strings import BowedString
from colophony.teaching.reference import Mark, find_mark
from colophony.teaching.sounding_points import point_to_m
from hearing import heard_file
from signals import add_noise, fade, join, silence
from signals.bodies import body, microphone, room
from signals.stickslip import bow
from signals.strings import Signal

RATE = 44_100
SPEED_CM_S = 16.0
#: A bow lasts 2 s here, to be quick: so much hair makes `SPEED_CM_S`.
HAIR_MM = 320.0
BEATS, TEMPO = 2.0, 60.0
SHARE_OF_GREATEST = 0.28
ROOM = Room(0.4, level_db=-3.0)


@dataclass(frozen=True, slots=True)
class Bow:
    """One stroke: speed in cm/s, weight in N, distance in mm, seconds."""

    speed_cm_s: float
    weight_n: float
    distance_mm: float
    seconds: float


@dataclass(slots=True)
class Player:
    """One player on one string; the first take sets the gain, which stays."""

    instrument: Instrument
    size: str
    string: str
    seed: int
    twin: bool = False
    snr_db: float = 42.0
    gain: float | None = None
    rng: np.random.Generator = field(init=False)

    def __post_init__(self) -> None:
        self.rng = np.random.default_rng((self.seed, ord(self.string), len(self.instrument)))

    @property
    def string_data(self) -> BowedString:
        return find_instrument(self.instrument, self.size).string(self.string)

    def mark(self, point: float) -> Mark:
        return find_mark(
            self.instrument, self.size, self.string, point=point, beats=BEATS, tempo=TEMPO, hair_mm=HAIR_MM
        )

    def bows(
        self, point: float, count: int, *, speed: float = 1.0, weight: float = 1.0, at: float | None = None
    ) -> list[Bow]:
        """Draw whole bows: ``speed`` and ``weight`` times the reference's at ``point``, played at ``at``."""
        known, mark = self.string_data, self.mark(point)
        weight_n = SHARE_OF_GREATEST * measured_weight_max_n(
            Z0=known.impedance_kg_s,
            vb=SPEED_CM_S / 100,
            beta=mark.distance_mm / 1000 / known.sounding_length_m,
        )
        distance_mm = 1000 * point_to_m(point if at is None else at, known)
        strays = np.exp(self.rng.normal(0, (0.04, 0.1, 0.04), (count, 3)))
        return [
            Bow(
                SPEED_CM_S * speed * a,
                weight_n * weight * b,
                distance_mm * c,
                HAIR_MM / 10 / (SPEED_CM_S * speed * a),
            )
            for a, b, c in strays
        ]

    def take(self, bows: Sequence[Bow]) -> Take:
        """Play bows one after the other, record and hear them."""
        sound = (self._twin if self.twin else self._own)(bows)
        if self.gain is None:
            self.gain = 0.2 / float(np.abs(sound).max())
        return heard_file(self.gain * sound, RATE, instrument=self.instrument, size=self.size)

    def _own(self, bows: Sequence[Bow]) -> Signal:
        """Down and up without a rest, weight and place wandering slowly within each bow."""
        speed: list[tuple[float, float]] = [(0.0, 0.0)]
        weight: list[tuple[float, float]] = []
        distance: list[tuple[float, float]] = []
        begin = 0.0
        for number, one in enumerate(bows):
            end, sign = begin + one.seconds, -1.0 if number % 2 else 1.0
            speed += [(begin + 0.03, sign * one.speed_cm_s / 100), (end - 0.03, sign * one.speed_cm_s / 100)]
            for knots, value, wander in (
                (weight, one.weight_n, 0.07),
                (distance, one.distance_mm / 1000, 0.04),
            ):
                times = np.arange(begin + 0.15, end - 0.1, 0.25)
                steps = np.cumsum(self.rng.normal(size=len(times)))
                knots += list(
                    zip(times, value * (1 + wander * (steps - steps.mean()) / steps.std()), strict=True)
                )
            begin = end
        speed.append((begin, 0.0))
        stroke = Stroke(*(Curve(*zip(*knots, strict=True)) for knots in (speed, weight, distance)))
        instrument = find_instrument(self.instrument, self.size, seed=self.seed)
        motion = simulate(instrument, self.string, stroke, seconds=begin + 0.3)
        sound = add_room(render_sound(motion, rate_hz=RATE), ROOM, rate_hz=RATE)
        rest = silence(0.4, rate=RATE)
        whole = join([rest, sound, rest], rate=RATE).signal
        return add_noise(whole, rate=RATE, snr_db=self.snr_db, seed=self.seed)

    def _twin(self, bows: Sequence[Bow]) -> Signal:
        """Single bows with rests between, on the small string with its body, room and microphone."""
        known = self.string_data
        parts = [silence(0.4, rate=RATE)]
        for one in bows:
            count = round(one.seconds * RATE) * 4
            t = np.arange(count) / (4 * RATE)
            ramp = np.minimum(1, t / 0.06) * np.minimum(1, (one.seconds - t).clip(0) / 0.06)
            run = bow(
                known.open_frequency_hz, count / (4 * RATE), rate=RATE,
                speed=one.speed_cm_s / 100 * ramp + 1e-4, weight=one.weight_n,
                beta=one.distance_mm / 1000 / known.sounding_length_m, impedance=known.impedance_kg_s,
                seed=int(self.rng.integers(1 << 20)),
            )  # fmt: skip
            parts += [fade(run.force, rate=RATE), silence(0.35, rate=RATE)]
        force = join(parts, rate=RATE).signal
        kind, seed = self.instrument, self.seed
        direct = body(force, rate=RATE, kind=kind, seed=seed)
        other = body(force, rate=RATE, kind=kind, seed=seed, direction=1)
        heard = room(direct, rate=RATE, seconds=0.4, other=other, seed=seed + 1)
        heard = microphone(heard, rate=RATE, seed=seed + 2)
        return add_noise(heard, rate=RATE, snr_db=self.snr_db, seed=seed + 3)


#: What a later take changes, and what should be named: speed, weight (times the reference's), points moved.
CHANGES: dict[str, tuple[float, float, float, tuple[str, str] | None]] = {
    "the same": (1.0, 1.0, 0.0, None),
    "double weight": (1.0, 2.0, 0.0, ("weight", "more")),
    "half weight": (1.0, 0.5, 0.0, ("weight", "less")),
    "half speed": (0.5, 1.0, 0.0, ("speed", "less")),
    "double speed": (2.0, 1.0, 0.0, ("speed", "more")),
    "one point nearer": (1.0, 1.0, -1.0, ("distance", "nearer")),
    "one point farther": (1.0, 1.0, 1.0, ("distance", "farther")),
}
