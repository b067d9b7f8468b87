"""Who answers the strokes of a map: the one place where a target is chosen.

A map hands its strokes to an ``ask`` and does not know what stands behind it: processors of this machine, a
graphics card, other machines.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Literal

from colophony.app import bow
from colophony.app.phrases import either, string_words
from colophony.errors import InputError
from colophony.language import _
from colophony.physics.strings import BowedString, strings_that_play
from colophony.units import note_to_hz

if TYPE_CHECKING:
    from colophony.physics.bowings import Answers, Bowings
    from colophony.physics.instruments import Instrument
    from colophony.physics.maps import Ask

Target = Literal["cpu", "cuda", "cluster"]
#: Asked before every block of strokes: is it to stop here, with what is there?
IsStopped = Callable[[], bool]

#: Strokes handed over at once, by target: enough to keep all of it busy, few enough to tell how far it is
#: and to lose little when somebody stops.
STROKES_AT_ONCE: dict[Target, int] = {"cpu": 512, "cuda": 65_536, "cluster": 16_384}
_USUAL_STRING = "A"  # all four instruments have one


@dataclass(frozen=True, slots=True)
class Sounding:
    """A string at a note."""

    instrument: Instrument
    string: BowedString
    note: str
    frequency_hz: float

    @property
    def is_open(self) -> bool:
        """Whether no finger shortens the string."""
        return self.note == self.string.note

    @property
    def length_m(self) -> float:
        """Length that sounds, m."""
        return self.string.stopped_length_m(self.frequency_hz)

    def describe(self) -> str:
        """Return what sounds: "Violin 4/4, D string, open D4"."""
        from colophony.app.look.figures import note

        return string_words(
            instrument=self.instrument.name,
            size=self.instrument.size,
            string=self.string.name,
            gauge=self.string.gauge,
            note=note(self.note),
            is_open=self.is_open,
        )


@dataclass(frozen=True, slots=True)
class Survey:
    """What a map asks for beside its strokes."""

    sounding: Sounding
    periods: int
    starts: bool = False
    target: Target = "cpu"
    threads: int | None = None  #: of this machine's processors; all of them when None
    scheduler: str | None = None  #: address of the cluster's scheduler


def find_sounding(request: bow.Request) -> Sounding:
    """Return the string and note of a stroke; the numbers of the stroke are checked too.

    Without a string the likeliest for the note, else A. Raises `InputError` with one line for a person.
    """
    from colophony.physics.instruments import find_instrument

    bow.check(request)
    instrument = find_instrument(request.instrument, request.size, gauge=request.gauge, a4_hz=request.a4_hz)
    string = instrument.string(request.string or _likeliest_string(request))
    note = bow.settle(request, string).note
    assert note is not None
    frequency_hz = note_to_hz(note, request.a4_hz) if request.note else string.open_frequency_hz
    return Sounding(instrument, string, note, frequency_hz)


@contextmanager
def asking(survey: Survey, *, is_stopped: IsStopped | None = None) -> Iterator[Ask]:
    """Lend what answers strokes, on the survey's target.

    It raises `KeyboardInterrupt` where ``is_stopped`` says so, which a map takes as the end of its work.
    Raises `InputError` for a target that this machine lacks.
    """
    if survey.target not in STROKES_AT_ONCE:
        line = _("{target!r} is no target of a map: choose {known}")
        raise InputError(line.format(target=survey.target, known=either(STROKES_AT_ONCE)))
    if (survey.target == "cluster") != (survey.scheduler is not None):
        raise InputError(
            _("the target cluster and the address of its scheduler go together: give both or none")
        )

    def stop_if_asked(*_: object) -> None:
        if is_stopped is not None and is_stopped():
            raise KeyboardInterrupt

    if survey.target == "cluster":
        assert survey.scheduler is not None
        from colophony.app.cluster import cluster_ask

        with cluster_ask(
            survey.scheduler,
            instrument=survey.sounding.instrument,
            string=survey.sounding.string,
            frequency_hz=survey.sounding.frequency_hz,
            periods=survey.periods,
            starts=survey.starts,
            progress=stop_if_asked,
        ) as shared:
            yield shared
        return
    from colophony.physics.survey import survey as answer

    ask = partial(
        answer,
        survey.sounding.instrument,
        survey.sounding.string,
        frequency_hz=survey.sounding.frequency_hz,
        periods=survey.periods,
        starts=survey.starts,
        target=survey.target,
        threads=survey.threads,
    )

    def ask_unless_stopped(bowings: Bowings) -> Answers:
        stop_if_asked()
        return ask(bowings)

    yield ask_unless_stopped


def _likeliest_string(request: bow.Request) -> str:
    if request.note is None:
        return _USUAL_STRING
    playing = strings_that_play(
        request.instrument, request.size, note_to_hz(request.note, request.a4_hz), a4_hz=request.a4_hz
    )
    if not playing:
        line = _("no string of a {instrument} plays {note}: choose another note")
        raise InputError(line.format(instrument=_(request.instrument), note=request.note))
    return playing[0].name
