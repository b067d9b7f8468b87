"""The sound of a simulated stroke, as a loudspeaker takes it: another rate, a room, a safe level.

A motion is simulated at a rate that follows its note; `render_sound` brings what the body radiates to the
rate of a file, with soft ends and, on request, in a room. What comes out is still in the motion's arbitrary
unit, so that strokes keep their loudness against each other; `common_gain` finds the one factor that
brings one or several of them to a safe level.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colophony.errors import InputError
from colophony.language import _, figures
from colophony.physics.motion import Motion

Sound = NDArray[np.float64]

#: Highest level of a sound as it leaves `common_gain`, dB below full scale: 12 dB of room for whatever a
#: player has turned up. Chosen, no source.
SAFE_PEAK_DB = -12.0
#: Where the resampling filter begins to close and where it is closed, as shares of the lower rate: at
#: 48 kHz from 20.2 kHz, above what adults hear, to 24 kHz.
_PASS, _STOP = 0.42, 0.5
#: Soft ends in s: short enough to leave a start as it is, long enough not to click.
_FADE_IN_S, _FADE_OUT_S = 0.002, 0.04
#: A gain is not sought for less than this: rounding noise stays silence.
_SILENCE = 1e-12
_LENGTHS_TRIED = 16_384
#: Nothing below this, in Hz, is sound: the bow's pull on the string bends the top for as long as it lasts.
_LOWEST_HZ = 20.0
_LOW_CUT_RINGS = 2.0  # response times of the low cut until it is down 100 dB
_RATES_HZ = (8_000.0, 384_000.0)
_REVERBERATION_S = (0.1, 10.0)
_ROOM_LEVEL_DB = (-40.0, 20.0)


def resample(signal: NDArray[np.floating], *, from_hz: float, to_hz: float, above_hz: float = 0.0) -> Sound:
    """Return a signal at another rate, of the same duration, band-limited and without delay.

    The spectrum is cut or filled at the lower of the two Nyquist frequencies (raised cosine from 0.42 to
    0.5 of the lower rate). Both lengths are chosen, behind silence, so that their ratio is the ratio of the
    rates to a few parts in a thousand million: the rates may be any real numbers.

    Parameters
    ----------
    signal : [n]
    from_hz, to_hz : rate of the signal and the rate wanted, Hz, above 0
    above_hz : what swings more slowly is taken out, by half at this frequency, twice as much an octave
        below; nothing at 0

    Returns [ceil(n to_hz / from_hz)], new memory.
    """
    from scipy import fft

    count = len(signal)
    wanted = math.ceil(count * to_hz / from_hz)
    if count == 0:
        return np.zeros(0)
    # Silence behind, for the filter to ring out: its response is down 100 dB after some 200 samples.
    room_s = 512 / min(from_hz, to_hz) + (_LOW_CUT_RINGS / above_hz if above_hz > 0.0 else 0.0)
    n, m = _lengths(count / from_hz + room_s, from_hz, to_hz)
    spectrum = fft.rfft(np.asarray(signal, dtype=np.float64), n)
    kept = min(len(spectrum), m // 2 + 1)
    frequency = np.arange(kept) * (from_hz / n)
    low = min(from_hz, to_hz)
    closing = ((frequency / low - _PASS) / (_STOP - _PASS)).clip(0.0, 1.0)
    narrowed = np.zeros(m // 2 + 1, dtype=np.complex128)
    narrowed[:kept] = spectrum[:kept] * (0.5 + 0.5 * np.cos(np.pi * closing))
    if above_hz > 0.0:
        narrowed[:kept] *= frequency**2 / (frequency**2 + above_hz**2)
    result: Sound = fft.irfft(narrowed, m)[:wanted] * (m / n)
    return result


def _lengths(seconds: float, from_hz: float, to_hz: float) -> tuple[int, int]:
    """Return lengths before and after in the ratio of the rates, neither shorter than so many seconds.

    Of many later lengths the one is taken whose partner is nearest a whole number.
    """
    m = math.ceil(seconds * to_hz) + np.arange(_LENGTHS_TRIED)
    n = m * (from_hz / to_hz)
    best = int(np.abs(n - np.rint(n)).argmin())
    return round(n[best]), int(m[best])


#: Reverberation time by octave band, as a share of that at 500 Hz and 1 kHz: air and furniture swallow the
#: highest sound first. Common practice, no source.
_BANDS: tuple[tuple[float, float], ...] = (
    (125.0, 1.1),
    (250.0, 1.05),
    (500.0, 1.0),
    (1000.0, 1.0),
    (2000.0, 0.95),
    (4000.0, 0.8),
    (8000.0, 0.6),
)


@dataclass(frozen=True, slots=True)
class Room:
    """A room without walls of its own: diffuse sound that dies away evenly, as behind any early echoes.

    The late response of a room is noise under an exponential (M. R. Schroeder, "Natural sounding artificial
    reverberation", J. Audio Eng. Soc. 10(3), 1962; J. A. Moorer, "About this reverberation business",
    Computer Music J. 3(2), 1979). Each octave band of the noise has a decay of its own.

    Raises `InputError` when a value is out of range.
    """

    reverberation_s: float  #: time for a decay of 60 dB at 500 Hz and 1 kHz, ISO 3382-1; 0.1 to 10 s
    level_db: float = -6.0  #: energy of the room's sound against the direct sound; -40 to 20 dB
    delay_s: float = 0.006  #: until the room answers: 2 m of detour
    seed: int = 1

    def __post_init__(self) -> None:
        for value, limits, message in (
            (
                self.reverberation_s,
                _REVERBERATION_S,
                _("a room's reverberation time of {value} s is out of range: choose {least} to {most} s"),
            ),
            (
                self.level_db,
                _ROOM_LEVEL_DB,
                _("a room's level of {value} dB is out of range: choose {least} to {most} dB"),
            ),
            (
                self.delay_s,
                (0.0, 0.1),
                _("a room's delay of {value} s is out of range: choose {least} to {most} s"),
            ),
        ):
            if not limits[0] <= value <= limits[1]:
                given, least, most = (figures(f"{number:g}") for number in (value, *limits))
                raise InputError(message.format(value=given, least=least, most=most))

    def response(self, *, rate_hz: float) -> Sound:
        """Return the room's answer to a unit impulse, the direct sound left out: [n] at a rate in Hz."""
        from scipy import fft

        longest = self.reverberation_s * max(share for _, share in _BANDS)
        count = math.ceil(longest * rate_hz) + 1
        noise = fft.rfft(np.random.default_rng(self.seed).standard_normal(count))
        octave = np.log2(np.maximum(fft.rfftfreq(count, 1.0 / rate_hz), 1.0) / _BANDS[0][0])
        times = np.arange(count) / rate_hz
        answer = np.zeros(count)
        for k, (_band_hz, share) in enumerate(_BANDS):
            # Bands overlap so that their powers add to one; the outermost reach to the ends.
            below = octave <= k if k == 0 else np.zeros(len(octave), dtype=bool)
            above = octave >= k if k == len(_BANDS) - 1 else np.zeros(len(octave), dtype=bool)
            apart = np.where(below | above, 0.0, np.abs(octave - k)).clip(0.0, 1.0)
            band = fft.irfft(noise * np.cos(0.5 * np.pi * apart), count)
            answer += band * 10.0 ** (-3.0 * times / (self.reverberation_s * share))
        answer *= 10.0 ** (self.level_db / 20.0) / np.sqrt(np.sum(answer**2))
        return np.concatenate([np.zeros(round(self.delay_s * rate_hz)), answer])


