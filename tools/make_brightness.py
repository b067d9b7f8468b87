"""Compute how brightness answers to speed, place and weight on every open string (teaching/brightness.py).

    python tools/make_brightness.py

Prints the table of the module. Each row is fitted (least squares) to strokes of the program's string on three
instruments of the kind (bodies that differ in their higher modes): at sounding points 2, 3 and 4, speeds from
half to double and weights from half to double of a stroke with 0.28 of the greatest weight measured.
"""

from __future__ import annotations

import math
from itertools import product

import numpy as np
from numpy.typing import NDArray

from colophony.listening.warp import BAND_HZ, HIGH_NOTE_BAND_HZ
from colophony.physics.gestures import steady
from colophony.physics.instruments import Instrument, find_instrument
from colophony.physics.limits.schoonderwaldt_2008 import measured_weight_max_n
from colophony.physics.regimes import read_motion
from colophony.physics.simulation import simulate
from colophony.physics.sound import render_sound
from colophony.physics.strings import BowedString
from colophony.teaching.own_sound import brightness_difference
from colophony.teaching.sounding_points import point_to_m

RATE_HZ = 44_100
SPEED_M_S = 0.16
SHARE_OF_GREATEST = 0.28
POINTS = (2.0, 3.0, 4.0)
BODIES = (1, 2, 3)
#: Octaves of speed and weight around the reference; place is one of the other points.
CHANGES = (-1.0, -0.5, 0.5, 1.0)


def main() -> None:
    """Print one row a string."""
    for name in ("violin", "viola", "cello"):
        for string in find_instrument(name).strings:
            rows = np.array(
                [row for seed in BODIES for row in _rows(find_instrument(name, seed=seed), string)]
            )
            asked, answer = rows[:, :3], rows[:, 3]
            fitted = np.linalg.lstsq(asked, answer, rcond=None)[0]
            error = float(np.sqrt(np.mean((answer - asked @ fitted) ** 2)))
            values = ", ".join(f"{value:.1f}" for value in (*fitted, error))
            print(f'        ("{name}", "{string.name}"): Brightness({values}),  # {len(rows)} strokes')


def _rows(instrument: Instrument, string: BowedString) -> list[tuple[float, float, float, float]]:
    rows = []
    for point in POINTS:
        weight_n = SHARE_OF_GREATEST * measured_weight_max_n(
            Z0=string.impedance_kg_s, vb=SPEED_M_S, beta=point_to_m(point, string) / string.sounding_length_m
        )
        home = _harmonics_db(instrument, string, 0.0, 0.0, point, weight_n)
        changes = [(x, 0.0, point) for x in CHANGES] + [(0.0, z, point) for z in CHANGES]
        changes += [(0.0, 0.0, other) for other in POINTS if abs(other - point) == 1.0]
        changes += [(x, z, point) for x, z in product((-0.5, 0.5), repeat=2)]
        for x, z, at in changes:
            there = _harmonics_db(instrument, string, x, z, at, weight_n)
            change = None if home is None or there is None else brightness_difference(there, home)
            if change is not None:
                rows.append((x, math.log2((at - 0.5) / (point - 0.5)), z, change))
    return rows


def _harmonics_db(
    instrument: Instrument, string: BowedString, x: float, z: float, point: float, weight_n: float
) -> NDArray[np.float64] | None:
    """Return the harmonics as listening gives them; None where the string does not slip once a period."""
    bow = steady(SPEED_M_S * 2.0**x, weight_n * 2.0**z, point_to_m(point, string))
    motion = simulate(instrument, string, bow, seconds=1.6)
    if read_motion(motion).state != "helmholtz":
        return None
    sound = render_sound(motion, rate_hz=RATE_HZ)[round(0.7 * RATE_HZ) : round(1.5 * RATE_HZ)]
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound))))
    open_hz, bin_hz = string.open_frequency_hz, RATE_HZ / len(sound)
    band_hz = HIGH_NOTE_BAND_HZ if open_hz > 1000.0 else BAND_HZ
    levels = []
    for number in range(1, min(20, int(band_hz / open_hz)) + 1):
        low, high = (round(number * open_hz * share / bin_hz) for share in (0.98, 1.02))
        levels.append(20.0 * math.log10(float(spectrum[low : high + 1].max()) + 1e-12))
    return np.array(levels) - 10.0 * math.log10(sum(10.0 ** (level / 10.0) for level in levels))


if __name__ == "__main__":
    main()
