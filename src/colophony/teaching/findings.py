"""What a teacher reads after a take: the strokes, advice for each, and one thing to work on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from colophony.language import _
from colophony.listening.take import Take

Reader = Literal["child", "adult", "teacher"]
Variable = Literal["speed", "weight", "distance", "tilt"]
Turn = Literal["more", "less", "nearer", "farther", "flatter", "steeper"]


@dataclass(frozen=True, slots=True)
class Say:
    """One thought in the words of three readers: fixed messages in English, or sentences already said."""

    child: str
    adult: str
    teacher: str

    def to(self, reader: Reader) -> str:
        """Return the thought in the words of a reader, in the language of the moment."""
        return _({"child": self.child, "adult": self.adult, "teacher": self.teacher}[reader])


@dataclass(frozen=True, slots=True)
class Advice:
    """One variable of the bow stroke to change, in which direction, and why.

    ``why`` is the reason with its figures, for a teacher. ``fault`` names what the advice is against (a
    key of `colophony.teaching.faults.FAULTS`). Where two causes fit equally, two advices follow each
    other; the first one carries the small ``test`` that tells them apart, and its ``say`` ends with it.
    """

    change: Variable
    direction: Turn
    why: str
    say: Say
    fault: str = ""
    test: Say | None = None


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
