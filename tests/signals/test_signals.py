"""The signals are what they say: checked by formula, by counting, and by a tracker of another make."""

from __future__ import annotations

import numpy as np
import pytest

from independent import centre_hz, harvest_track
from signals import bow_changes, helmholtz, low_anomalous, multiple_slip, recorded
from signals.phone import DEGRADATIONS, degrade, resampled
from signals.stickslip import bow

RATE = 44_100
#: mu_s - mu_d of the friction curve that `bow` takes by default.
FRICTION_GAP = 0.45


def test_the_sawtooth_has_the_rms_and_the_harmonics_of_helmholtz_motion() -> None:
    """rms Z0 vb / (beta sqrt 3); a_n = 2 Z0 vb / (n pi beta) (Euphonics 9.4.2)."""
    force = helmholtz(100.0, 1.0, rate=RATE, speed=0.1, beta=0.1, impedance=0.25, jitter=0.0, rounding_hz=0.0)
    assert force.std() == pytest.approx(0.25 * 0.1 / 0.1 / np.sqrt(3), rel=0.005)
    harmonics = 2 * np.abs(np.fft.rfft(force))[100:1001:100] / RATE
    assert harmonics == pytest.approx(2 * 0.25 * 0.1 / (np.arange(1, 11) * np.pi * 0.1), rel=0.01)


def test_a_change_of_bow_turns_every_harmonic_by_pi() -> None:
    """The biphase of harmonics 1, 1 and 2 flips by pi: a time shift cannot do that."""
    force = bow_changes(200.0, 2.0, rate=RATE, at_s=[1.0], jitter=0.0)

    def biphase(part: np.ndarray) -> float:
        spectrum = np.fft.rfft(part * np.hanning(len(part)))
        one, two = (spectrum[round(h * 200.0 * len(part) / RATE)] for h in (1, 2))
        return float(np.angle(one * one * np.conj(two)))

    turn = biphase(force[8820:35280]) - biphase(force[52920:79380])
    assert np.cos(turn) < -0.99


@pytest.mark.parametrize("hz", [98.0, 196.0, 440.0, 659.26])
def test_another_tracker_hears_the_pitch_that_was_asked_for(hz: float) -> None:
    """Harvest (pyworld), 2 cents; a low anomalous tone lies an octave and more than a third lower."""
    sound = recorded(helmholtz(hz, 1.5, rate=RATE), rate=RATE)
    assert abs(1200 * np.log2(centre_hz(harvest_track(sound, RATE)) / hz)) < 2.0
    low = recorded(low_anomalous(hz, 1.5, rate=RATE), rate=RATE)
    assert 1200 * np.log2(centre_hz(harvest_track(low, RATE)) / hz) == pytest.approx(
        -1200 * np.log2(1.9), abs=15
    )


def test_two_slips_a_period_move_energy_to_the_octave() -> None:
    """Energy near 2 f0, weak fundamental (R. Bader & R. Mores, arXiv:1804.05695)."""
    one, two = (
        np.abs(np.fft.rfft(force))[[200, 400]]
        for force in (
            helmholtz(200.0, 1.0, rate=RATE, jitter=0.0),
            multiple_slip(200.0, 1.0, rate=RATE, jitter=0.0, drift_hz=0.0, shares=(0.55, 0.45)),
        )
    )
    assert two[1] / two[0] > 2 * one[1] / one[0]


@pytest.mark.parametrize(("hz", "impedance"), [(196.0, 0.35), (440.0, 0.20), (659.26, 0.18)])
def test_the_simulated_string_obeys_the_limits_of_schelleng(hz: float, impedance: float) -> None:
    """J. C. Schelleng, JASA 53 (1973): a twentieth of F_max = 2 Z0 vb / (beta dmu) slips twice, F_max
    holds one slip a period, three times F_max is raucous. After the transient, at 0.2 m/s and beta 0.1.
    """
    highest = 2 * impedance * 0.2 / (0.1 * FRICTION_GAP)
    for share, state in ((0.05, "multiple-slip"), (1.0, "helmholtz"), (3.0, "raucous")):
        run = bow(hz, 1.5, rate=RATE, speed=[0.0, *[0.2] * 20], weight=share * highest, impedance=impedance)
        within = sum(s.end_s - max(s.start_s, 0.7) for s in run.spans if s.end_s > 0.7 and s.state == state)
        assert within > 0.6 * 0.8


def test_the_simulated_flyback_is_that_of_helmholtz_motion() -> None:
    """Bridge force falls by 2 Z0 vb / beta once a period (Euphonics 9.4.2), at a moderate weight, 15 %."""
    run = bow(440.0, 1.5, rate=RATE, speed=[0.0, *[0.2] * 20], weight=0.71, impedance=0.2)
    assert np.ptp(run.force[RATE:]) == pytest.approx(2 * 0.2 * 0.2 / 0.1, rel=0.15)
    late = run.slips_s[run.slips_s > 1.0]
    assert np.median(np.diff(late)) == pytest.approx(1 / 440.0, rel=0.003)


@pytest.mark.parametrize("kind", DEGRADATIONS)
def test_a_phone_neither_shifts_nor_rewrites_the_sound(kind: str) -> None:
    """Coded and decoded, the wave lies where it lay (cross-correlation), so that times can be compared."""
    sound = recorded(bow_changes(440.0, 2.0, rate=RATE, at_s=[1.0]), rate=RATE)
    back, rate = degrade(sound, RATE, kind)  # type: ignore[arg-type]
    again = resampled(back, rate, RATE)[: len(sound)]
    size = 2 * len(sound)
    match = np.fft.irfft(np.fft.rfft(sound, size) * np.conj(np.fft.rfft(again, size)))
    assert np.argmax(match) == 0
    assert match[0] > 0.98 * np.linalg.norm(sound) * np.linalg.norm(again)
