"""What a teacher reads after a take: the strokes, advice for each, and one thing to work on."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal, TypeVar

from colophony.language import LANGUAGES, SOURCE, _, language, speaking
from colophony.listening.take import Take

Reader = Literal["child", "adult", "teacher"]
READERS: tuple[Reader, ...] = ("child", "adult", "teacher")
Variable = Literal["speed", "weight", "distance", "tilt"]
T = TypeVar("T")
Turn = Literal["more", "less", "nearer", "farther", "flatter", "steeper"]


@dataclass(frozen=True, slots=True)
class Say:
    """One thought in the words of three readers: fixed messages in English.

    Or sentences made with figures (`said`): these stand in English too, and ``elsewhere`` in every other
    language, so that what is filed today can be read in another language tomorrow.
    """

    child: str
    adult: str
    teacher: str
    elsewhere: Mapping[str, tuple[str, ...]] = field(default_factory=dict, compare=False, repr=False)

    def to(self, reader: Reader) -> str:
        """Return the thought in the words of a reader, in the language of the moment."""
        made = self.elsewhere.get(language())
        if made:
            return made[READERS.index(reader)]
        return _({"child": self.child, "adult": self.adult, "teacher": self.teacher}[reader])


def said(make: Callable[[Reader], str]) -> Say:
    """Return a thought whose sentences are made, not fixed: made for every reader in every language."""
    spoken = in_every_language(lambda: tuple(make(reader) for reader in READERS))
    child, adult, teacher = spoken.pop(SOURCE)
    return Say(child, adult, teacher, spoken)


def in_every_language(make: Callable[[], T]) -> dict[str, T]:
    """Return what is made while each language in turn is the language of the moment."""
    spoken = {}
    for name in LANGUAGES:
        with speaking(name):
            spoken[name] = make()
    return spoken


@dataclass(frozen=True, slots=True)
class Advice:
    """One variable of the bow stroke to change, in which direction, and why.

    ``why`` is the reason with its figures, for a teacher, in English; `reason` says it in the language of the
    moment. ``fault`` names what the advice is against (a key of `colophony.teaching.faults.FAULTS`). Where
    two causes fit equally, two advices follow each other; the first one carries the small ``test`` that tells
    them apart, and its ``say`` ends with it.
    """

    change: Variable
    direction: Turn
    why: str
    say: Say
    fault: str = ""
    test: Say | None = None
    why_elsewhere: Mapping[str, str] = field(default_factory=dict, compare=False, repr=False)

    @property
    def reason(self) -> str:
        """The reason with its figures, in the language of the moment."""
        return self.why_elsewhere.get(language()) or self.why


@dataclass(frozen=True, slots=True)
class Summary:
    """The take in one line: share of bowed time that was clean (0 to 1, None without any), the one advice."""

    clean_share: float | None
    strokes: int
    main_advice: Advice | None
    headline: Say  #: one sentence: what was heard
    check: Say  #: how to check at home that the one thing is getting better


@dataclass(frozen=True, slots=True)
class Findings:
    """A take with what teaching has to say of it; ``advice[i]`` belongs to ``take.strokes[i]``."""

    take: Take
    advice: tuple[tuple[Advice, ...], ...]
    summary: Summary
