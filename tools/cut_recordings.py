"""Cut the excerpts in tests/recordings from the two unpacked packages and measure their pitch anew.

    python tools/cut_recordings.py VIOLIN_FOLDER CELLO_FOLDER

The folders hold the WAV files of the npm packages named in tests/recordings/README.md. Writes one FLAC file
an excerpt and references.csv. Pitches come from two trackers that this project did not write
(tests/independent.py). Times of changes of bow are read below as the level's lowest 20 ms near the place
where the harmonics' phases turn over; nobody marked them while playing.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import numpy as np
import soundfile

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "src")]

from independent import centre_hz, harvest_track, pyin_track, sustained  # noqa: E402

#: instrument, file in the package, note, first and last second, changes of bow near (s in that file)
EXCERPTS = (
    ("violin", "G3.wav", "G3", 0.0, 13.0, (3.65, 7.3, 11.1)),
    ("violin", "A4.wav", "A4", 0.0, 5.0, (3.15,)),
    ("violin", "C5.wav", "C5", 4.5, 10.0, (7.1,)),
    ("violin", "E5.wav", "E5", 4.0, 8.0, (6.2,)),
    ("violin", "C7.wav", "C7", 3.5, 6.0, ()),
    ("cello", "C2.wav", "C2", 0.0, 3.82, ()),
    ("cello", "G2.wav", "G2", 0.0, 3.83, ()),
    ("cello", "D3.wav", "D3", 0.0, 3.33, ()),
    ("cello", "A3.wav", "A3", 0.0, 2.98, ()),
    ("cello", "A4.wav", "A4", 0.0, 2.46, ()),
)


def lowest_near(signal: np.ndarray, rate: int, at_s: float, within_s: float = 0.12) -> float:
    """Return the time in s of the quietest 20 ms within ``within_s`` of ``at_s``."""
    block = round(0.02 * rate)
    start = round((at_s - within_s) * rate)
    rows = signal[start : start + round(2 * within_s * rate) // block * block].reshape(-1, block)
    return start / rate + (int(np.argmin((rows**2).mean(axis=1))) + 0.5) * block / rate


def main(violin: Path, cello: Path) -> None:
    """Write the excerpts and their references."""
    target = ROOT / "tests" / "recordings"
    rows = []
    for instrument, name, note, start_s, end_s, changes in EXCERPTS:
        signal, rate = soundfile.read((violin if instrument == "violin" else cello) / name)
        cut = signal[round(start_s * rate) : round(end_s * rate)]
        fade = np.linspace(0, 1, round(0.01 * rate))
        if start_s > 0:
            cut[: len(fade)] *= fade
        if end_s < len(signal) / rate - 0.05:
            cut[-len(fade) :] *= fade[::-1]
        file = f"{instrument}-{note.lower()}.flac"
        soundfile.write(target / file, cut, rate, subtype="PCM_16")
        first_s, last_s = sustained(cut, rate)
        harvest = centre_hz(harvest_track(cut, rate), start_s=first_s, end_s=last_s)
        pyin = centre_hz(pyin_track(cut, rate, near_hz=harvest), start_s=first_s, end_s=last_s)
        places = " ".join(f"{lowest_near(cut, rate, at - start_s):.2f}" for at in changes)
        rows.append((file, instrument, note, start_s, end_s, f"{pyin:.2f}", f"{harvest:.2f}", places))
        print(*rows[-1])
    with (target / "references.csv").open("w", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(
            ("file", "instrument", "note", "from_s", "to_s", "pyin_hz", "harvest_hz", "changes_s")
        )
        writer.writerows(rows)


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    main(Path(sys.argv[1]), Path(sys.argv[2]))
