"""Reference takes at marked places: how they are played, and whether a take fits.

Four whole bows on an open string, each in a given number of beats, at a sounding point that the printed
strip shows: then the speed of the bow and its place are known, and later takes can be heard against them
(`colophony.teaching.own_sound`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from colophony.errors import InputError
from colophony.language import _, figures, ngettext, note_name
from colophony.listening.take import CLEAN, Instrument, Stroke, Take
from colophony.physics.bows import find_bow
from colophony.physics.strings import find_string, strings_of
from colophony.teaching.sounding_points import point_to_m
from colophony.units import hz_to_cents, note_to_hz

__all__ = [
    "STROKES",
    "Fit",
    "Mark",
    "MarkedStroke",
    "check_marked",
    "find_mark",
    "fits",
    "marked_strokes",
    "procedure",
]

#: Strokes of a marked take, and how many of them must fit: one may go astray.
STROKES = 4
LEAST_STROKES = 3
#: In the order of playing: whoever stops after the first has the one that serves most.
POINTS = (3.0, 2.0, 4.0)
BEATS, TEMPO = 4.0, 60.0
#: A whole bow may last so much longer or shorter, as a share. Its speed is then known within 1.4 dB of level,
#: less than half of the way from one sounding point to the next (2.9 dB from 3 to 4).
TIME_TOLERANCE = 0.15
#: From the fastest whole bow that is still heard as a settled tone to the slowest that players sustain, s
#: (12 s in pianissimo: docs/reference-takes.md).
SECONDS = (1.5, 12.0)
#: The open string may be so far out of tune, cents.
SAME_STRING_CENTS = 80.0
_SHORTEST_S = 0.3


@dataclass(frozen=True, slots=True)
class Mark:
    """Where and how fast the strokes of one reference take are played.

    Attributes
    ----------
    instrument, string : what is played; the open note, "G3"
    point : sounding point, 1 (at the bridge) to 5
    distance_mm : bow to bridge, as the printed strip shows it
    beats, tempo : one whole bow lasts so many beats, at so many a minute
    hair_mm : length of the hair that a whole bow uses
    """

    instrument: Instrument
    string: str
    point: float
    distance_mm: float
    beats: float
    tempo: float
    hair_mm: float

    @property
    def seconds(self) -> float:
        """How long one bow lasts, s."""
        return 60.0 * self.beats / self.tempo

    @property
    def speed_cm_s(self) -> float:
        """Mean speed of the bow: all of the hair in the time of one bow, cm/s."""
        return self.hair_mm / 10.0 / self.seconds


@dataclass(frozen=True, slots=True)
class MarkedStroke:
    """One stroke of a marked reference take, with where and how fast it was played."""

    mark: Mark
    stroke: Stroke


@dataclass(frozen=True, slots=True)
class Fit:
    """Whether a take is what its mark says: the strokes that fit, and one line where they are too few."""

    strokes: tuple[Stroke, ...]
    line: str | None


def find_mark(
    instrument: Instrument,
    size: str,
    string: str,
    *,
    point: float,
    beats: float = BEATS,
    tempo: float = TEMPO,
    hair_mm: float | None = None,
) -> Mark:
    """Return the mark of one take; by default the hair is that of a bow of the size.

    ``string`` is a letter or an open note. Raises `InputError` when instrument, size, string or point do not
    exist, or one bow would last shorter or longer than `SECONDS`.
    """
    known = find_string(instrument, size, string)
    if beats <= 0.0 or tempo <= 0.0:
        raise InputError(
            _("{beats} beats at {tempo} a minute are no bow: give both above 0").format(
                beats=figures(f"{beats:g}"), tempo=figures(f"{tempo:g}")
            )
        )
    hair = 1000.0 * find_bow(instrument, size).hair_length_m if hair_mm is None else hair_mm
    if not 100.0 <= hair <= 800.0:
        raise InputError(
            _("{hair} mm of hair is no whole bow: give 100 to 800 mm").format(hair=figures(f"{hair:g}"))
        )
    distance_mm = round(1000.0 * point_to_m(point, known), 1)
    mark = Mark(instrument, known.note, point, distance_mm, beats, tempo, hair)
    least, most = SECONDS
    if not least <= mark.seconds <= most:
        raise InputError(
            _("one whole bow in {seconds} s: choose beats and tempo that give {least} to {most} s").format(
                seconds=figures(f"{mark.seconds:.1f}"), least=figures(f"{least:g}"), most=figures(f"{most:g}")
            )
        )
    return mark


def procedure(
    instrument: Instrument,
    size: str = "4/4",
    *,
    points: Sequence[float] = POINTS,
    beats: float = BEATS,
    tempo: float = TEMPO,
) -> tuple[Mark, ...]:
    """Return the takes of the whole procedure, in the order of playing: string by string, from the lowest.

    Raises as `find_mark`.
    """
    return tuple(
        find_mark(instrument, size, string.note, point=point, beats=beats, tempo=tempo)
        for string in strings_of(instrument, size)
        for point in points
    )


def fits(mark: Mark, stroke: Stroke) -> bool:
    """Tell whether a stroke is on the open string, as long as a bow should be, and clean."""
    return _is_on(mark, stroke) and _is_in_time(mark, stroke) and stroke.state in CLEAN


def check_marked(take: Take, mark: Mark) -> Fit:
    """Return which strokes of a take fit its mark, with one line where they are too few.

    A whole bow cannot be heard, only its time: that all of the hair was used is the player's word.
    """
    bowed = [s for s in take.strokes if s.end_s - s.start_s >= _SHORTEST_S and s.frequency_hz is not None]
    on_string = [stroke for stroke in bowed if _is_on(mark, stroke)]
    in_time = [stroke for stroke in on_string if _is_in_time(mark, stroke)]
    fitting = tuple(stroke for stroke in in_time if stroke.state in CLEAN)
    if len(fitting) >= LEAST_STROKES:
        return Fit(fitting, None)
    if len(on_string) < LEAST_STROKES:
        line = _too_few(mark, on_string, bowed)
    elif len(in_time) < LEAST_STROKES:
        line = _out_of_time(mark, on_string, in_time)
    else:
        line = _(
            "{clean} of {count} strokes sounded clear: the tone to compare with needs {least}. Play them "
            "again, as you like them."
        ).format(clean=len(fitting), count=len(in_time), least=LEAST_STROKES)
    return Fit(fitting, line)


def marked_strokes(mark: Mark, strokes: Iterable[Stroke]) -> tuple[MarkedStroke, ...]:
    """Return the strokes of one take that fit its mark."""
    return tuple(MarkedStroke(mark, stroke) for stroke in strokes if fits(mark, stroke))


def _too_few(mark: Mark, on_string: Sequence[Stroke], bowed: Sequence[Stroke]) -> str:
    elsewhere = Counter(stroke.note for stroke in bowed if stroke not in on_string and stroke.note)
    if elsewhere and elsewhere.total() >= LEAST_STROKES:
        return _(
            "Most strokes sounded {heard}, not the open {string}: check string and tuning, and play again."
        ).format(heard=note_name(elsewhere.most_common(1)[0][0]), string=note_name(mark.string))
    return ngettext(
        "{n} stroke on the open {string} was heard: play {count} whole bows, one after the other.",
        "{n} strokes on the open {string} were heard: play {count} whole bows, one after the other.",
        len(on_string),
    ).format(n=len(on_string), string=note_name(mark.string), count=STROKES)


def _out_of_time(mark: Mark, on_string: Sequence[Stroke], in_time: Sequence[Stroke]) -> str:
    lengths = sorted(stroke.end_s - stroke.start_s for stroke in on_string)
    return _(
        "{fitting} of {count} bows lasted {beats} beats at {tempo} ({seconds} s, {tolerance} s more or "
        "less); they lasted {shortest} to {longest} s. Turn the bow with the beat, and use all of the hair."
    ).format(
        fitting=len(in_time),
        count=len(on_string),
        beats=figures(f"{mark.beats:g}"),
        tempo=figures(f"{mark.tempo:g}"),
        seconds=figures(f"{mark.seconds:.1f}"),
        tolerance=figures(f"{TIME_TOLERANCE * mark.seconds:.1f}"),
        shortest=figures(f"{lengths[0]:.1f}"),
        longest=figures(f"{lengths[-1]:.1f}"),
    )


def _is_on(mark: Mark, stroke: Stroke) -> bool:
    if stroke.frequency_hz is None:
        return False
    return abs(hz_to_cents(stroke.frequency_hz, note_to_hz(mark.string))) <= SAME_STRING_CENTS


def _is_in_time(mark: Mark, stroke: Stroke) -> bool:
    return abs((stroke.end_s - stroke.start_s) / mark.seconds - 1.0) <= TIME_TOLERANCE
