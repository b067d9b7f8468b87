"""Hear two packages of real bowed notes, as played and through phones, rooms and noise; report every miss.

    python tools/check_recordings.py VIOLIN_FOLDER CELLO_FOLDER --cache FILE.npz [--only G3] [--as-played]

Run by a developer, never by the tests. The folders hold the WAV files of the npm packages named in
tests/recordings/README.md. All notes are played with good tone, so a fault or an advice is a miss; so is
another note, a pitch more than 5 cents outside what two independent trackers say, a change of bow missed or
heard where none was. Degraded, "unsure" is allowed and a confident wrong word is not; where nobody has marked
the changes of bow, those heard as played stand for the truth of the degraded versions. Exits 1 on a miss.

The trackers need minutes: --cache keeps what they said. The cello's As4.wav holds a B4.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))

from colophony.listening.listen import listen  # noqa: E402
from colophony.listening.take import Take  # noqa: E402
from colophony.units import hz_to_cents, note_to_hz  # noqa: E402
from independent import centre_hz, harvest_track, median_hz, pyin_track, sustained  # noqa: E402
from recording_checks import (  # noqa: E402
    CHANGE_IN_ROOM_S,
    CHANGE_S,
    PITCH_CENTS,
    Pitches,
    accused,
    advised,
    long_strokes,
    turns_s,
    unclean,
    wrong_changes,
    wrong_notes,
)
from signals import add_noise, normalise, room  # noqa: E402
from signals.phone import degrade  # noqa: E402

Signal = NDArray[np.float64]
MISLABELLED = {("cello", "As4"): "B4"}
#: Where the level's dip and the turn of the harmonics' phases agree (see tools/cut_recordings.py).
CHANGES_S = {("violin", "G3"): (3.68, 7.33, 11.11)}  # the other violin files: not annotated
#: Each cello file holds a single bow.
ONE_BOW = ("cello",)

DEGRADED: dict[str, Callable[[Signal, int], tuple[Signal, int]]] = {
    "aac 64k": lambda x, rate: degrade(x, rate, "aac-64k"),
    "opus 24k": lambda x, rate: degrade(x, rate, "opus-24k"),
    "16 kHz": lambda x, rate: degrade(x, rate, "16khz"),
    "room 1 s": lambda x, rate: (normalise(room(x, rate=rate, seconds=1.0, direct_db=3, seed=5)), rate),
    "noise 20 dB": lambda x, rate: (normalise(add_noise(x, rate=rate, snr_db=20, kind="pink", seed=6)), rate),
}


class Trackers:
    """What pYIN and Harvest say of each file, kept in a file between runs."""

    def __init__(self, cache: Path) -> None:
        self.cache = cache
        self.tracks = dict(np.load(cache)) if cache.exists() else {}

    def hear(self, key: str, signal: Signal, rate: int, near_hz: float) -> tuple[Signal, Signal]:
        """Return both tracks, 10 ms a row."""
        if f"{key} harvest" not in self.tracks:
            harvest = harvest_track(signal, rate)
            # Harvest fails now and then above 1.5 kHz; pYIN needs a place to look.
            heard = centre_hz(harvest)
            near_hz = heard if abs(hz_to_cents(heard, near_hz)) < 200 else near_hz
            self.tracks[f"{key} harvest"] = harvest
            self.tracks[f"{key} pyin"] = pyin_track(signal, rate, near_hz=near_hz)
            np.savez(self.cache, **self.tracks)  # type: ignore[arg-type]
        return self.tracks[f"{key} pyin"], self.tracks[f"{key} harvest"]


def hear(signal: Signal, rate: int, instrument: str) -> Take:
    """Listen to samples through a file, as a user's take comes."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "take.wav"
        soundfile.write(path, np.clip(signal, -1, 1), rate, subtype="PCM_16")
        return listen(path, instrument=instrument)  # type: ignore[arg-type]


def pitch_misses(take: Take, pyin: Signal, harvest: Signal) -> tuple[list[str], list[float]]:
    """Compare each long stroke with the trackers over the same seconds; return misses and all distances."""
    misses, distances = [], []
    for stroke in long_strokes(take):
        if stroke.frequency_hz is None:
            continue
        span = {"start_s": stroke.start_s + 0.1, "end_s": stroke.end_s - 0.1}
        # Where a note glides, its mean and its median differ, and neither is the only right one.
        pitches = Pitches(
            tuple(of(track, **span) for track in (pyin, harvest) for of in (centre_hz, median_hz))
        )
        if not np.isfinite(sum(pitches.hz)):
            continue
        off = pitches.off_cents(stroke.frequency_hz)
        distances.append(off)
        if abs(off) > PITCH_CENTS:
            misses.append(f"pitch {off:+.1f} cents off ({stroke.start_s:.1f} s)")
    return misses, distances


def check(path: Path, instrument: str, trackers: Trackers, as_played_only: bool) -> int:
    """Check one file in every condition; print a row each; return the number of misses."""
    signal, rate = soundfile.read(path)
    label = path.stem.split()[0]
    note = MISLABELLED.get((instrument, label), label.replace("s", "#"))
    changes: Sequence[float] | None = CHANGES_S.get(
        (instrument, label), () if instrument in ONE_BOW else None
    )
    pyin, harvest = trackers.hear(f"{instrument}/{path.stem}", signal, rate, note_to_hz(note))
    first_s, last_s = sustained(signal, rate)
    total = 0
    conditions = {"as played": None, **({} if as_played_only else DEGRADED)}
    for name, change in conditions.items():
        began = time.perf_counter()
        sound, new_rate = change(signal, rate) if change else (signal, rate)
        take = hear(sound, new_rate, instrument)
        took = time.perf_counter() - began
        misses = wrong_notes(take, note)
        off, distances = pitch_misses(take, pyin, harvest)
        misses += off
        if changes is None:
            changes = turns_s(take)
        within = CHANGE_IN_ROOM_S if name.startswith("room") else CHANGE_S
        misses += wrong_changes(take, changes, all_of_them=change is None, within_s=within)
        if change is None:
            misses += unclean(take, first_s, last_s, changes or ())
        misses += accused(take, first_s, last_s) + advised(take)
        turns = " ".join(f"{t:.2f}" for t in turns_s(take))
        worst = max(distances, key=abs, default=float("nan"))
        print(
            f"{instrument:6} {path.stem:6} {name:11} {worst:+5.1f} cents  {took:4.1f} s  "
            f"turns [{turns}]  {'; '.join(misses) or 'ok'}",
            flush=True,
        )
        total += len(misses)
    return total


def main() -> int:
    """Check every file of both folders."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("violin", type=Path)
    parser.add_argument("cello", type=Path)
    parser.add_argument(
        "--cache", type=Path, required=True, help="file that keeps the trackers' pitches (.npz)"
    )
    parser.add_argument("--only", action="append", default=[], help="check these files only (G3)")
    parser.add_argument("--as-played", action="store_true", help="leave the degraded versions out")
    chosen = parser.parse_args()
    trackers = Trackers(chosen.cache)
    total = files = 0
    for instrument, folder in (("violin", chosen.violin), ("cello", chosen.cello)):
        for path in sorted(folder.glob("*.wav")):
            if not chosen.only or path.stem in chosen.only:
                total += check(path, instrument, trackers, chosen.as_played)
                files += 1
    print(f"{files} files, {total} misses")
    return int(total > 0)


if __name__ == "__main__":
    sys.exit(main())