def add_room(sound: NDArray[np.floating], room: Room, *, rate_hz: float) -> Sound:
    """Return a sound [n] with the room's answer added; longer than the sound by the time the room rings."""
    from scipy.signal import fftconvolve

    answer = room.response(rate_hz=rate_hz)
    result: Sound = fftconvolve(np.asarray(sound, dtype=np.float64), answer)
    result[: len(sound)] += sound
    return result


def render_sound(motion: Motion, *, rate_hz: float, room: Room | None = None) -> Sound:
    """Return what the body radiates in a motion, at a rate, with soft ends, in a room or without.

    Where there is no body (a rigid bridge radiates nothing) it is the force on the bridge instead, as a
    pickup under the string would give it.

    Parameters
    ----------
    motion : its ``sound`` at its own rate, or its ``bridge_force_n``
    rate_hz : rate wanted, 8000 to 384000 Hz
    room : the room it is heard in; dry when None

    Returns [n] in the motion's unit, new memory: strokes of one instrument compare in loudness. Raises
    `InputError` for another rate, and when the motion's sound is not finite.
    """
    if not _RATES_HZ[0] <= rate_hz <= _RATES_HZ[1]:
        given, least, most = (figures(f"{rate:g}") for rate in (rate_hz, *_RATES_HZ))
        raise InputError(
            _("a sample rate of {rate} Hz is out of range: choose {least} to {most} Hz").format(
                rate=given, least=least, most=most
            )
        )
    source = motion.sound if np.any(motion.sound) else motion.bridge_force_n
    if not np.isfinite(source).all():
        raise InputError(_("this stroke could not be computed: its sound grew beyond all numbers; change it"))
    sound = resample(source, from_hz=motion.rate_hz, to_hz=rate_hz, above_hz=_LOWEST_HZ)
    _soften(sound[: round(_FADE_IN_S * rate_hz)])
    _soften(sound[::-1][: round(_FADE_OUT_S * rate_hz)])
    return sound if room is None else add_room(sound, room, rate_hz=rate_hz)


def _soften(edge: Sound) -> None:
    """Let a sound rise from silence over ``edge``, a view of its end, in place."""
    edge *= 0.5 - 0.5 * np.cos(np.pi * np.arange(len(edge)) / max(len(edge), 1))


def common_gain(sounds: Sequence[NDArray[np.floating]], *, peak_db: float = SAFE_PEAK_DB) -> float:
    """Return the factor that brings the loudest of some sounds to a peak, in dB below full scale.

    One factor for all, so that their loudness still compares. 1.0 where there is nothing but silence.
    Raises `InputError` for a peak above 0 dB.
    """
    if not peak_db <= 0.0:
        raise InputError(
            _("a peak of {peak} dB is out of range: choose 0 dB (full scale) or below").format(
                peak=figures(f"{peak_db:g}")
            )
        )
    peak = max((float(np.abs(sound).max()) for sound in sounds if len(sound)), default=0.0)
    return 10.0 ** (peak_db / 20.0) / peak if peak > _SILENCE else 1.0
