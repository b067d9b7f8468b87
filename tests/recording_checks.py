"""What listening must get right on a recording of one good bowed note, as a list of misses in words.

Used by tests/listening/test_recordings.py on the excerpts and by tools/check_recordings.py on whole packages.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from colophony.listening.take import Stroke, Take, ToneState
from colophony.teaching.advice import judge
from colophony.units import hz_to_cents

GOOD = (ToneState.HELMHOLTZ, ToneState.STEADY)
#: A verdict below this is no verdict.
CONFIDENT = 0.5
#: Two trackers of different make differ by a cent or two; a fifth of a comma is not heard.
PITCH_CENTS = 5.0
CHANGE_S = 0.06
#: In a room of 1 s reverberation the old direction's sound falls by 12 dB in a fifth of it; until then it
#: can hide the new one. Arithmetic: 60 dB in 1 s.
CHANGE_IN_ROOM_S = CHANGE_S + 0.2
LEAST_CLEAN = 0.99
#: Strokes shorter than this are edges.
STROKE_S = 0.5


@dataclass(frozen=True)
class Pitches:
    """The centre of a stretch by independent trackers, Hz: one value or two (mean, median) each."""

    hz: tuple[float, ...]

    def off_cents(self, heard_hz: float) -> float:
        """Return how far outside the span of the trackers' values a pitch lies, in cents; 0 within it."""
        if heard_hz > max(self.hz):
            return hz_to_cents(heard_hz, max(self.hz))
        return min(0.0, hz_to_cents(heard_hz, min(self.hz)))


def long_strokes(take: Take, least_s: float = STROKE_S) -> list[Stroke]:
    """Return the strokes that are no mere edges."""
    return [s for s in take.strokes if s.end_s - s.start_s >= least_s]


def state_share(
    take: Take, start_s: float, end_s: float, states: Sequence[ToneState], confident: float = 0.0
) -> float:
    """Return the share of the time between two moments that the take gives to some states."""
    within = 0.0
    for span in (span for stroke in take.strokes for span in stroke.spans):
        if span.state in states and span.confidence >= confident:
            within += max(0.0, min(span.end_s, end_s) - max(span.start_s, start_s))
    return within / (end_s - start_s)


def wrong_notes(take: Take, note: str) -> list[str]:
    """Return a miss for each long stroke with another note's name, or when no stroke has the note."""
    heard = [s.note for s in long_strokes(take)]
    misses = [f"note {name} heard for {note}" for name in heard if name not in (note, None)]
    return misses or ([] if note in heard else [f"note {note} not heard"])


def wrong_changes(
    take: Take, changes_s: Sequence[float], *, all_of_them: bool = True, within_s: float = CHANGE_S
) -> list[str]:
    """Return a miss for each change of bow heard where none was, and, if asked for, each one not heard."""
    heard = turns_s(take)
    misses = []
    for at in changes_s if all_of_them else ():
        if all(abs(t - at) > within_s for t in heard):
            misses.append(f"change of bow at {at:.2f} s not heard")
    for t in heard:
        off = min((abs(t - at) for at in changes_s), default=99.0)
        if off > within_s:
            misses.append(
                f"change of bow heard at {t:.2f} s" + (f", {1000 * off:.0f} ms off" if off < 0.3 else "")
            )
    return misses


def turns_s(take: Take) -> list[float]:
    """Return when the take says that the bow turned."""
    return [s.start_s for s in take.strokes if s.reversal]


def unclean(take: Take, start_s: float, end_s: float, changes_s: Sequence[float] = ()) -> list[str]:
    """Return a miss when less than `LEAST_CLEAN` of a good tone is heard as clean.

    A quarter of a second at both ends and a tenth about each change of bow are left out: there the string
    is not yet, or no longer, in its settled motion.
    """
    edges = [start_s + 0.25, *(e for at in changes_s for e in (at - 0.1, at + 0.1)), end_s - 0.25]
    parts = list(zip(edges[::2], edges[1::2], strict=True))
    clean = sum((b - a) * state_share(take, a, b, GOOD) for a, b in parts)
    share = clean / sum(b - a for a, b in parts)
    return [] if share >= LEAST_CLEAN else [f"only {share:.1%} heard as clean"]


def accused(take: Take, start_s: float, end_s: float) -> list[str]:
    """Return a miss when over 1 % of a good tone is confidently given to a fault."""
    faults = [s for s in ToneState if s not in (*GOOD, ToneState.UNSURE)]
    misses = []
    for state in faults:
        share = state_share(take, start_s + 0.1, end_s - 0.1, [state], CONFIDENT)
        if share > 1 - LEAST_CLEAN:
            misses.append(f"{share:.1%} heard as {state}")
    return misses


def advised(take: Take) -> list[str]:
    """Return a miss for each piece of advice: good tone needs none."""
    return [f"advice against {a.fault}" for stroke in judge(take).advice for a in stroke]
