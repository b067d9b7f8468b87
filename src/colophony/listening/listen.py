"""From a recording to a `Take`: the one way in.

The order of work: level and pitch, notes, warp to constant pitch, regularity of the periods, turns of the
bow, then the verdict on each stroke; names of notes and comparison with a reference at the end, when the
whole take is known. A take of any length is heard in passages, so memory stays bounded.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from colophony.errors import InputError
from colophony.language import _, figures
from colophony.listening.colour import Reference, against_reference
from colophony.listening.decode import Recording
from colophony.listening.passages import Passage, cut_passages
from colophony.listening.pieces import Context
from colophony.listening.pitch import HOP_S, RATE_HZ, Floats
from colophony.listening.rows import Rows, measure_rows
from colophony.listening.strokes import Heard, hear_passage
from colophony.listening.take import (
    INSTRUMENTS,
    Direction,
    Evidence,
    Instrument,
    Stroke,
    Take,
    ToneState,
    Track,
)
from colophony.listening.tuning import HIGHEST_A4_HZ, LOWEST_A4_HZ, align, find_a4
from colophony.listening.warp import refine_rate
from colophony.listening.ways import name_ways
from colophony.physics.strings import find_string, strings_of
from colophony.units import ISO_16_A4_HZ, hz_to_note, note_to_hz

_QUIET_DB = -45.0
_NOISY_DB = 20.0
_CLIPPED = 1e-4
_NARROW_HZ = 4500.0
_UNHELD = 0.3


def listen(
    path: Path | str,
    *,
    instrument: Instrument | None = None,
    size: str = "4/4",
    string: str | None = None,
    a4_hz: float | None = None,
    reference: Reference | None = None,
    expect: Sequence[str] = (),
    first_bow: Direction | None = None,
    progress: Callable[[float], None] | None = None,
) -> Take:
    """Hear a recording and return what it told.

    ``instrument``, ``size`` and ``string`` (such as ``"G"``) tell what was played, where known: a tone
    below the lowest string is then no note. ``a4_hz`` is the tuning, from 415 to 450 Hz; without it the
    take's own is found where at least six strokes agree, else ISO 16 (440 Hz) serves. ``reference`` holds
    strokes that the teacher accepts. ``expect`` names the notes in order (``["G3", "A3"]``).
    ``first_bow`` is the direction of the first bowed stroke. ``progress`` is called with the share done.

    Raises `TakeError` for a recording that cannot be read and `InputError` for a wrong value.

    >>> listen("lesson.m4a", instrument="violin").strokes[0].note  # doctest: +SKIP
    'G3'
    """
    if a4_hz is not None and not LOWEST_A4_HZ <= a4_hz <= HIGHEST_A4_HZ:
        raise InputError(
            _("A4 of {given} Hz: give a tuning from {least} to {most} Hz").format(
                given=figures(f"{a4_hz:g}"), least=f"{LOWEST_A4_HZ:g}", most=f"{HIGHEST_A4_HZ:g}"
            )
        )
    expect = tuple(expect)
    for name in expect:
        note_to_hz(name)
    lowest_hz = _lowest_hz(instrument, size, string)
    with Recording(Path(path)) as recording:
        blocks = _reported(recording.blocks(rate_hz=RATE_HZ), recording.duration_s, progress)
        heard, track, duration_s, floors = _hear(blocks, lowest_hz)
        clipped, truncated = recording.clipped_share, recording.truncated
        file, source_rate = Path(path).name, recording.sample_rate_hz
    warnings = _warnings(track, duration_s, clipped, truncated, source_rate, heard, floors)
    return _name(
        heard, track, file, duration_s, warnings,
        instrument=instrument, lowest_hz=lowest_hz, a4_hz=a4_hz, reference=reference,
        expect=expect, first_bow=first_bow,
    )  # fmt: skip


def _lowest_hz(instrument: str | None, size: str, string: str | None) -> float | None:
    """Return the lowest open string (A4 = 440 Hz) that can have sounded, where that is known."""
    if instrument is None:
        if string is not None:
            raise InputError(
                _("string {name!r} needs its instrument: add violin, viola or cello").format(name=string)
            )
        return None
    if instrument not in INSTRUMENTS:
        raise InputError(
            _("takes of {instrument!r} are not heard: choose one of {known}").format(
                instrument=instrument, known=", ".join(INSTRUMENTS)
            )
        )
    if string is not None:
        return find_string(instrument, size, string).open_frequency_hz
    return min(s.open_frequency_hz for s in strings_of(instrument, size))


def _reported(
    blocks: Iterable[Floats], duration_s: float | None, progress: Callable[[float], None] | None
) -> Iterator[Floats]:
    done = 0
    for block in blocks:
        yield block
        done += len(block)
        if progress is not None and duration_s:
            progress(min(1.0, done / RATE_HZ / duration_s))


@dataclass(slots=True)
class _Kept:
    """What stays of a passage once it has been heard."""

    start_s: float
    rows: Rows


def _hear(blocks: Iterable[Floats], lowest_hz: float | None) -> tuple[list[Heard], Track, float, list[float]]:
    heard: list[Heard] = []
    kept: list[_Kept] = []
    loud_db: float | None = None
    floor_db: float | None = None
    residual_db: float | None = None
    samples, joins = 0, False
    for passage in cut_passages(blocks):
        samples += len(passage.sound)
        fine = refine_rate(_padded(passage))
        whole_db = float(10 * np.log10(max(float(np.mean(passage.sound**2)), 1e-12)))
        rows = measure_rows(fine, loud_db=loud_db, floor_db=floor_db, whole_db=whole_db)
        loud_db = rows.loud_db if loud_db is None else max(loud_db, rows.loud_db)
        floor_db = rows.floor_db
        context = Context(passage.start_s, lowest_hz, residual_db)
        strokes, residual_db = hear_passage(fine, rows, context)
        if joins and heard and strokes and _continues(heard[-1].stroke, strokes[0].stroke):
            heard[-1] = heard[-1].joined(strokes.pop(0))
        heard += strokes
        joins = passage.in_tone
        kept.append(_Kept(passage.start_s, rows))
    floors = [k.rows.floor_db for k in kept if k.rows.floor_db is not None]
    return heard, _track(kept), samples / RATE_HZ, floors


def _padded(passage: Passage) -> Floats:
    """Return at least a tenth of a second, so that the shortest take can be measured."""
    return np.pad(passage.sound, (0, max(0, RATE_HZ // 10 - len(passage.sound))))


def _continues(one: Stroke, other: Stroke) -> bool:
    return (
        other.start_s - one.end_s < 0.05
        and one.frequency_hz is not None
        and other.frequency_hz is not None
        and abs(np.log2(other.frequency_hz / one.frequency_hz)) < 0.04
        and one.state is not ToneState.PLUCKED
    )


def _track(kept: list[_Kept]) -> Track:
    def column(name: str) -> NDArray[np.float32]:
        parts = [getattr(k.rows, name) for k in kept]
        return np.concatenate(parts).astype(np.float32) if parts else np.empty(0, np.float32)

    starts = [k.start_s + HOP_S * (np.arange(len(k.rows)) + 0.5) for k in kept]
    times = np.concatenate(starts).astype(np.float32) if starts else np.empty(0, np.float32)
    return Track(times, column("frequency_hz"), column("level_db"), np.minimum(column("peak"), 1.0))


def _warnings(
    track: Track,
    duration_s: float,
    clipped: float,
    truncated: bool,
    source_rate: int,
    heard: list[Heard],
    floors: list[float],
) -> list[Evidence]:
    found: list[Evidence] = []
    if truncated:
        found.append(Evidence("truncated", {"heard_s": round(duration_s, 1)}))
    if clipped > _CLIPPED:
        found.append(Evidence("clipped", {"share": round(clipped, 4)}))
    if source_rate / 2 < _NARROW_HZ:
        found.append(Evidence("narrow_band", {"limit_hz": source_rate / 2}))
    strokes = [h.stroke for h in heard]
    silent = (ToneState.UNSURE, ToneState.NOISE)
    if all(s.state in silent and not any(e.kind == "two_pitches" for e in s.evidence) for s in strokes):
        found.append(Evidence("no_tone"))
    if not strokes and len(track.level_db):
        level = float(np.percentile(track.level_db, 95))
        if level < _QUIET_DB:
            found.append(Evidence("quiet", {"level_db": round(max(level, -120.0), 1)}))
    levels = [track.level_db[int(s.start_s / HOP_S) : int(s.end_s / HOP_S)] for s in strokes]
    if levels and any(len(x) for x in levels):
        level = float(np.median(np.concatenate(levels)))
        if level < _QUIET_DB:
            found.append(Evidence("quiet", {"level_db": round(level, 1)}))
        if floors and level - max(floors) < _NOISY_DB:
            found.append(Evidence("noisy", {"snr_db": round(level - max(floors), 1)}))
    if len(heard) > 2 and sum(h.no_held_note for h in heard) > _UNHELD * len(heard):
        found.append(Evidence("not_one_string"))
    return found


def _name(
    heard: list[Heard],
    track: Track,
    file: str,
    duration_s: float,
    warnings: list[Evidence],
    *,
    instrument: Instrument | None,
    lowest_hz: float | None,
    a4_hz: float | None,
    reference: Reference | None,
    expect: Sequence[str],
    first_bow: Direction | None,
) -> Take:
    pitched = [h.stroke for h in heard if h.stroke.frequency_hz and h.stroke.confidence >= 0.5]
    if a4_hz is None:
        a4_hz = find_a4(
            [s.frequency_hz for s in pitched if s.frequency_hz],
            [min(s.end_s - s.start_s, 2.0) for s in pitched],
            lowest_open_hz=lowest_hz,
        )
    a4 = a4_hz or ISO_16_A4_HZ
    strokes = name_ways(heard, first_bow=first_bow)
    strokes = [_with_note(s, a4) for s in strokes]
    if expect:
        strokes, more = _against_expected(strokes, expect, a4)
        warnings = warnings + more
    if reference is not None:
        strokes = [against_reference(s, reference) for s in strokes]
    return Take(file, round(duration_s, 3), a4, instrument, tuple(strokes), tuple(warnings), track)


def _with_note(stroke: Stroke, a4_hz: float) -> Stroke:
    if stroke.frequency_hz is None:
        return stroke
    note, cents = hz_to_note(stroke.frequency_hz, a4_hz)
    return replace(stroke, note=note, cents=round(cents, 1), frequency_hz=round(stroke.frequency_hz, 2))


def _against_expected(
    strokes: list[Stroke], expect: Sequence[str], a4_hz: float
) -> tuple[list[Stroke], list[Evidence]]:
    """Mark periodic tones well below the note that was to be played: periods longer than the note's."""
    order = [i for i, s in enumerate(strokes) if s.end_s - s.start_s > 0.1]
    found = align([strokes[i].frequency_hz for i in order], expect, a4_hz=a4_hz)
    result = list(strokes)
    unmatched = 0
    for i, wanted in zip(order, found, strict=True):
        if wanted is None:
            unmatched += 1
            continue
        stroke = strokes[i]
        if stroke.frequency_hz is None or stroke.state not in (ToneState.STEADY, ToneState.RAUCOUS):
            continue
        off = 1200 * float(np.log2(stroke.frequency_hz / note_to_hz(expect[wanted], a4_hz)))
        if off < -150.0 and stroke.state is ToneState.STEADY:
            result[i] = as_low_anomalous(
                stroke, Evidence("octave_low", {"cents": round(off), "wanted": expect[wanted]})
            )
    missing = [expect[k] for k in range(len(expect)) if k not in found]
    warnings = [Evidence("expected_missing", {"notes": " ".join(missing)})] if missing else []
    if unmatched:
        warnings.append(Evidence("expected_unmatched", {"count": unmatched}))
    return result, warnings


def as_low_anomalous(stroke: Stroke, evidence: Evidence) -> Stroke:
    """Return a periodic stroke as one whose period is longer than the note's."""
    low = ToneState.LOW_ANOMALOUS
    spans = tuple(
        replace(s, state=low, confidence=min(s.confidence, 0.8)) if s.state is ToneState.STEADY else s
        for s in stroke.spans
    )
    return replace(
        stroke,
        state=low,
        confidence=min(stroke.confidence, 0.8),
        spans=spans,
        evidence=(evidence, *stroke.evidence),
    )
