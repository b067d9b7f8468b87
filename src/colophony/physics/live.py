"""A string played as it happens: sound in blocks, each from the bow as it is now.

`Voice` holds a string under the bow and continues it block by block. The caller is the clock: it asks for
as many samples as it needs, and says with each request where the bow is.
"""

from __future__ import annotations

from collections import deque
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from colophony.errors import InputError
from colophony.language import _, figures
from colophony.physics.bodies import radiated_response
from colophony.physics.gestures import Curve, Stroke
from colophony.physics.instruments import Instrument, find_instrument
from colophony.physics.kernel.state import Played
from colophony.physics.motion import Motion
from colophony.physics.player import Model, Player
from colophony.physics.resampling import Resampler
from colophony.physics.simulation import cannot_be_played, motion_of
from colophony.physics.strings import BowedString

Samples = NDArray[np.float32]
#: Speed m/s, weight N, contact distance m, tilt degrees.
_Bow: TypeAlias = tuple[float, float, float, float]

#: Level of a good full tone (20 cm/s at a tenth of the string), rms over full scale: -20 dB.
_TONE_LEVEL = 0.1
_TONE_SPEED_M_S = 0.2
_TONE_BETA = 0.1
#: Above this the output bends over towards 1, so that no gesture is louder than full scale.
_BEND = 0.5
#: Periods kept for `Voice.recent`.
_KEPT_PERIODS = 40
_LONGEST_BLOCK = 48_000


class Voice:
    """One string, sounding. Not for two threads at once."""

    def __init__(
        self,
        instrument: Instrument | str,
        string: BowedString | str,
        *,
        frequency_hz: float | None = None,
        model: Model | None = None,
        rate_hz: float = 48_000.0,
    ) -> None:
        """Hold a string at rest with the bow off it.

        Parameters
        ----------
        instrument, string : as `simulation.simulate`
        frequency_hz : the stopped note; the open string where it is left out
        rate_hz : of the sound that `play` returns, 8 000 to 192 000
        """
        if not 8_000 <= rate_hz <= 192_000:
            raise InputError(
                _("{rate} samples a second are out of range: choose 8000 to 192000").format(
                    rate=figures(f"{rate_hz:g}")
                )
            )
        self._model, self._rate_hz = model or Model(), rate_hz
        self._line = self._new_line(instrument, string, frequency_hz)

    def play(
        self, count: int, *, speed_m_s: float, weight_n: float, distance_m: float, tilt_deg: float = 0.0
    ) -> Samples:
        """Return the next ``count`` samples, with the bow gliding to these values while they sound.

        Parameters
        ----------
        count : 1 to 48 000
        speed_m_s, weight_n, distance_m, tilt_deg : as `gestures.Stroke`; weight 0 lifts the bow

        Returns [count], between -1 and 1. Raises `InputError` for what is out of range; nothing is played.
        """
        if not 1 <= count <= _LONGEST_BLOCK:
            raise InputError(
                _("{count} samples at once are out of range: ask for 1 to {most}").format(
                    count=count, most=_LONGEST_BLOCK
                )
            )
        aim = (float(speed_m_s), float(weight_n), float(distance_m), float(tilt_deg))
        Stroke(*aim)  # refuses before anything has moved
        sound = self._line.pull(count, aim)
        loud = np.abs(sound)
        if loud.max() <= _BEND:
            return sound.astype(np.float32)
        bent = _BEND + (1 - _BEND) * np.tanh((loud - _BEND) / (1 - _BEND))
        return np.where(loud <= _BEND, sound, np.copysign(bent, sound)).astype(np.float32)

    def recent(self, periods: float = 20.0) -> Motion:
        """Return what the string did in the last periods of its note, at most 40; fewer at the start."""
        return self._line.recent(min(periods, _KEPT_PERIODS))

    def _new_line(
        self, instrument: Instrument | str, string: BowedString | str, frequency_hz: float | None
    ) -> _Line:
        instrument = find_instrument(instrument) if isinstance(instrument, str) else instrument
        string = instrument.string(string) if isinstance(string, str) else string
        frequency_hz = frequency_hz or string.open_frequency_hz
        if not 0.94 * string.open_frequency_hz <= frequency_hz <= 8 * string.open_frequency_hz:
            raise cannot_be_played(frequency_hz, string)
        player = Player(instrument, string, frequency_hz=frequency_hz, model=self._model)
        return _Line(player, self._rate_hz, _gain(instrument, string, frequency_hz, body=self._model.body))


class _Line:
    """A player and the way of its sound to the rate wanted."""

    def __init__(self, player: Player, rate_hz: float, gain: float) -> None:
        self.player, self.gain = player, gain
        self.bow: _Bow | None = None
        self._sound = Resampler(player.design.rate_hz / rate_hz)
        self._kept = deque[tuple[Played, _Bow, _Bow]]()  # with the bow before and after
        self._kept_steps = 0

    def pull(self, count: int, aim: _Bow) -> NDArray[np.float64]:
        """Play on with the bow gliding to ``aim`` and return ``count`` samples."""
        missing = self._sound.missing(count)
        if missing > 0:
            self._sound.give(self._advance(missing, aim))
        return self._sound.take(count) * self.gain

    def _advance(self, steps: int, aim: _Bow) -> NDArray[np.float64]:
        player = self.player
        was = self.bow or (aim[0], 0.0, *aim[2:])  # the first touch begins without weight
        begin, end = player.time_s, player.time_s + steps / player.design.rate_hz
        courses = [a if a == b else Curve((begin, end), (a, b)) for a, b in zip(was, aim, strict=True)]
        played = player.play([Stroke(*courses)], steps=steps)
        self.bow = aim
        self._kept.append((played, was, aim))
        self._kept_steps += steps
        most = _KEPT_PERIODS * player.design.samples_per_period
        while self._kept_steps - len(self._kept[0][0].force) >= most:
            self._kept_steps -= len(self._kept.popleft()[0].force)
        return np.asarray(played.sound[:, 0] if player.model.body else played.force[:, 0])

    def recent(self, periods: float) -> Motion:
        count = round(periods * self.player.design.samples_per_period)
        played = [block for block, _, _ in self._kept]

        def all_of(blocks: list[NDArray[np.float64]], *shape: int) -> NDArray[np.float64]:
            return np.concatenate([np.zeros((0, *shape)), *blocks])[-count:]

        def glide(variable: int) -> NDArray[np.float64]:
            return all_of(
                [
                    was[variable] + (aim[variable] - was[variable]) * (np.arange(steps) + 1) / steps
                    for block, was, aim in self._kept
                    for steps in [len(block.force)]
                ]
            )

        return motion_of(
            self.player,
            velocity=all_of([block.velocity[:, 0] for block in played]),
            force=all_of([block.force[:, 0] for block in played]),
            sound=all_of([block.sound[:, 0] for block in played]),
            sliding=all_of([block.sliding[:, :, 0] for block in played], self.player.model.points),
            speed=glide(0),
            weight=glide(1),
            frequency_hz=self.player.frequency_hz,
        )


def _gain(instrument: Instrument, string: BowedString, frequency_hz: float, *, body: bool) -> float:
    """Return the factor that brings a good full tone, an ideal sawtooth at the bridge, to `_TONE_LEVEL`."""
    partials = np.arange(1, 40)
    force = 2 * string.impedance_kg_s * _TONE_SPEED_M_S / (np.pi * partials * _TONE_BETA)
    response = radiated_response(instrument.body, partials * frequency_hz) if body else 1.0
    return float(_TONE_LEVEL / np.sqrt(np.sum(np.abs(force * response) ** 2) / 2))
