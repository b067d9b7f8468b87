"""Make the three takes of the demonstration from the excerpts in tests/recordings and the simulated bow.

    python tools/make_demo_takes.py

Two takes are real recordings set one after the other, one is synthetic and says so in its name. Written as a
phone would store them (AAC in m4a) to src/colophony/app/demo; the README there names sources and licence.
"""

from __future__ import annotations

import sys
from pathlib import Path

import av
import numpy as np
import soundfile
from numpy.typing import NDArray

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))

from signals import add_noise, join, normalise, recorded, silence  # noqa: E402
from signals.stickslip import Run, bow  # noqa: E402

RATE = 44_100
BIT_RATE = 96_000
Signal = NDArray[np.float64]


def excerpt(name: str) -> Signal:
    """Return an excerpt's samples."""
    signal, rate = soundfile.read(ROOT / "tests" / "recordings" / f"{name}.flac")
    assert rate == RATE
    return np.asarray(signal)


def long_bows() -> Signal:
    """Violin, real: G3 over four bows."""
    return join([silence(0.6, rate=RATE), excerpt("violin-g3"), silence(0.6, rate=RATE)], rate=RATE).signal


def four_strings() -> Signal:
    """Cello, real: C2, G2, D3, A3, one bow each, with a short rest between."""
    parts = [silence(0.6, rate=RATE)]
    for note in ("c2", "g2", "d3", "a3"):
        parts += [excerpt(f"cello-{note}"), silence(0.5, rate=RATE)]
    return join(parts, rate=RATE).signal


def pressed_middle() -> tuple[Signal, Run]:
    """Violin, synthetic: three bows on D4; in the second the weight rises past F_max and comes back."""
    seconds = 10.5
    t = np.linspace(0, seconds, round(seconds * 200))
    bows = ((0.6, 3.4), (3.4, 7.2), (7.2, 9.8))
    speed, weight = np.zeros_like(t), np.full_like(t, 0.05)
    for number, (start, end) in enumerate(bows):
        inside = (t >= start) & (t < end)
        edge = np.minimum(t[inside] - start, end - t[inside])
        speed[inside] = (0.2 if number % 2 == 0 else -0.2) * np.clip(edge / 0.06, 0, 1)
        weight[inside] = 0.6
    weight += 5.0 * np.exp(-(((t - 5.3) / 0.62) ** 6))
    weight[t > 9.8] = 0.0
    run = bow(293.66, seconds, rate=RATE, speed=speed, weight=weight, impedance=0.25, beta=0.1, seed=3)
    return recorded(run.force, rate=RATE, kind="violin", room_s=0.35, snr_db=55, seed=8), run


def write_m4a(path: Path, signal: Signal) -> None:
    """Write mono AAC."""
    samples = signal.astype(np.float32)
    with av.open(str(path), "w", format="mp4") as out:
        stream = out.add_stream("aac", rate=RATE, layout="mono")
        stream.bit_rate = BIT_RATE
        for at in range(0, len(samples), 1024):
            piece = np.zeros((1, 1024), dtype=np.float32)
            piece[0, : len(samples[at : at + 1024])] = samples[at : at + 1024]
            frame = av.AudioFrame.from_ndarray(piece, format="fltp", layout="mono")
            frame.sample_rate, frame.pts = RATE, at
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))


def main() -> None:
    """Write the takes and print what the simulated bow's string did, for the README."""
    target = ROOT / "src" / "colophony" / "app" / "demo"
    target.mkdir(exist_ok=True)
    pressed, run = pressed_middle()
    takes = {
        "violin-long-bows.m4a": long_bows(),
        "cello-four-strings.m4a": four_strings(),
        "synthetic-violin-pressed-bow.m4a": pressed,
    }
    for name, signal in takes.items():
        # A room is never digital silence.
        quiet = add_noise(normalise(signal, peak=0.6), rate=RATE, snr_db=58, kind="pink", seed=1)
        write_m4a(target / name, quiet)
        print(f"{name}: {len(signal) / RATE:.1f} s, {(target / name).stat().st_size // 1000} kB")
    for span in run.spans:
        print(f"  {span.start_s:5.2f} to {span.end_s:5.2f} s {span.state}")


if __name__ == "__main__":
    main()
